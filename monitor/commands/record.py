"""``laidup record``: the season record of one craft, of some, or of all."""

import argparse
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import NamedTuple

from monitor.commands.opening import (
    Opened,
    craft_named,
    daemon_clock,
    names_on_record,
    open_read_only,
    open_to_act,
)
from monitor.commands.printing import print_json, print_text
from monitor.commands.progress import Progress
from monitor.commands.record_mails import (
    letter_to_owner,
    records_of,
    send_due_records,
    tell_sent,
)
from monitor.commands.streams import file_when_whole
from monitor.errors import LaidupError, QuantityError
from monitor.reports.season.figures import SeasonFigures
from monitor.reports.season.making import RecordMaker, record_name
from monitor.reports.season.read_season import season_of
from monitor.reports.season.records_due import records_due
from monitor.reports.season.season_json import season_json
from monitor.reports.season.short_words import short_lines
from monitor.wording import listed_first

_NAMED = 5
_FORMS = (".pdf", ".json")
_YEARS = range(1971, 2200)


def run(arguments: argparse.Namespace) -> int:
    """Make the records that were asked for, and write, print or tell them."""
    if arguments.due:
        _refuse_beside_due(arguments)
        return send_due_records(arguments)
    opened = (
        open_to_act(arguments)
        if arguments.send
        else open_read_only(arguments, about=arguments.craft)
    )
    written = new = 0
    with opened as here, Progress() as progress:
        now = _now(here, sends=arguments.send)
        year = season_asked(arguments.season, here, now)
        wanted = _wanted(arguments, here)
        folder = _folder_for(arguments, wanted)
        paper = arguments.paper or ""
        sealed = arguments.send or arguments.out is not None
        told: list[object] = []
        found: set[str] = set()
        replaces = _mails_replaced(here, wanted, year, now) if arguments.send else {}
        for figures, maker in _count(
            records_of(here, wanted, year, now, sealed=sealed), len(wanted), progress
        ):
            found.add(figures.craft.id)
            if arguments.send:
                put = _put_mail(here, figures, maker, replaces.get(figures.craft.id))
                written, new = written + put.written, new + put.new
            if arguments.out is not None:
                told.append(_write(figures, here, maker, arguments.out, paper, folder=folder))
            elif arguments.json:
                told.append(season_json(figures, here.yard))
            elif not arguments.send:
                progress.wipe_line()
                for line in short_lines(figures, here.yard, here.wording_for(as_json=False)):
                    print_text(line)
        if arguments.send and found:
            progress.wipe_line()
            tell_sent(new, written, of=len(found))
    _complain_of_missing(wanted, found, year, asked=not arguments.all)
    if arguments.json:
        print_json(told if arguments.all or len(wanted) > 1 else told[0])
    elif arguments.out is not None and told:
        count = "1 record" if len(told) == 1 else f"{len(told):,} records"
        print(f"{arguments.out}: {count} of the season {year}/{(year + 1) % 100:02}.")
    return 0


class _Put(NamedTuple):
    """What became of one mail: whether it is written, and whether it was not there before."""

    written: int
    new: int


def _put_mail(
    here: Opened, figures: SeasonFigures, maker: RecordMaker, replaces: datetime | None
) -> _Put:
    """Put a record's mail into the outbox; none where no mail reaches the owner."""
    letter = letter_to_owner(figures, maker, replaces)
    if letter is None:
        return _Put(0, 0)
    # Each at once: all of a large yard's would fill the memory.
    with here.store.transaction(can_wait=True) as tx:
        return _Put(1, tx.outbox.add([letter]))


def _now(here: Opened, *, sends: bool) -> datetime:
    """The present; mails are dated by the daemon's clock, as those that the job writes."""
    return daemon_clock(here.store).now() if sends else datetime.now(UTC)


def _mails_replaced(
    here: Opened, wanted: Sequence[str], year: int, now: datetime
) -> dict[str, datetime]:
    """When the mail left that a craft's record takes the place of, as the job's mails do; by craft.

    A craft is left out of which no mail left, or of which the last one still tells it right.
    """
    with here.store.snapshot() as tx:
        due = records_due(tx, here.yard, here.profiles, now, set(wanted))
    return {one.craft: one.replaces for one in due if one.year == year and one.replaces is not None}


