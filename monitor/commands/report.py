"""``laidup report``: the weekly report, shown, written to files, or sent."""

import argparse
import re
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path

from monitor.clock import from_ms, to_ms
from monitor.commands.opening import Opened, open_read_only, open_to_act, read_craft_in_care
from monitor.commands.printing import print_json
from monitor.commands.progress import Progress
from monitor.errors import QuantityError
from monitor.yard.message import Message


def run(arguments: argparse.Namespace) -> int:
    """Compose the week and do with it what was asked."""
    from monitor.reports.drawing import Plots
    from monitor.reports.letter import letter, readers
    from monitor.reports.week import compose

    opened = (open_to_act if arguments.send else open_read_only)(arguments)
    with opened as here, Progress() as progress:
        yard, now = here.yard, datetime.now(UTC)
        monday = _monday_of(arguments.week, here, now)
        progress.say_stage("The week is being read")
        report = compose(here.store, yard, read_craft_in_care(here, now), monday, now)
        people = readers(report)
        if arguments.person is not None:
            people = [person for person in people if person.id == arguments.person]
            if not people:
                known = ", ".join(person.id for person in readers(report))
                raise QuantityError(
                    f"--person {arguments.person}: gets no letter",
                    f"those who do are {known}",
                )
        only_shown = arguments.out is None and not arguments.send
        if only_shown:
            people = people[:1]
        plots = Plots(within_s=0.0 if only_shown else None)  # plain text shows none
        letters = []
        for person in people:
            progress.say_stage(f"The letter to {person.name} is being written")
            letters.append(letter(report, person, plots))
        progress.wipe_line()
        if arguments.out is not None:
            written = _write_letters(letters, report.week, arguments.out)
            if not arguments.json:
                print("\n".join(str(path) for path in written))
        if arguments.send:
            with here.store.transaction() as tx:
                new = tx.outbox.add(letters)
            said = (
                f"{new} of {len(letters)} letters of {report.week} put into the outbox;"
                f" {len(letters) - new} were there already. `laidup run` sends them."
            )
            if not arguments.json:
                print(said)
    if arguments.json:
        print_json([_letter_json(message, report.week) for message in letters])
    elif only_shown:
        print(letters[0].text)
    return 0


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
            for series_id in tx.readings.known_series().values()
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


def _write_letters(letters: list[Message], week: str, folder: Path) -> list[Path]:
    try:
        folder.mkdir(parents=True, exist_ok=True)
        return _write_into(letters, week, folder)
    except OSError as error:
        raise QuantityError(
            f"--out {folder}: {error.strerror or error}",
            "give a folder that this user may write to",
        ) from error


def _write_into(letters: list[Message], week: str, folder: Path) -> list[Path]:
    written = []
    for message in letters:
        stem = f"{week}-{message.person}"
        html = message.html
        for part in message.attachments:
            picture = folder / f"{stem}{Path(part.filename).suffix}"
            picture.write_bytes(part.content)
            html = html.replace(f"cid:{part.content_id}", picture.name)
        (folder / f"{stem}.html").write_text(html, encoding="utf-8")
        (folder / f"{stem}.txt").write_text(message.text, encoding="utf-8")
        written.append(folder / f"{stem}.html")
    return written
