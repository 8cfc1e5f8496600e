"""Season records read from the store: rollups of each space once, all else for a few craft at once.

So many craft cost little more than reading what their records need, and no more memory than few.
"""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime

from monitor.craft.account import season
from monitor.craft.craft_stays import with_measured_lag
from monitor.craft.links import Link
from monitor.craft.profile import Profile
from monitor.craft.record import CraftRecord
from monitor.reports.record_events import record_events
from monitor.reports.season.answers import (
    season_alarms,
    season_messages,
    sensor_doubts,
    standing_times,
)
from monitor.reports.season.figures import (
    CraftKept,
    Kept,
    NotProved,
    SeasonFigures,
    SensorReliedOn,
)
from monitor.reports.season.night_hours import NightRows, night_spans
from monitor.reports.season.read_nights import YardNights, read_nights, said_by_night
from monitor.reports.season.shared_nights import SharedNights
from monitor.reports.season.space_hours import (
    AirAround,
    Hours,
    SeasonAir,
    gaps_of,
)
from monitor.reports.season.work import (
    changes_of_row,
    is_declined,
    kept_in,
    rested_volts,
    season_work,
)
from monitor.store.outbox_reports import MessageFate
from monitor.store.page_grants import GrantKind
from monitor.store.standing_history import StandingChange
from monitor.store.told_alarms import Telling
from monitor.store.transaction import Transaction
from monitor.yard.alarm import Alarm, AlarmEvent
from monitor.yard.space import OUTDOORS, Mount, Yard
from monitor.yard.standing import Hazard

_AT_ONCE = 100  # craft: what is read of them stands in memory until their records are made


def season_bounds(year: int, yard: Yard) -> tuple[datetime, datetime]:
    """Beginning and end of a season by the yard's clock: the Julys around a winter."""
    julys = (datetime(one, 7, 1, tzinfo=yard.zone) for one in (year, year + 1))
    begins, ends = (one.astimezone(UTC) for one in julys)  # hours between times of a zone are none
    return begins, ends


def season_of(now: datetime, yard: Yard) -> int:
    """The season of a time by the yard's clock: the year in whose July it began."""
    return season(now.astimezone(yard.zone))


def read_season_figures(
    tx: Transaction,
    yard: Yard,
    profiles: Mapping[str, Profile],
    craft_ids: Sequence[str],
    year: int,
    now: datetime,
    program: str,
) -> Iterator[SeasonFigures]:
    """The season record of each craft that stood in the yard in a season, in the order given.

    Parameters
    ----------
    tx : Transaction
        A snapshot; it must last as long as the records are asked for.
    yard : Yard
    profiles : mapping of str to Profile
        The library.
    craft_ids : sequence of str
        Craft that did not stand in the yard in that season are left out.
    year : int
        In whose July the season began.
    now : datetime
        What comes later is left out.
    program : str
        Version of laidup.
    """
    begins, ends = season_bounds(year, yard)
    until = min(ends, now.astimezone(UTC))
    if until <= begins:
        return
    shared = _read_shared(tx, yard, begins, until, now, program)
    for first in range(0, len(craft_ids), _AT_ONCE):
        some = craft_ids[first : first + _AT_ONCE]
        batch = _read_batch(tx, profiles, some, begins, until)
        for one in some:
            record = batch.records.get(one)
            kept = () if record is None else kept_in(record, begins, until)
            if record is not None and kept:
                yield _figures(shared, batch, record, kept, year)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Shared:
    """What is read once for all craft."""

    yard: Yard
    air: SeasonAir
    nights: YardNights
    since: datetime
    until: datetime
    now: datetime
    program: str
    space_alarms: Sequence[Alarm]
    space_histories: Mapping[str, Sequence[AlarmEvent]]
    space_tellings: Mapping[str, Sequence[Telling]]
    unnamed_until: datetime | None  # of letters until then nobody knows of which alarms they told
    of_sensors: Mapping[str, Sequence[StandingChange]]  # by space
    opened: Mapping[str, datetime]  # when an owner's page was last opened, by the owner's id
    craft_of: Mapping[str, list[str]] = field(default_factory=dict)  # names, by the owner's id


