"""Everything on record about one craft, and the craft that it adds up to at one time."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from monitor.craft.account import protections, season
from monitor.craft.battery_record import battery
from monitor.craft.circuit_events import Iced
from monitor.craft.craft_condition import Unsettled, UnsettledKind, keeping, unsettled
from monitor.craft.craft_stays import (
    Craft,
    Interval,
    Shelter,
    Stay,
    intervals_in_yard,
    stay_at,
    with_measured_lag,
)
from monitor.craft.findings import open_findings
from monitor.craft.layup import (
    LayupEntry,
)
from monitor.craft.plan.shelf import USUAL_SHELF, ShelfProduct
from monitor.craft.plan.start import PlanStart
from monitor.craft.plan.step import JobPlan
from monitor.craft.profile import Profile
from monitor.craft.protection import Protection
from monitor.craft.reach import reached
from monitor.craft.sittings import put_in_order
from monitor.craft.stored import BatteryPlace, DepartedCraft, StoredCraft
from monitor.craft.work_order import earliest_time, standing_entries
from monitor.craft.worst_order import worst_of_each
from monitor.wording import Wording

# What adding up a record raises where entries, profile and stays do not fit each other.
CANNOT_BE_ADDED_UP = (LookupError, ValueError, TypeError, AttributeError, ArithmeticError)


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
    # Ids of the entries in each order that days without hours leave open: the worst of them counts.
    # Empty: only the order in which they stand.
    orders: tuple[tuple[str, ...], ...] = ()
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
        return _interval_at(self.craft, self.standing(at), at)

    def standing(self, at: datetime) -> tuple[LayupEntry, ...]:
        """Entries that count at that time, in the order of the work."""
        return standing_entries(self.entries, at)


def _interval_at(craft: Craft, standing: tuple[LayupEntry, ...], at: datetime) -> Interval | None:
    return next((one for one in intervals_in_yard(craft, standing) if one.holds(at)), None)


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
    except CANNOT_BE_ADDED_UP as error:
        return _added_up(without_work(record, error), shelters, at, wording)


def departed_craft(
    record: CraftRecord, shelters: Mapping[str, Shelter], now: datetime
) -> DepartedCraft | None:
    """A craft as it stood when it left the last time; None while it is here, or was never."""
    stays = intervals_in_yard(record.craft, record.standing(now))
    last = stays[-1].until if stays else None
    if last is None or last > now:
        return None
    craft = stored_craft(record, shelters, last - timedelta(microseconds=1))
    return None if craft is None else DepartedCraft(craft=craft, left_at=last)


def without_work(record: CraftRecord, error: Exception) -> CraftRecord:
    """A record that cannot be added up, its work set aside: none of it counts, and it says why."""
    return replace(
        record,
        entries=(),
        set_aside=record.on_record,
        unreadable=f"it cannot be added up ({type(error).__name__}: {error})",
    )


def _added_up(
    record: CraftRecord,
    shelters: Mapping[str, Shelter],
    at: datetime,
    wording: Wording | None,
) -> StoredCraft | None:
    craft, profile = record.craft, record.profile
    entries = record.standing(at)
    stay, in_yard = stay_at(record.stays, at), _interval_at(craft, entries, at)
    if in_yard is None or stay is None:
        return None
    measured = {one.circuit: one for one in craft.measured}
    since, came_from = _in_space_since(record.stays, stay, at)
    if since < in_yard.since and in_yard.since > craft.arrived_at:
        since, came_from = in_yard.since, ""  # it came back from outside
    held = protections_on_record(record, shelters, at, wording)
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
        plan_start=_plan_start(record, entries, held, at),
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
    return _plan_start(record, record.standing(at), held, at)


def _plan_start(
    record: CraftRecord,
    standing: tuple[LayupEntry, ...],
    held: Mapping[str, Protection],
    at: datetime,
) -> PlanStart:
    profile = record.profile
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


def protections_on_record(
    record: CraftRecord,
    shelters: Mapping[str, Shelter],
    at: datetime,
    wording: Wording | None = None,
) -> dict[str, Protection]:
    """What each circuit can stand at a time; of a record that cannot be read, why that is.

    Where days without hours leave the order of the work open, it is the worst for each circuit.
    """
    orders = [put_in_order(record.entries, one) for one in record.orders] or [record.entries]
    held = worst_of_each(
        [
            protections(record.profile, told, record.stays, shelters, at, record.iced, wording)
            for told in orders
        ],
        wording or Wording(),
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


def layup_plan(
    record: CraftRecord,
    shelters: Mapping[str, Shelter],
    at: datetime,
    low_c: float,
    shelf: Sequence[ShelfProduct] = USUAL_SHELF,
) -> JobPlan:
    """The job that makes every circuit of a craft stand a low, and keeps the rest of it.

    Parameters
    ----------
    record : CraftRecord
        All that is on record.
    shelters : mapping of str to Shelter
        The yard's spaces by id.
    at : datetime
        The time to plan at; what is on record for later does not count.
    low_c : float
        Coldest that the craft is to stand [°C]; from 0 up no circuit needs work.
    shelf : sequence of ShelfProduct, optional
        What the yard has; without one, what yards usually have.

    Returns
    -------
    JobPlan
        Followed to the letter, it leaves nothing to do. Only a circuit that no mix and no drain
        makes safe (`StepKind.WARM`) stays on it.
    """
    from monitor.craft.plan.autumn import plan_from  # what only asks what holds needs no plan

    held = protections_on_record(record, shelters, at)
    start = plan_start(record, held, at)
    plan = plan_from(replace(start, low_c=low_c), shelf or USUAL_SHELF)
    return replace(plan, unreadable=record.unreadable)
