"""Everything on record about one craft, and the craft that it adds up to at one time."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from monitor.craft.account import Iced, protections
from monitor.craft.circuit import Circuit
from monitor.craft.kept import Craft, MeasuredLag, Shelter, Stay, stay_at
from monitor.craft.layup import Act, LayupEntry, standing_entries
from monitor.craft.profile import Profile
from monitor.craft.stored import Battery, BatteryPlace, StoredCraft
from monitor.wording import Wording

_BATTERY_PLACES = {
    Act.BATTERY_REMOVED: BatteryPlace.BENCH,
    Act.BATTERY_LEFT_ABOARD: BatteryPlace.ABOARD,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class CraftRecord:
    """A craft, its type, where it stood and all work on it. Order never matters."""

    craft: Craft
    profile: Profile
    entries: tuple[LayupEntry, ...] = ()
    stays: tuple[Stay, ...] = ()
    iced: tuple[Iced, ...] = ()

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
    craft, profile = record.craft, record.profile
    stay = stay_at(record.stays, at)
    if not craft.here_at(at) or stay is None:
        return None
    measured = {one.circuit: one for one in craft.measured}
    return StoredCraft(
        id=craft.id,
        name=craft.name,
        profile=profile.id,
        owner=craft.owner,
        space=stay.space,
        berth=stay.berth,
        circuits=tuple(
            with_measured_lag(one.circuit, measured.get(one.circuit.id)) for one in profile.circuits
        ),
        protection=protections(
            profile, record.entries, record.stays, shelters, at, record.iced, wording
        ),
        surfaces=profile.surfaces,
        battery=battery(profile, record.standing(at), stay.space),
        hull_number=craft.hull_number,
        since=_in_space_since(record.stays, stay, at),
    )


def _in_space_since(stays: tuple[Stay, ...], stay: Stay, at: datetime) -> datetime:
    """When the craft came into this space's air; a change of berth inside it does not count."""
    since = stay.since
    for earlier in sorted(stays, key=lambda one: one.since, reverse=True):
        if earlier.since > at:
            continue
        if earlier.space != stay.space:
            break
        since = earlier.since
    return since


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


def battery(profile: Profile, entries: tuple[LayupEntry, ...], space: str) -> Battery | None:
    """Where the battery is and what feeds it, from the entries that stand, in order."""
    if profile.battery is None:
        return None
    place, at_space, maintained = BatteryPlace.UNKNOWN, space, False
    rested_v, rested_at = None, None
    for entry in entries:
        if entry.act in _BATTERY_PLACES:
            place = _BATTERY_PLACES[entry.act]
            if place is BatteryPlace.ABOARD:
                at_space = space
            else:
                at_space = entry.space
                place = BatteryPlace.BENCH if entry.space else BatteryPlace.AWAY
            maintained = False
        elif entry.act is Act.BATTERY_ON_MAINTAINER:
            maintained = True
        elif entry.act is Act.BATTERY_OFF_MAINTAINER:
            maintained = False
        if entry.rested_v is not None:
            rested_v, rested_at = entry.rested_v, entry.at
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
    )
