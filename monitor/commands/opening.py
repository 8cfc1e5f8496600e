"""What commands share: their flag for the yard's file, its store opened, the daemon's time."""

import argparse
import sys
from collections.abc import Collection, Iterator, Mapping, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime

from monitor.clock import Clock, CorrectedClock, SystemClock
from monitor.craft.breaks import Break
from monitor.craft.craft_stays import Shelter
from monitor.craft.fields import in_our_time
from monitor.craft.profile import Profile
from monitor.craft.record import CraftRecord
from monitor.craft.stored import StoredCraft
from monitor.errors import Fault, QuantityError, RecordError, fault_from, problem_and_remedy
from monitor.settings.craft_names import craft_meant
from monitor.settings.faults import one_of
from monitor.settings.load import Settings, load_settings
from monitor.settings.written_times import in_zone, parse_past_time
from monitor.store.store import Store
from monitor.store.store_file import has_current_tables
from monitor.wording import SI, Wording, listed_first
from monitor.yard.health import IntakeFaultKind
from monitor.yard.people import names_by_id
from monitor.yard.readers import units_of
from monitor.yard.space import Yard, shelters

_NAMED = 3  # craft, before the rest are only counted


@dataclass(frozen=True, slots=True, kw_only=True)
class Opened:
    """The yard, its library and its store."""

    settings: Settings
    profiles: Mapping[str, Profile]
    store: Store

    @property
    def yard(self) -> Yard:
        """The yard itself."""
        return self.settings.yard

    @property
    def shelters(self) -> dict[str, Shelter]:
        """The yard's spaces as the record sees them."""
        return shelters(self.yard)

    def wording_for(self, *, as_json: bool) -> Wording:
        """Words in the yard's zone: for people in its units, for machines in SI."""
        units = SI if as_json else units_of(self.yard)
        return Wording(zone=self.yard.zone, units=units, people=names_by_id(self.yard))


@contextmanager
def open_read_only(
    arguments: argparse.Namespace, *, about: Collection[str] = ()
) -> Iterator[Opened]:
    """Open everything that a command about craft needs, only to look: nothing is written.

    Craft files are read as far as the record may not hold what they say; with ``about``, ids or
    names of craft, for these alone.

    Raises
    ------
    StoreError
        If there is no store yet, or one of another revision: to mend that is to write.
    """
    settings = load_settings(arguments.config, craft_asked_about=about, only_new_craft=True)
    _tell_unread(settings)
    store = Store(settings.store_url, settings.yard.id, only_looking=True)
    store.use_archive(settings.archive)
    with closing(store):
        if settings.craft:
            _tell_missing(settings, store)
        yield Opened(settings=settings, profiles=settings.profiles, store=store)


def _tell_unread(settings: Settings) -> None:
    """Say on stderr what is wrong in the craft files: the craft stand as the store has them."""
    for fault in settings.craft_faults:
        print(f"Not taken in, and as it was before: {fault}", file=sys.stderr)


def _tell_missing(settings: Settings, store: Store) -> None:
    """Say on stderr of which craft the files say what the store does not know yet."""
    from monitor.store.taking_in import not_taken_in

    with store.snapshot() as tx:
        names = names_by_id(settings.yard)
        missing = not_taken_in(tx.layup, settings.craft, datetime.now(UTC), names)
    if missing:
        named = listed_first([one.name for one in missing], _NAMED)
        print(
            f"Not in what follows: what the craft files say of {named} is not taken in yet."
            " `laidup run` takes it in when it starts; `laidup check` tries it.",
            file=sys.stderr,
        )


@contextmanager
def open_to_act(arguments: argparse.Namespace) -> Iterator[Opened]:
    """Open the same for a command that writes one thing of its own, and let all else be.

    Raises
    ------
    StoreError
        If there is no store yet, or one of another revision.
    """
    settings = load_settings(arguments.config)
    with closing(Store(settings.store_url, settings.yard.id)) as store:
        yield Opened(settings=settings, profiles=settings.profiles, store=store)


@contextmanager
def open_to_enter(arguments: argparse.Namespace, *, craft_files: bool) -> Iterator[Opened]:
    """Open the same for what goes into the record, bringing the tables up to date first.

    With ``craft_files`` what the yard's own craft files say is taken in first, as the daemon does,
    so that work can be entered on craft that stand there.
    """
    from monitor.craft.revising import CRAFT_FILES
    from monitor.store.mark import StoreMark
    from monitor.store.migrate import migrate
    from monitor.store.taking_in_each import keep_files_taken_in, take_in_each

    settings = load_settings(arguments.config)
    StoreMark(settings.file).refuse_another(settings.store_url, settings.yard.id)
    if not has_current_tables(settings.store_url):
        migrate(settings.store_url)
    with closing(Store(settings.store_url, settings.yard.id)) as store:
        if craft_files:
            _tell_unread(settings)
            taken = take_in_each(
                store,
                settings.craft,
                settings.profiles,
                datetime.now(UTC),
                CRAFT_FILES,
                names_by_id(settings.yard),
            )
            keep_files_taken_in(store, settings.files_digest, taken)
            for error in taken.refused:
                print(f"Not taken in, and as it was before: {error}", file=sys.stderr)
            for change in taken.changes:
                print(change, file=sys.stderr)
            tell_marked(taken.marked)
        _tell_rewritten(store)
        yield Opened(settings=settings, profiles=settings.profiles, store=store)


