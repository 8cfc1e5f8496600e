"""``laidup report``: the weekly report, shown, written to files, or sent."""

import argparse
import re
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from monitor.commands.opening import open_to_act, open_to_look, read_craft_in_care
from monitor.errors import QuantityError
from monitor.yard.message import Message
from monitor.yard.space import Yard


def run(arguments: argparse.Namespace) -> int:
    """Compose the week and do with it what was asked."""
    from monitor.reports.drawing import Plots
    from monitor.reports.letter import letter, readers
    from monitor.reports.week import compose

    with (open_to_act if arguments.send else open_to_look)(arguments) as here:
        yard, now = here.yard, datetime.now(UTC)
        monday = _monday_of(arguments.week, yard, now)
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
        letters = [letter(report, person, plots) for person in people]
        if arguments.out is not None:
            _write_letters(letters, report.week, arguments.out)
        if arguments.send:
            with here.store.transaction() as tx:
                new = tx.outbox.add(letters)
            print(
                f"{new} of {len(letters)} letters of {report.week} put into the outbox;"
                f" {len(letters) - new} were there already. `laidup run` sends them."
            )
    if only_shown:
        print(letters[0].text)
    return 0


def _monday_of(week: str | None, yard: Yard, now: datetime) -> date:
    today = now.astimezone(yard.zone).date()
    this = today - timedelta(days=today.weekday())
    if week is None:
        return this - timedelta(days=7)
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


def _write_letters(letters: list[Message], week: str, folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
        _write_into(letters, week, folder)
    except OSError as error:
        raise QuantityError(
            f"--out {folder}: {error.strerror or error}",
            "give a folder that this user may write to",
        ) from error


def _write_into(letters: list[Message], week: str, folder: Path) -> None:
    for message in letters:
        stem = f"{week}-{message.person}"
        html = message.html
        for part in message.attachments:
            picture = folder / f"{stem}{Path(part.filename).suffix}"
            picture.write_bytes(part.content)
            html = html.replace(f"cid:{part.content_id}", picture.name)
        (folder / f"{stem}.html").write_text(html, encoding="utf-8")
        (folder / f"{stem}.txt").write_text(message.text, encoding="utf-8")
        print(folder / f"{stem}.html")
