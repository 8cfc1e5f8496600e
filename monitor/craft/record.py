"""Everything on record about one craft, and the craft that it adds up to at one time."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from monitor.craft.account import protections, season
from monitor.craft.circuit import Circuit
from monitor.craft.circuit_events import Iced
from monitor.craft.findings import open_findings
from monitor.craft.happened import Unsettled, UnsettledKind, unsettled
from monitor.craft.keeping import keeping
from monitor.craft.kept import (
    Craft,
    Interval,
    MeasuredLag,
    Shelter,
    Stay,
    intervals_in_yard,
    stay_at,
)
from monitor.craft.layup import (
    ENGINE_RUNS,
    LEAVES,
    WITH_OWNER,
    Act,
    LayupEntry,
)
from monitor.craft.plan.start import PlanStart
from monitor.craft.profile import Profile
from monitor.craft.protection import Protection
from monitor.craft.reach import reached
from monitor.craft.stored import Battery, BatteryPlace, StoredCraft
from monitor.craft.work_order import earliest_time, standing_entries
from monitor.wording import Wording

_CONNECTS = ENGINE_RUNS | {Act.BATTERY_CONNECTED, Act.COMMISSIONED, Act.BROUGHT_BACK}
_PLACING = frozenset({Act.BATTERY_REMOVED, Act.BATTERY_LEFT_ABOARD})


@dataclass(frozen=True, slots=True, kw_only=True)
class CraftRecord:
    """A craft, its type, where it stood and all work on it.

    Entries of one and the same time were done in the order in which they stand here; otherwise
    order never matters.

    Of a record that cannot be read no entry counts; those that can be are set aside.
    """

    craft: Craft
    profile: Profile
    entries: tuple[LayupEntry, ...] = ()
    stays: tuple[Stay, ...] = ()
    iced: tuple[Iced, ...] = ()
    unreadable: str = ""  # what of it cannot be read, in words; empty: nothing
    set_aside: tuple[LayupEntry, ...] = ()
    # Of a record that a file gives: fields of the craft that the file leaves as they were.
    unsaid: frozenset[str] = frozenset()

    @property
    def on_record(self) -> tuple[LayupEntry, ...]:
        """Every entry that can be read, whether it counts or not."""
        return self.entries or self.set_aside

    def in_yard_at(self, at: datetime) -> bool:
        """Whether the craft was in the yard at that time."""
        return self.in_yard(at) is not None

    def in_yard(self, at: datetime) -> Interval | None:
        """The stretch in the yard that holds that time; None while it is not there."""
        intervals = intervals_in_yard(self.craft, standing_entries(self.entries, at))
        return next((one for one in intervals if one.holds(at)), None)

    def standing(self, at: datetime) -> tuple[LayupEntry, ...]:
        """Entries that count at that time, in the order of the work."""
        return standing_entries(self.entries, at)


def stored_craft(
    record: CraftRecord,
    shelters: Mapping[str, Shelter],
    at: datetime,
    wording: Wording | None = None,
) -> StoredCraft | None:
    """The craft as judgement sees it; None while it is not in the yard, or in no space yet.

    A record that cannot be read or added up makes every circuit plain water, and says so; it never
    raises, for the other craft must be judged all the same.

    Parameters
    ----------
    record : CraftRecord
        All that is on record.
    shelters : mapping of str to Shelter
        The yard's spaces by id.
    at : datetime
        The time to judge for.
    wording : Wording, optional
        Zone and units of the sentences.
    """
    try:
        return _added_up(record, shelters, at, wording)
    except (LookupError, ValueError, TypeError, AttributeError, ArithmeticError) as error:
        spoilt = replace(
            record,
            entries=(),
            set_aside=record.on_record,
            unreadable=f"it cannot be added up ({type(error).__name__}: {error})",
        )
        return _added_up(spoilt, shelters, at, wording)


def _added_up(
    record: CraftRecord,
    shelters: Mapping[str, Shelter],
    at: datetime,
    wording: Wording | None,
) -> StoredCraft | None:
    craft, profile = record.craft, record.profile
    stay, in_yard = stay_at(record.stays, at), record.in_yard(at)
    if in_yard is None or stay is None:
        return None
    measured = {one.circuit: one for one in craft.measured}
    entries = record.standing(at)
    since, came_from = _in_space_since(record.stays, stay, at)
    if since < in_yard.since and in_yard.since > craft.arrived_at:
        since, came_from = in_yard.since, ""  # it came back from outside
    held = held_by(record, shelters, at, wording)
    matters = unsettled(profile, entries, record.stays, shelters, held, at)
    if record.unreadable:
        unreadable = Unsettled(
            kind=UnsettledKind.UNREADABLE, at=craft.arrived_at, by="", words=record.unreadable
        )
        matters = (*matters, unreadable)
    return StoredCraft(
        id=craft.id,
        name=craft.name,
        profile=profile.id,
        profile_digest=profile.digest,
        owner=craft.owner,
        space=stay.space,
        berth=stay.berth,
        circuits=tuple(
            with_measured_lag(one.circuit, measured.get(one.circuit.id)) for one in profile.circuits
        ),
        protection=held,
        surfaces=profile.surfaces,
        battery=battery(profile, entries, stay.space, since, came_from),
        hull_number=craft.hull_number,
        since=since,
        came_from=came_from,
        keeping=keeping(tuple(one for one in entries if season(one.at) == season(at))),
        unsettled=matters,
        unreadable=record.unreadable,
        plan_start=plan_start(record, held, at),
    )


def plan_start(record: CraftRecord, held: Mapping[str, Protection], at: datetime) -> PlanStart:
    """What the craft's job plan starts from at a time; the low that it is for comes later.

    Parameters
    ----------
    record : CraftRecord
        All that is on record.
    held : mapping of str to Protection
        What each circuit can stand at that time.
    at : datetime
    """
    profile, standing = record.profile, record.standing(at)
    entries = tuple(one for one in standing if season(one.at) == season(at))
    looked_at: dict[str, datetime] = {}  # the last time
    for entry in standing:
        for name in reached(entry, profile):
            looked_at[name] = max(earliest_time(entry), looked_at.get(name, earliest_time(entry)))
    cell = battery(profile, standing, "")
    return PlanStart(
        craft=record.craft.id,
        profile=profile,
        held=held,
        entries=entries,
        battery_waits=cell is not None
        and not cell.maintained
        and cell.place in {BatteryPlace.ABOARD, BatteryPlace.UNKNOWN},
        keeping=keeping(entries),
        findings=tuple(open_findings(record.entries, at, profile)),
        iced=frozenset(
            one.circuit
            for one in record.iced
            if one.at <= at and looked_at.get(one.circuit, one.at) <= one.at
        ),
    )


def held_by(
    record: CraftRecord,
    shelters: Mapping[str, Shelter],
    at: datetime,
    wording: Wording | None = None,
) -> dict[str, Protection]:
    """What each circuit can stand at a time; of a record that cannot be read, why that is."""
    held = protections(
        record.profile, record.entries, record.stays, shelters, at, record.iced, wording
    )
    if not record.unreadable:
        return held
    why = f"the record of {record.craft.name} cannot be read: {record.unreadable}"
    return {key: replace(one, why=why) for key, one in held.items()}


def _in_space_since(stays: tuple[Stay, ...], stay: Stay, at: datetime) -> tuple[datetime, str]:
    """When the craft came into this space's air, and out of whose; empty: from elsewhere.

    A change of berth inside the space does not count.
    """
    since, came_from = stay.since, ""
    for earlier in sorted(stays, key=lambda one: one.since, reverse=True):
        if earlier.since > at:
            continue
        if earlier.space != stay.space:
            came_from = earlier.space
            break
        since = earlier.since
    return since, came_from


def with_measured_lag(circuit: Circuit, measured: MeasuredLag | None) -> Circuit:
    """Put a time constant fitted from a probe in the estimate's place, and say so."""
    if measured is None:
        return circuit
    return replace(
        circuit,
        lag_low_h=measured.low_h,
        lag_high_h=measured.high_h,
        figures=f"{circuit.figures}; lag measured: {measured.how}",
    )


