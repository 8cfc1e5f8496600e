"""The work of one season with every version of it, where a craft stood, and what it held when."""

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, datetime
from itertools import pairwise

from monitor.craft.account import season
from monitor.craft.craft_stays import Shelter, intervals_in_yard
from monitor.craft.layup import Act
from monitor.craft.protection import Protection
from monitor.craft.record import (
    CANNOT_BE_ADDED_UP,
    CraftRecord,
    protections_on_record,
    without_work,
)
from monitor.reports.record_events import RecordEvent, WorkTold, newest_first
from monitor.reports.season.figures import Kept, SeasonWork, WorkStatus, WorkVersion


def kept_in(record: CraftRecord, since: datetime, until: datetime) -> tuple[Kept, ...]:
    """Where a craft stood within ``since <= at < until``, while it was in the yard's care."""
    stays = sorted(record.stays, key=lambda one: one.since)
    ends = [*(after.since for _, after in pairwise(stays)), until]
    found = []
    for here in intervals_in_yard(record.craft, record.standing(until)):
        left = until if here.until is None else min(here.until, until)
        for stay, end in zip(stays, ends, strict=False):
            begins, ends_at = max(stay.since, here.since, since), min(end, left)
            if begins < ends_at:
                found.append(
                    Kept(
                        space=stay.space,
                        berth=stay.berth,
                        since=begins.astimezone(UTC),
                        until=ends_at.astimezone(UTC),
                        by=stay.by,
                    )
                )
    return tuple(sorted(found, key=lambda one: one.since))


def season_work(events: Sequence[RecordEvent], year: int) -> tuple[SeasonWork, ...]:
    """All work of a season, in the order of the work; of what was corrected every version."""
    told = [
        SeasonWork(versions=_versions(one), status=_status(one))
        for one in reversed(newest_first(events))
        if one.versions[-1].entry is not None
    ]
    return tuple(one for one in told if any(season(each.entry.at) == year for each in one.versions))


def changes_of_row(
    events: Sequence[RecordEvent], since: datetime, until: datetime
) -> tuple[tuple[datetime, str, Mapping[str, object], Mapping[str, object]], ...]:
    """What was changed of what is known of the craft: when, by whom, before and after."""
    return tuple(
        (one.at, one.by, *one.changed)
        for one in events
        if one.changed is not None and since <= one.at < until
    )


class HeldOverTime:
    """What each circuit could stand at a time, by the record as it stands now.

    That changes only with work, moves and ice, so it is added up once between two of them, and is
    one mapping until the next.

    Parameters
    ----------
    record : CraftRecord
    shelters : mapping of str to Shelter
        By space.
    circuits : iterable of str
        Ids of those that are asked for. A record that cannot be added up holds nothing: its
        circuits are missing then.
    """

    def __init__(
        self, record: CraftRecord, shelters: Mapping[str, Shelter], circuits: Iterable[str]
    ) -> None:
        self._record, self._shelters, self._circuits = record, shelters, frozenset(circuits)
        self._times = sorted(
            {one.at for one in record.entries}
            | {one.since for one in record.stays}
            | {one.at for one in record.iced}
        )
        self._known: dict[tuple[int, int], Mapping[str, Protection]] = {}

    def held_at(self, at: datetime) -> Mapping[str, Protection]:
        """What was held at one time, by the circuit's id."""
        return self._held(bisect_right(self._times, at), at)

    def held_at_each(self, moments: Sequence[datetime]) -> list[Mapping[str, Protection]]:
        """What was held at each of some times, which stand in order."""
        if not moments or season(moments[0]) != season(moments[-1]):
            return [self.held_at(one) for one in moments]
        edges = [bisect_left(moments, one) for one in self._times]
        found: list[Mapping[str, Protection]] = []
        for passed, (first, after) in enumerate(pairwise((0, *edges, len(moments)))):
            if first < after:
                found += [self._held(passed, moments[first])] * (after - first)
        return found

    def _held(self, passed: int, at: datetime) -> Mapping[str, Protection]:
        key = (passed, season(at))
        if key not in self._known:
            try:
                every = protections_on_record(self._record, self._shelters, at)
            except CANNOT_BE_ADDED_UP as error:
                every = protections_on_record(without_work(self._record, error), self._shelters, at)
            self._known[key] = {one: held for one, held in every.items() if one in self._circuits}
        return self._known[key]


def rested_volts(work: Sequence[SeasonWork]) -> tuple[tuple[datetime, float, str], ...]:
    """Each voltage of the battery at rest that stands on record: when, volts, by whom."""
    return tuple(
        (one.last.at, one.last.rested_v, one.last.by)
        for one in work
        if one.status is not WorkStatus.WITHDRAWN and one.last.rested_v is not None
    )


def is_declined(work: SeasonWork) -> bool:
    """Whether it is work that the yard offered and the owner did not want."""
    return any(one.entry.act is Act.DECLINED for one in work.versions)


def _versions(told: WorkTold) -> tuple[WorkVersion, ...]:
    return tuple(
        WorkVersion(
            entry=one.entry, link=one.number, written_at=one.written_at, is_late=one.is_late
        )
        for one in told.versions
        if one.entry is not None
    )


def _status(told: WorkTold) -> WorkStatus:
    if told.is_withdrawn:
        return WorkStatus.WITHDRAWN
    return WorkStatus.CORRECTED if len(told.versions) > 1 else WorkStatus.STANDS
