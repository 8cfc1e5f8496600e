"""``laidup storage``: how well the yard kept its spaces over a season."""

import argparse
import json
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path
from typing import Any

from monitor.commands.opening import open_read_only
from monitor.commands.printing import print_json, print_table, print_text
from monitor.commands.progress import Progress
from monitor.commands.record import season_asked
from monitor.commands.streams import file_when_whole
from monitor.errors import QuantityError
from monitor.reports.season.making import usual_paper
from monitor.reports.storage.figures import StorageFigures
from monitor.reports.storage.read_storage import read_storage_seasons
from monitor.reports.storage.storage_files import FORMS, storage_file
from monitor.reports.storage.storage_rows import FORM, storage_json
from monitor.reports.storage.storage_words import (
    SEASON_HEADS,
    SPACE_HEADS,
    compared_bodies,
    storage_words,
)
from monitor.settings.faults import read_text_file
from monitor.wording import Wording


def run(arguments: argparse.Namespace) -> int:
    """Tell the season, or write it into a file."""
    beside = [_read_beside(path) for path in arguments.beside]
    form = "" if arguments.out is None else _form_of(arguments.out)
    with open_read_only(arguments) as here, Progress() as progress:
        now = datetime.now(UTC)
        year = season_asked(arguments.season, here, now)
        progress.say_stage("The season's hours are being read")
        with here.store.snapshot() as tx:
            seasons = read_storage_seasons(
                tx, here.yard, here.profiles, year, now, version("laidup")
            )
        progress.wipe_line()
        words = here.wording_for(as_json=False)
    if arguments.out is not None:
        content = storage_file(seasons, form, words, arguments.paper or usual_paper(words), beside)
        with file_when_whole(arguments.out) as part:
            part.write_bytes(content)
    if arguments.json:
        print_json(storage_json(seasons[0], seasons[1:]))
    elif arguments.out is not None:
        print(f"{arguments.out}: quality of storage of the season {year}/{(year + 1) % 100:02}.")
    else:
        _show_season(seasons, beside, words)
    return 0


def _show_season(
    seasons: Sequence[StorageFigures], beside: Sequence[Mapping[str, Any]], words: Wording
) -> None:
    from rich.table import Table

    figures, *earlier = seasons
    bodies = compared_bodies(storage_json(figures, earlier), beside)
    said = storage_words(figures, bodies, words)
    print_text(f"{said.title}: {said.whole.name}, {said.dates}")
    for line in said.whole.lines:
        print_text(line)
    for heads, rows in ((SPACE_HEADS, said.overview), (SEASON_HEADS, said.seasons)):
        if rows and (rows is not said.seasons or len(rows) > 1):
            table = Table(*heads)
            for row in rows:
                table.add_row(*row)
            print_table(table)
    for space in said.spaces:
        print_text(f"{space.name}, {space.kind}")
        for line in space.lines:
            print_text(line, indent=2)
        for night in space.nights:
            cells = dict(zip(("low", "said", "cold", "damp", "unheard"), night[1:], strict=True))
            print_text(
                f"Night of {night[0]}: lowest {cells['low']} (expected {cells['said']}), too cold"
                f" {cells['cold']}, too damp {cells['damp']}, not heard {cells['unheard']}.",
                indent=4,
            )


def _form_of(out: Path) -> str:
    form = out.suffix.lower().removeprefix(".")
    if form not in FORMS:
        raise QuantityError(
            f"--out {out}: its ending says no form of it",
            f"end it in {', '.join(f'.{one}' for one in FORMS)}",
        )
    return form


def _read_beside(path: Path) -> Mapping[str, Any]:
    """JSON of another yard or season, as ``--json`` wrote it.

    Raises
    ------
    QuantityError
        If it is none.
    """
    remedy = "give a file that `laidup storage --json` or `--out NAME.json` wrote"
    try:
        body = json.loads(read_text_file(path))
        if body["laidup_storage"] != FORM:
            raise QuantityError(f"--beside {path}: written by another version of laidup", remedy)
        compared_rows = compared_bodies(body, ())
        for one in compared_rows:
            float(one["whole"]["hours"]["of_h"])
    except (KeyError, TypeError, ValueError) as error:
        raise QuantityError(f"--beside {path}: no figures of storage", remedy) from error
    return body  # type: ignore[no-any-return]