@dataclass(frozen=True, slots=True, kw_only=True)
class _Batch:
    """What is read of a few craft at once, by id."""

    records: Mapping[str, CraftRecord]
    links: Mapping[str, list[Link]]
    changes: Mapping[str, list[StandingChange]]
    alarms: Mapping[str, list[Alarm]]
    histories: Mapping[str, Sequence[AlarmEvent]]
    tellings: Mapping[str, Sequence[Telling]]  # of the yard's people, by alarm id
    fates: Mapping[str, list[MessageFate]]  # by the owner's id


def _read_shared(
    tx: Transaction, yard: Yard, since: datetime, until: datetime, now: datetime, program: str
) -> _Shared:
    hours = Hours.hours_between(since, until)
    air = SeasonAir(tx, yard, hours)
    space_alarms = [
        one for one in tx.alarms.of_each_craft([""])[""] if since <= one.raised_at < until
    ]
    opened: dict[str, datetime] = {}
    for grant in tx.page_grants.all_grants():
        if grant.kind is GrantKind.OWNER and grant.seen_at is not None:
            opened[grant.person] = max(grant.seen_at, opened.get(grant.person, grant.seen_at))
    of_sensors: dict[str, list[StandingChange]] = {}
    for change in tx.standing_history.bare_changes([""], since, until)[""]:
        of_sensors.setdefault(change.space, []).append(change)
    craft_of: dict[str, list[str]] = {}
    for one in tx.layup.all_craft():
        if one.owner:
            craft_of.setdefault(one.owner, []).append(one.name)
    return _Shared(
        yard=yard,
        air=air,
        nights=YardNights(
            yard=yard,
            nights=SharedNights(
                NightRows(night_spans(hours, yard, since, until)),
                air,
                said_by_night(tx.said_nights.nights_since(since.astimezone(yard.zone).date())),
            ),
        ),
        since=since,
        until=until,
        now=now,
        program=program,
        space_alarms=space_alarms,
        space_histories=tx.alarms.histories_of([one.id for one in space_alarms]),
        space_tellings=tx.told_alarms.tellings_of_each([one.id for one in space_alarms]),
        unnamed_until=tx.told_alarms.last_unnamed(since, until),
        of_sensors=of_sensors,
        opened=opened,
        craft_of=craft_of,
    )


def _read_batch(
    tx: Transaction,
    profiles: Mapping[str, Profile],
    craft_ids: Collection[str],
    since: datetime,
    until: datetime,
) -> _Batch:
    records = tx.layup.records_of(craft_ids, profiles)
    owners = {one.craft.owner for one in records.values() if one.craft.owner}
    alarms = {
        key: [one for one in several if since <= one.raised_at < until]
        for key, several in tx.alarms.of_each_craft(records).items()
    }
    return _Batch(
        records=records,
        links=tx.layup.links_of_each(records),
        changes=tx.standing_history.bare_changes(records, since, until),
        alarms=alarms,
        histories=tx.alarms.histories_of([one.id for few in alarms.values() for one in few]),
        tellings=tx.told_alarms.tellings_of_each(
            [one.id for few in alarms.values() for one in few]
        ),
        fates=tx.outbox.fates_to_each(owners, since, until),
    )