def _battery_place(entry: LayupEntry) -> BatteryPlace:
    if entry.act is Act.BATTERY_LEFT_ABOARD:
        return BatteryPlace.ABOARD
    if entry.space == WITH_OWNER:
        return BatteryPlace.AWAY
    return BatteryPlace.BENCH if entry.space else BatteryPlace.UNKNOWN


def _battery_leads(entries: tuple[LayupEntry, ...]) -> tuple[bool, bool]:
    """Whether a maintainer feeds the battery, and whether its lead is off."""
    place, maintained, disconnected = BatteryPlace.UNKNOWN, False, False
    for entry in entries:
        if entry.act in _PLACING:
            place, maintained, disconnected = _battery_place(entry), False, False
        elif entry.act in {Act.BATTERY_ON_MAINTAINER, Act.BATTERY_OFF_MAINTAINER}:
            maintained = entry.act is Act.BATTERY_ON_MAINTAINER
        elif entry.act is Act.BATTERY_DISCONNECTED:
            disconnected = True
        elif entry.act in _CONNECTS:
            disconnected = False  # nothing starts an engine with the lead off
        elif entry.act in LEAVES and place in {BatteryPlace.ABOARD, BatteryPlace.UNKNOWN}:
            maintained = False  # it left with its craft
    return maintained, disconnected