def _count(
    records: Iterator[tuple[SeasonFigures, RecordMaker]], of: int, progress: Progress
) -> Iterator[tuple[SeasonFigures, RecordMaker]]:
    progress.say_stage("The season's air is being read")
    for number, (figures, maker) in enumerate(records, start=1):
        progress.say_stage(f"Record {number:,} of {of:,}: {figures.craft.name}")
        yield figures, maker


def _refuse_beside_due(arguments: argparse.Namespace) -> None:
    beside = {
        "CRAFT": arguments.craft,
        "--all": arguments.all,
        "--season": arguments.season,
        "--out": arguments.out,
        "--json": arguments.json,
    }
    if said := [flag for flag, value in beside.items() if value]:
        raise QuantityError(
            f"{said[0]}: not beside --due",
            "`laidup record --due` finds the craft and the season itself; `laidup record --all"
            " --send` mails those that you name",
        )


def _wanted(arguments: argparse.Namespace, here: Opened) -> list[str]:
    if arguments.all == bool(arguments.craft):
        raise QuantityError(
            "CRAFT and --all: name craft, or ask for all, and not both"
            if arguments.all
            else "CRAFT: none is named",
            "`laidup record k8` is one craft's record, `laidup record --all --out FOLDER` all",
        )
    names = names_on_record(here)
    if arguments.all:
        return sorted(names)
    return list(dict.fromkeys(craft_named(one, names) for one in arguments.craft))


def season_asked(said: str | None, here: Opened, now: datetime) -> int:
    """The year in which the season began that ``--season`` names; without one the present season.

    Raises
    ------
    QuantityError
        If it is no year, or its season has not begun.
    """
    this = season_of(now, here.yard)
    if said is None:
        return this
    if not (said.isascii() and said.isdigit() and int(said) in _YEARS):
        raise QuantityError(
            f"--season {said[:20]}: no year", "write that in which the season began, like 2026"
        )
    if int(said) > this:
        raise QuantityError(
            f"--season {said}: has not begun yet", f"the season that goes on is {this}"
        )
    return int(said)


def _folder_for(arguments: argparse.Namespace, wanted: Sequence[str]) -> bool:
    """Whether --out is a folder; it is made where there is none."""
    out: Path | None = arguments.out
    if out is None:
        return False
    is_folder = arguments.all or len(wanted) > 1 or out.is_dir()
    if not is_folder:
        if out.suffix.lower() not in _FORMS:
            raise QuantityError(
                f"--out {out}: its ending says no form of a record",
                f"end it in {' or '.join(_FORMS)}",
            )
        return False
    try:
        out.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise QuantityError(
            f"--out {out}: {error.strerror or error}", "give a folder that this user may write to"
        ) from error
    return True


def _write(
    figures: SeasonFigures,
    here: Opened,
    maker: RecordMaker,
    out: Path,
    paper: str,
    *,
    folder: bool,
) -> dict[str, object]:
    """Write a record's file; into a folder both forms of it."""
    body = season_json(figures, here.yard)
    words = here.wording_for(as_json=False)
    attached = maker.make_json(figures)  # once for both forms
    paths = [out / record_name(body, form[1:]) for form in _FORMS] if folder else [out]
    for path in paths:
        content = (
            attached
            if path.suffix.lower() == ".json"
            else maker.make_pdf(figures, words, paper, attached)
        )
        with file_when_whole(path) as part:
            part.write_bytes(content)
    return {"craft": figures.craft.id, "files": [str(path) for path in paths]}


def _complain_of_missing(wanted: Sequence[str], found: set[str], year: int, *, asked: bool) -> None:
    missing = [one for one in wanted if one not in found]
    if found and not (asked and missing):
        return
    who = f"{listed_first(missing, _NAMED)} did not stand" if asked else "no craft stood"
    raise LaidupError(
        f"No record of the season {year}/{(year + 1) % 100:02}: {who} in the yard then."
        " `--season` names another year."
    )
