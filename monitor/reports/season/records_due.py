"""Which season records go to their owners by themselves: of craft that the yard has handed over.

A record is worth most on the day on which the owner takes the craft back, and a craft of which
nobody wrote down that it went would else never get one: its winter ends with the season.
A record whose end turns out to be another, by what is entered later, is mailed anew.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
from typing import NamedTuple

from monitor.craft.layup import Act
from monitor.craft.links import Link, LinkKind, content_of_body, craft_versions, written_at_in
from monitor.craft.profile import Profile
from monitor.craft.record import CraftRecord
from monitor.reports.season.read_season import season_bounds, season_of
from monitor.reports.season.record_letter import record_key
from monitor.reports.season.work import kept_in
from monitor.store.transaction import Transaction
from monitor.yard.space import Yard

GOES_FOR = timedelta(days=60)  # who was off for longer, or begins with laidup, sends none of old
_DAY = timedelta(days=1)
_CLOSED_AFTER = timedelta(hours=2)  # the day's end (UTC): its proof is in the record then
_AT_ONCE = 100  # craft whose records stand in memory
# Outside of these months nothing is stored for the winter. In what is left of a season, 1 May is
# the day after the last that counts.
_WINTER = (10, 1), (5, 1)


class DueRecord(NamedTuple):
    """One record that is to be mailed."""

    craft: str
    year: int  # in whose July the season began
    replaces: datetime | None = None  # when the mail left that it takes the place of


def records_due(
    tx: Transaction,
    yard: Yard,
    profiles: Mapping[str, Profile],
    now: datetime,
    only: Collection[str] | None = None,
) -> list[DueRecord]:
    """Records that are due and that nobody was mailed yet, by season and craft.

    One that left before the craft came back for more of the winter is none of the whole. One that
    left with another end of the care than the record has now for the same days is wrong.

    Parameters
    ----------
    tx : Transaction
        A snapshot.
    yard : Yard
    profiles : mapping of str to Profile
        The library.
    now : datetime
    only : collection of str, optional
        Ids of the craft that are asked for; without it, of all.

    Returns
    -------
    list of DueRecord
        Of each craft and season one at most, within `GOES_FOR` after its care ended (a corrected
        one: after the mail, too); also where no mail reaches the owner.
    """
    this = season_of(now, yard)
    owned = [
        one.id for one in tx.layup.all_craft() if one.owner and (only is None or one.id in only)
    ]
    found: list[DueRecord] = []
    for first in range(0, len(owned), _AT_ONCE):
        records = tx.layup.records_of(owned[first : first + _AT_ONCE], profiles)
        for record in records.values():
            both = (_due_of(tx, record, yard, year, now) for year in (this - 1, this))
            found.extend(one for one in both if one is not None)
    return sorted(found, key=lambda one: (one.year, one.craft))


def _due_of(
    tx: Transaction, record: CraftRecord, yard: Yard, year: int, now: datetime
) -> DueRecord | None:
    craft, over_at = record.craft.id, care_over_at(record, yard, year, now)
    if over_at is None or now < _closed_at(over_at):
        return None
    mailed = tx.outbox.times_of_messages(record_key(year, craft))
    # A mail from before its last winter night here does not tell of that night, and one that a
    # clock set ahead has dated later than now tells of none that is to come.
    until = winter_stood_until(record, yard, year, over_at)
    told = [one for one in mailed if until is not None and until <= one <= now]
    if not told:
        last = mailed[-1] if mailed else None
        return DueRecord(craft, year, last) if now <= over_at + GOES_FOR else None
    if now > max(told[-1], over_at) + GOES_FOR:
        return None
    before = record_at(record, tx.layup.links_of(craft), told[-1])
    ends = [care_over_at(one, yard, year, told[-1]) for one in (before, record)]
    return None if ends[0] == ends[1] else DueRecord(craft, year, told[-1])


def record_at(record: CraftRecord, links: Sequence[Link], at: datetime) -> CraftRecord:
    """The record as it had been written down by a time; what tells no time counts as older."""
    later: set[str] = set()
    for link in links:
        body = content_of_body(link.body)
        written, said = written_at_in(body), body.get(LinkKind.ENTRY)
        if written is not None and written > at and isinstance(said, dict):
            later.add(str(said.get("id")))
    known = (one for one in craft_versions(links) if one.at is not None and one.at <= at)
    craft = next((one.craft for one in reversed(list(known))), record.craft)
    kept = tuple(one for one in record.entries if one.id not in later)
    return replace(record, craft=craft, entries=kept)


def winter_stood_until(
    record: CraftRecord, yard: Yard, year: int, over_at: datetime
) -> datetime | None:
    """Until when a craft stood here in a season's winter, care over at ``over_at``; None: never."""
    begins, _ = season_bounds(year, yard)
    _, spring = _winter_of(year, yard)
    stood = [one.until for one in kept_in(record, begins, min(over_at, spring))]
    return max(stood, default=None)


def care_over_at(record: CraftRecord, yard: Yard, year: int, now: datetime) -> datetime | None:
    """When the yard's care for a craft ended in a season; None where it goes on, or was no winter.

    Handed over, or taken out after it was made ready for the water: then. Whatever else became of
    it (it stays, it was sold, it is out and may come back): with the season.
    """
    begins, ends = season_bounds(year, yard)
    until = min(ends, now.astimezone(UTC))
    kept = kept_in(record, begins, until) if begins < until else ()
    winter, spring = _winter_of(year, yard)
    if sum((_within(one.since, one.until, winter, spring) for one in kept), timedelta(0)) < _DAY:
        return None
    work = record.standing(until)
    if any(one.act is Act.ENTERED_IN_ERROR for one in work):
        return None
    last = kept[-1].until
    went = {one.act for one in work if one.at == last} if last < until else set()
    if record.craft.left_at == last:  # by the yard's list of craft
        went.add(Act.TAKEN_OUT)
    if Act.HANDED_OVER in went or (Act.TAKEN_OUT in went and _was_ready(record, begins, last)):
        return last
    return ends if ends <= now else None


def _winter_of(year: int, yard: Yard) -> tuple[datetime, datetime]:
    first, last = (
        datetime(year + n, month, day, tzinfo=yard.zone) for n, (month, day) in enumerate(_WINTER)
    )
    return first, last


def _was_ready(record: CraftRecord, begins: datetime, left: datetime) -> bool:
    return any(
        one.act is Act.COMMISSIONED and begins <= one.at <= left for one in record.standing(left)
    )


def _within(since: datetime, until: datetime, first: datetime, last: datetime) -> timedelta:
    first, last = first.astimezone(UTC), last.astimezone(UTC)
    return max(min(until, last) - max(since, first), timedelta(0))


def _closed_at(over_at: datetime) -> datetime:
    day = over_at.astimezone(UTC).date() + _DAY
    return datetime.combine(day, time(), UTC) + _CLOSED_AFTER