def battery(
    profile: Profile,
    entries: tuple[LayupEntry, ...],
    space: str,
    since: datetime | None = None,
    came_from: str = "",
) -> Battery | None:
    """Where the battery is, what feeds it and what draws from it.

    Parameters
    ----------
    profile : Profile
    entries : tuple of LayupEntry
        Those that stand, in order.
    space : str
        Where the craft stands.
    since, came_from : datetime, str
        From when on the craft stands there, and where it stood before.

    Returns
    -------
    Battery or None
        None where the profile has none. A battery that nobody moved stands where its craft does.
    """
    if profile.battery is None:
        return None
    place, at_space = BatteryPlace.UNKNOWN, space
    stands_since, stood_before = since, came_from
    rested_v, rested_at, equalised_at = None, None, None
    for entry in entries:
        if entry.act in _PLACING:
            aboard = entry.act is Act.BATTERY_LEFT_ABOARD
            told = entry.space if entry.space != WITH_OWNER else ""
            # Told neither to a space nor to its owner, it may be anywhere: judged as aboard.
            goes_to = space if aboard or not entry.space else told
            if goes_to != at_space:
                # The craft may have moved since: put aboard before, the battery went along.
                moved = since is not None and since > entry.at
                stood_before = came_from if moved else at_space
                stands_since = since if moved and aboard else entry.at
            at_space = goes_to
            place = _battery_place(entry)
        if entry.act is Act.BATTERY_EQUALISED:
            equalised_at = entry.at
        if entry.rested_v is not None:
            rested_v, rested_at = entry.rested_v, entry.at
    maintained, disconnected = _battery_leads(entries)
    kind = profile.battery
    return Battery(
        chemistry=kind.chemistry,
        capacity_ah=kind.capacity_ah,
        lag_low_h=kind.lag_low_h,
        lag_high_h=kind.lag_high_h,
        place=place,
        space=at_space,
        maintained=maintained,
        rested_v=rested_v,
        rested_at=rested_at,
        equalised_at=equalised_at,
        disconnected=disconnected,
        since=stands_since,
        came_from=stood_before,
    )
