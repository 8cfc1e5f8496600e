"""Season records made and mailed for ``laidup record``, and for the job that mails what is due."""

import argparse
import sys
from collections.abc import Iterator, Sequence
from datetime import datetime
from importlib.metadata import version
from itertools import groupby

from monitor.commands.opening import Opened, daemon_clock, open_to_act
from monitor.commands.progress import Progress
from monitor.errors import LaidupError
from monitor.reports.season.figures import SeasonFigures
from monitor.reports.season.making import RecordMaker, reader_words
from monitor.reports.season.pdf_signature import NOT_INSTALLED, can_sign
from monitor.reports.season.read_season import read_season_figures
from monitor.reports.season.record_letter import record_letter
from monitor.reports.season.record_sealer import RecordSealer
from monitor.reports.season.records_due import records_due
from monitor.settings.pdf_key import load_pdf_identity
from monitor.settings.record_key import load_yard_key
from monitor.wording import listed_first
from monitor.yard.message import Message

_NAMED = 3


def records_of(
    here: Opened,
    wanted: Sequence[str],
    year: int,
    now: datetime,
    *,
    sealed: bool,
    makes_key: bool = True,
) -> Iterator[tuple[SeasonFigures, RecordMaker]]:
    """Each record's figures with what makes files of them, by one snapshot of the store.

    ``makes_key``: a yard that never had a key has one made.
    """
    folder = here.settings.file.parent

    def has_signed() -> bool:
        with here.store.snapshot() as tx:
            return tx.outbox.newest_head() is not None

    yard_key = (
        load_yard_key(folder, here.yard.id, makes_key=makes_key, has_signed=has_signed)
        if sealed
        else None
    )
    identity = None
    if sealed and can_sign():
        identity = load_pdf_identity(folder, here.yard.name, here.settings.bought_certificate, now)
    elif sealed:
        print(f"The PDFs bear no signature of their own. {NOT_INSTALLED}.", file=sys.stderr)
    with here.store.snapshot() as tx:
        sealer = None if yard_key is None else RecordSealer(tx, here.yard, yard_key, year, now)
        maker = RecordMaker(
            yard=here.yard, profiles=here.profiles, sealer=sealer, pdf_identity=identity
        )
        for figures in read_season_figures(
            tx, here.yard, here.profiles, wanted, year, now, version("laidup")
        ):
            yield figures, maker


def letter_to_owner(
    figures: SeasonFigures, maker: RecordMaker, replaces: datetime | None = None
) -> Message | None:
    """The mail to the craft's owner; none where the yard has no mail address of them.

    ``replaces`` is when the mail was written that told the record before.
    """
    yard = maker.yard
    owner = next((one for one in yard.people if one.id == figures.craft.owner), None)
    if owner is None:
        return None
    pdf = maker.make_pdf(figures, reader_words(yard, figures, owner))
    return record_letter(figures, yard, owner, pdf, replaces)


def tell_sent(new: int, written: int, *, of: int) -> None:
    """Say on stderr how many mails are new in the outbox, and how many owners have none."""
    without = "" if written == of else f" No mail reaches the owners of {of - written}."
    print(
        f"{new} of {written} mails put into the outbox; {written - new} were there already."
        f" `laidup run` sends them.{without}",
        file=sys.stderr,
    )


def send_due_records(arguments: argparse.Namespace) -> int:
    """Put the mails that are due by themselves into the outbox; what fails holds up no other.

    Raises
    ------
    ConfigurationError
        Before anything is mailed, if a key's file is gone or cannot be used: what left unsigned, or
        signed with another key, cannot be called back.
    LaidupError
        At the end, with the craft whose record could not be made or cannot be read.
    """
    new = written = found = 0
    failed: list[str] = []
    with open_to_act(arguments) as here, Progress() as progress:
        now = daemon_clock(here.store).now()
        with here.store.snapshot() as tx:
            due = records_due(tx, here.yard, here.profiles, now)
        for year, some in groupby(due, key=lambda one: one.year):
            replaces = {one.craft: one.replaces for one in some}
            for figures, maker in records_of(
                here, list(replaces), year, now, sealed=True, makes_key=False
            ):
                found += 1
                progress.say_stage(f"Record {found:,} of {len(due):,}: {figures.craft.name}")
                if figures.unreadable:
                    failed.append(f"{figures.craft.name}: {figures.unreadable}")
                    continue
                try:
                    letter = letter_to_owner(figures, maker, replaces[figures.craft.id])
                except LaidupError as error:
                    failed.append(f"{figures.craft.name}: {error}")
                    continue
                if letter is not None:
                    with here.store.transaction(can_wait=True) as tx:
                        new += tx.outbox.add([letter])
                    written += 1
        progress.wipe_line()
        if due:
            tell_sent(new, written, of=found - len(failed))
        else:
            print("No season record is due to be mailed.", file=sys.stderr)
    if failed:
        raise LaidupError(f"Not mailed: {listed_first(failed, _NAMED)}")
    return 0
