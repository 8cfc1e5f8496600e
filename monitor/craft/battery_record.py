"""The battery as the record has it: where it is, what feeds it and what draws from it."""

from datetime import datetime

from monitor.craft.layup import (
    ENGINE_RUNS,
    LEAVES,
    WITH_OWNER,
    Act,
    LayupEntry,
)
from monitor.craft.profile import Profile
from monitor.craft.stored import Battery, BatteryPlace

_CONNECTS = ENGINE_RUNS | {Act.BATTERY_CONNECTED, Act.COMMISSIONED, Act.BROUGHT_BACK}
_PLACING = frozenset({Act.BATTERY_REMOVED, Act.BATTERY_LEFT_ABOARD})


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