def _figures(
    shared: _Shared, batch: _Batch, record: CraftRecord, kept: tuple[Kept, ...], year: int
) -> SeasonFigures:
    craft, air = record.craft, shared.air
    links, changes = batch.links[craft.id], batch.changes[craft.id]
    measured = {one.circuit: one for one in craft.measured}
    circuits = tuple(
        with_measured_lag(one.circuit, measured.get(one.circuit.id))
        for one in record.profile.circuits
    )
    events = record_events(record, links, shared.until)
    work = season_work(events, year)
    around = air.of_stays(kept)
    nights = read_nights(shared.nights, record, kept, around, circuits, changes)
    stood = air.air_stood_in(kept)
    gaps = gaps_of(air, kept)
    alarms = season_alarms(
        batch.alarms[craft.id],
        shared.space_alarms,
        batch.histories,
        shared.space_histories,
        kept,
        shared.yard,
        {**shared.space_tellings, **batch.tellings},
        shared.unnamed_until,
    )
    return SeasonFigures(
        season=year,
        since=kept[0].since,
        until=kept[-1].until,
        made_at=shared.now,
        program=shared.program,
        craft=CraftKept(
            id=craft.id,
            name=craft.name,
            profile=craft.profile,
            hull_number=craft.hull_number,
            owner=craft.owner,
            arrived_at=craft.arrived_at,
            left_at=None if kept[-1].until >= shared.until else kept[-1].until,
            circuits={one.id: one.name for one in circuits},
        ),
        kept=kept,
        work=tuple(one for one in work if not is_declined(one)),
        declined=tuple(one for one in work if is_declined(one)),
        changes_of_row=changes_of_row(events, shared.since, shared.until),
        air=stood,
        nights=tuple(nights),
        gaps=gaps,
        alarms=alarms,
        messages=season_messages(
            batch.fates.get(craft.owner, ()), kept, craft.name, shared.craft_of.get(craft.owner, ())
        ),
        link_opened_at=shared.opened.get(craft.owner),
        damp=standing_times(changes, Hazard.DAMP, kept),
        battery=standing_times(changes, Hazard.BATTERY, kept),
        rested=rested_volts(work),
        sensors=_sensors(shared, kept, craft.id),
        doubts=sensor_doubts(
            [
                change
                for space in dict.fromkeys(one.space for one in kept)
                for change in shared.of_sensors.get(space, ())
            ],
            kept,
        ),
        not_proved=_not_proved(
            shared,
            kept,
            around,
            has_gaps=bool(gaps),
            may_lack_messages=not all(one.told_is_whole for one in alarms),
        ),
        links=len(links),
        chain_hash=links[-1].hash if links else "",
        unreadable=record.unreadable,
    )


def _sensors(shared: _Shared, kept: Sequence[Kept], craft: str) -> tuple[SensorReliedOn, ...]:
    """Air sensors of the spaces that it stood in, and what touched the craft itself."""
    of_spaces, of_craft = shared.nights.air_sensors, shared.nights.sensors_of_craft
    of_both = dict(of_craft.get(craft, ()))
    for space in {stay.space for stay in kept}:
        of_both |= of_spaces.get(space, ())
    found = []
    for _, one in sorted(of_both.items()):
        is_own = one.craft == craft
        stays = [stay for stay in kept if is_own or stay.space == one.space]
        parts = [shared.air.hours.slice_between(stay.since, stay.until) for stay in stays]
        found.append(
            SensorReliedOn(
                name=one.name,
                space=one.space,
                mount=one.mount,
                circuit=one.circuit or "",
                place=one.note,
                height_m=one.height_m,
                interval_s=one.interval_s,
                heard_h=None
                if one.mount is Mount.BATTERY
                else round(shared.air.heard_h(one.name, stays), 6),
                of_h=round(float(sum(shared.air.hours.length_h[each].sum() for each in parts)), 6),
                calibrations=one.calibrations,
            )
        )
    return tuple(found)


def _not_proved(
    shared: _Shared,
    kept: Sequence[Kept],
    around: AirAround,
    *,
    has_gaps: bool,
    may_lack_messages: bool,
) -> tuple[NotProved, ...]:
    kinds = {one.id: one.kind for one in shared.yard.spaces}
    open_air = any(kinds.get(stay.space) in OUTDOORS for stay in kept)
    first = shared.air.hours.slice_between(kept[0].since, kept[-1].until).start
    late = not around.heard[first : first + 24].any()
    asked = {
        NotProved.NOT_HEARD: has_gaps,
        NotProved.STAFF_MESSAGES: may_lack_messages,
        NotProved.SKY: open_air,
        NotProved.BEFORE_THE_WATCH: late,
    }
    return tuple(one for one in NotProved if asked.get(one, True))