def at_time(text: str | None, yard: Yard, flag: str = "--at") -> datetime:
    """Read the time that a flag gives; one without an offset is the yard's own, none is now."""
    if text is None:
        return datetime.now(UTC)
    try:
        exact: datetime | None = datetime.fromisoformat(text)
    except ValueError:
        exact = None  # in words
    try:
        if exact is None:
            return parse_past_time(text, datetime.now(yard.zone))
        return in_zone(in_our_time(exact), yard.zone)
    except ValueError as error:
        problem, remedy = problem_and_remedy(error)
        raise QuantityError(f"{flag}: {problem}", remedy) from error


def daemon_clock(store: Store) -> Clock:
    """Clock of this machine, corrected as the daemon corrects it where it is wrong.

    What is kept of a wrong clock may be older than its setting: of both times the one counts that
    is nearer to the latest judgement.
    """
    with store.snapshot() as tx:
        fault = tx.intake_faults.standing_faults().get(IntakeFaultKind.OWN_CLOCK)
        judged = (
            max((each.at for each in tx.assessments.latest_judgements()), default=None)
            if fault
            else None
        )
    clock = CorrectedClock(SystemClock())
    if fault is not None and judged is not None:
        off_s = (judged - clock.now()).total_seconds()
        if abs(off_s + fault.amount) < abs(off_s):
            clock.correct_by(-fault.amount)
    return clock


def read_records(here: Opened, named: Sequence[str] = ()) -> list[CraftRecord]:
    """Records with their chains checked now: of the craft named by id or name, else of all, by id.

    Every command that says what craft hold reads them here. Of a record that cannot be read, or
    is not what was written, nothing counts, and stderr says so.

    Raises
    ------
    RecordError
        If one of the names is no craft's, or that of several.
    """
    if named:
        meant = _craft_meant_by(here, named)
    with here.store.snapshot() as tx:
        if named:  # of two thousand craft, the few that are asked about
            by_id = tx.layup.records_of(meant, here.profiles)
        if not named or not by_id.keys() >= set(meant):
            # A craft whose row is gone is known by its chain, which only this reads.
            by_id = {
                one.craft.id: one for one in tx.layup.all_records(here.profiles, check_chains=True)
            }
    chosen = [by_id[one] for one in meant] if named else list(by_id.values())
    for record in chosen:
        if record.unreadable:
            tell_unbelievable(record)
    return chosen


def _craft_meant_by(here: Opened, named: Sequence[str]) -> list[str]:
    """Ids of the craft that are named; where each is named by its id, no others are looked at."""
    ids = [one.strip().casefold() for one in named]
    with here.store.snapshot() as tx:
        if tx.layup.has_all(ids):
            return ids
    names = names_on_record(here)
    return [craft_named(one, names) for one in named]


def craft_named(said: str, names: Mapping[str, str]) -> str:
    """The id of the craft on record that a person named by id or name.

    Raises
    ------
    RecordError
        If it is none, or may be several; names what is near.
    """
    try:
        meant = craft_meant(said, names)
    except ValueError as error:
        raise RecordError([fault_from(error, "CRAFT", "")]) from error
    if meant not in names:
        near = one_of(said, [*names, *names.values()])
        fault = Fault(file="CRAFT", key="", problem=f"no craft {said!r} is on record", remedy=near)
        raise RecordError([fault])
    return meant


def names_on_record(here: Opened) -> dict[str, str]:
    """Names of all craft by id; of a craft whose row cannot be read its id, for it is there."""
    with here.store.snapshot() as tx:
        ids = {key: key for key in tx.layup.chain.craft_ids()}
        return ids | tx.layup.craft_names()


def tell_unbelievable(record: CraftRecord) -> None:
    """Say on stderr why nothing of a craft's record counts."""
    print(
        f"The record of {record.craft.name} ({record.craft.id}) cannot be believed:"
        f" {record.unreadable.rstrip('.')}. Until that is mended none of it counts: all that"
        " follows takes every circuit of it for plain water.",
        file=sys.stderr,
    )


def read_craft_in_care(here: Opened, at: datetime) -> tuple[StoredCraft, ...]:
    """Add up the record as it stood at a time, every chain checked; nothing is written."""
    from monitor.judgement.inputs import craft_in_care

    return craft_in_care(read_records(here), here.yard, at)


def _tell_rewritten(store: Store) -> None:
    """Say before anything is entered that links of the yard's list are gone or others."""
    from monitor.store.yard_breaks import words_of_yard_breaks

    with store.snapshot() as tx:
        words = words_of_yard_breaks(tx)
    if words:
        print(
            f"The lay-up record of this yard is not what was written: {words.rstrip('.')}. What"
            " you enter is kept behind that; `laidup verify` says all of it, and what to do.",
            file=sys.stderr,
        )


def tell_marked(breaks: Sequence[Break]) -> None:
    """Say that the record did not hold where something was entered just now."""
    for one in breaks:
        print(
            f"The record of {one.craft} did not hold before this: {one}"
            " What you entered is kept, behind a mark; `laidup verify` says all of it.",
            file=sys.stderr,
        )
