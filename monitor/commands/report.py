"""``laidup report``: the weekly report, shown, written to files, or sent."""

import argparse
import re
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.clock import from_ms, to_ms
from monitor.commands.opening import Opened, open_read_only, open_to_act, read_craft_in_care
from monitor.commands.printing import print_json
from monitor.commands.progress import Progress
from monitor.errors import QuantityError
from monitor.yard.message import Message
from monitor.yard.space import Person

if TYPE_CHECKING:
    from monitor.reports.week import WeeklyReport


def run(arguments: argparse.Namespace) -> int:
    """Compose the week and do with it what was asked."""
    from monitor.reports.drawing import Plots
    from monitor.reports.letter import letters_of
    from monitor.reports.week import compose

    opened = (open_to_act if arguments.send else open_read_only)(arguments)
    only_shown = arguments.out is None and not arguments.send
    told: list[dict[str, object]] = []
    with opened as here, Progress() as progress, Plots(0.0 if only_shown else None) as plots:
        yard, now = here.yard, datetime.now(UTC)
        monday = _monday_of(arguments.week, here, now)
        progress.say_stage("The week is being read")
        report = compose(here.store, yard, read_craft_in_care(here, now), monday, now)
        people = _readers_asked(report, arguments.person)
        if only_shown:
            people = people[:1]  # plain text shows no plot
        new = count = 0
        # Each at once: all of a large yard's would fill the memory.
        for count, message in enumerate(letters_of(report, people, plots), start=1):
            progress.say_stage(f"Letter {count:,} of {len(people):,}: {message.person}")
            if arguments.out is not None:
                written = _write_letter(message, report.week, arguments.out)
                if not arguments.json:
                    progress.wipe_line()
                    print(written)
            if arguments.send:
                with here.store.transaction() as tx:
                    new += tx.outbox.add([message])
            if arguments.json:
                told.append(_letter_json(message, report.week))
            elif only_shown:
                progress.wipe_line()
                print(message.text)
        progress.wipe_line()
        if arguments.out is not None:
            figures = _write_figures(report, arguments.out)
            if not arguments.json:
                print(figures)
    if arguments.send and not arguments.json:
        print(
            f"{new} of {count} letters of {report.week} put into the outbox;"
            f" {count - new} were there already. `laidup run` sends them."
        )
    if arguments.json:
        print_json(told)
    return 0


def _readers_asked(report: "WeeklyReport", person: str | None) -> list[Person]:
    """Who gets a letter, or of them the one that ``--person`` names."""
    from monitor.reports.letter import readers

    people = readers(report)
    asked = [one for one in people if person in {None, one.id}]
    if not asked and person is not None:
        known = ", ".join(one.id for one in people)
        raise QuantityError(f"--person {person}: gets no letter", f"those who do are {known}")
    return asked


def _letter_json(message: Message, week: str) -> dict[str, object]:
    return {
        "week": week,
        "person": message.person,
        "subject": message.subject,
        "text": message.text,
    }


def _last_watched(here: Opened, this: date) -> date:
    """Monday of the last whole week with readings; of this one where there is no earlier."""
    yard = here.yard
    begins = datetime.combine(this, time(), yard.zone)
    with here.store.snapshot() as tx:
        found = [
            tx.readings.newest_ms(series_id, to_ms(begins))
            for series_id in tx.series.known_series().values()
        ]
    newest_ms = max((at_ms for at_ms in found if at_ms is not None), default=None)
    if newest_ms is None:
        return this
    day = from_ms(newest_ms).astimezone(yard.zone).date()
    return day - timedelta(days=day.weekday())


def _monday_of(week: str | None, here: Opened, now: datetime) -> date:
    today = now.astimezone(here.yard.zone).date()
    this = today - timedelta(days=today.weekday())
    if week is None:
        return _last_watched(here, this)
    if week == "this":
        return this
    if not re.fullmatch(r"\d{4}-W\d{2}", week):
        raise QuantityError(f"--week {week}: no week", "write it like 2026-W46 (ISO 8601)")
    year, number = int(week[:4]), int(week[6:])
    try:
        monday = date.fromisocalendar(year, number, 1)
    except ValueError as error:
        raise QuantityError(f"--week {week}: {year} has no week {number}") from error
    if monday > this:
        raise QuantityError(f"--week {week}: has not begun yet")
    return monday


def _write_letter(message: Message, week: str, folder: Path) -> Path:
    """Write a letter as a page, its text and its picture; tells where the page is."""
    with _writing_into(folder):
        stem = f"{week}-{message.person}"
        html = message.html
        # The longest id first: that of a picture for a dark screen begins like the light one's.
        for part in sorted(message.attachments, key=lambda one: -len(one.content_id)):
            picture = folder / f"{stem}{part.filename.removeprefix(week)}"
            picture.write_bytes(part.content)
            html = html.replace(f"cid:{part.content_id}", picture.name)
        (folder / f"{stem}.html").write_text(html, encoding="utf-8")
        (folder / f"{stem}.txt").write_text(message.text, encoding="utf-8")
    return folder / f"{stem}.html"


def _write_figures(report: "WeeklyReport", folder: Path) -> Path:
    """Write the week's figures of each space as CSV; tells where."""
    from monitor.reports.week_account import week_account, week_csv

    path = folder / f"{report.week}.csv"
    with _writing_into(folder):
        path.write_text(week_csv(week_account(report)), encoding="utf-8")
    return path


@contextmanager
def _writing_into(folder: Path) -> Iterator[None]:
    try:
        folder.mkdir(parents=True, exist_ok=True)
        yield
    except OSError as error:
        raise QuantityError(
            f"--out {folder}: {error.strerror or error}",
            "give a folder that this user may write to",
        ) from error
