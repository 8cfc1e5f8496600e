"""How cold a battery has been and may get, and the chance that its acid freezes there."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from math import inf, isfinite, nan

import numpy as np

from monitor.craft.stored import Battery
from monitor.judgement.air.driving_air import DrivingAir
from monitor.judgement.air.ensemble import band_of, early_hours, first_below, room_at
from monitor.judgement.air.grid import Floats
from monitor.judgement.battery.charge_by_record import LONG_EMPTY_H, BatteryCharge
from monitor.judgement.battery.members import ChargeMembers, charge_members
from monitor.physics.battery import LONG_EMPTY_FREEZES_C, freezing_point_of_charge

_PAST_STRIDE = 3  # half an hour: a battery lags two hours and more


@dataclass(frozen=True, slots=True, kw_only=True)
class BatteryCold:
    """Temperature of one battery, past by the middle of its lags and ahead in every member."""

    drive: DrivingAir
    past_c: Floats  # (n,) as far back as the air is known, up to now; NaN before it came
    ahead_c: Floats  # (members, k) from now on, at the drive's ``ahead_h``

    @property
    def now_c(self) -> float:
        """By the middle of its lags."""
        return float(self.past_c[-1])

    @property
    def lows_c(self) -> Floats:
        """Coming low in each member."""
        lows: Floats = self.ahead_c.min(axis=1)
        return lows

    @property
    def low_c(self) -> float:
        """The middle low."""
        return float(np.median(self.lows_c))

    @property
    def low_h(self) -> float:
        """Hours to the low of the middle member."""
        middle = int(np.argsort(self.lows_c)[self.lows_c.size // 2])
        return float(self.drive.ahead_h[int(np.argmin(self.ahead_c[middle]))])


@dataclass(frozen=True, slots=True, kw_only=True)
class BatteryFreezing:
    """Where a battery's acid freezes: by the charge that is likely, and by what may be left.

    Of one that stood empty for long the acid is weaker; NaN where nothing is known. The chance is
    the share of the night's members in which it freezes before the noon.
    """

    likely_c: float
    worst_c: float
    chance: float = nan  # NaN: the air, or the charge of what is fed, is not known
    margin_k: float = nan  # room over freezing that is left in all but an act's share of members
    ice_h: float = inf  # in one of ten members in which it freezes it has by then
    low_band_c: tuple[float, float] = (nan, nan)  # of the middle four fifths of the members
    may_be_frozen_at: datetime | None = None

    @property
    def only_feared(self) -> bool:
        """Whether it is what may have been drawn from it, and not its known charge, that counts."""
        return self.likely_c != self.worst_c


def battery_freezing(
    battery: Battery,
    charge: BatteryCharge,
    cold: BatteryCold | None,
    frozen_at: datetime | None,
    act_from_chance: float,
) -> BatteryFreezing:
    """Hold what may be left of its charge against how cold it may get.

    Parameters
    ----------
    battery : Battery
    charge : BatteryCharge
    cold : BatteryCold or None
        None where the air is not known.
    frozen_at : datetime or None
        When it may have frozen before, as earlier rounds found.
    act_from_chance : float
        Chance from which on an act pays (`monitor.yard.losses`).
    """
    likely_c = _freezing_point(battery, charge.fraction, charge.empty_h)
    worst_c = _freezing_point(battery, charge.low, charge.low_empty_h)
    if not isfinite(charge.low):
        worst_c = likely_c
    if cold is None:
        frozen_at = _since_tested(battery, frozen_at)
        return BatteryFreezing(likely_c=likely_c, worst_c=worst_c, may_be_frozen_at=frozen_at)
    members = charge_members(battery, charge, cold.drive.draws)
    points_c, lows_c = members.freezing_points(), cold.lows_c
    known = bool(np.isfinite(members.now).all())
    rooms_k = lows_c - points_c
    ice_h = inf
    if known and (rooms_k <= 0.0).any():
        ice_h = float(early_hours(first_below(cold.drive.ahead_h, cold.ahead_c, points_c)))
    return BatteryFreezing(
        likely_c=likely_c,
        worst_c=worst_c,
        chance=float(np.mean(rooms_k <= 0.0)) if known else nan,
        margin_k=room_at(np.sort(rooms_k), act_from_chance) if known else nan,
        ice_h=ice_h,
        low_band_c=band_of(lows_c),
        may_be_frozen_at=_may_be_frozen(battery, members, cold, frozen_at, act_from_chance),
    )


def _freezing_point(battery: Battery, fraction: float, empty_h: float) -> float:
    """Freezing point of its acid; NaN: not known."""
    if not isfinite(fraction):
        return nan
    if battery.has_lead_cells and empty_h >= LONG_EMPTY_H:
        return LONG_EMPTY_FREEZES_C
    return float(freezing_point_of_charge(fraction, battery.chemistry.value))


def _may_be_frozen(
    battery: Battery,
    members: ChargeMembers,
    cold: BatteryCold,
    frozen_at: datetime | None,
    act_from_chance: float,
) -> datetime | None:
    """Last time at which it was so cold that ice in it cannot be ruled out; None: it can.

    Looked at are four days of air and what the rounds before found, up to the last test: warmth
    alone does not make it safe to charge.
    """
    past_c = cold.past_c[::-_PAST_STRIDE][::-1]
    hours = cold.drive.hours[cold.drive.present :: -_PAST_STRIDE][::-1]
    found = np.empty(0, dtype=np.intp)
    if np.fmin.reduce(past_c) <= max(float(members.freezing_points().max()), LONG_EMPTY_FREEZES_C):
        icy = past_c[:, None] <= members.freezing_points(hours)
        found = np.flatnonzero(icy.mean(axis=1) >= act_from_chance)
    if found.size:
        at = cold.drive.now + timedelta(hours=float(hours[found[-1]]))
        frozen_at = at if frozen_at is None else max(at, frozen_at)
    return _since_tested(battery, frozen_at)


def _since_tested(battery: Battery, frozen_at: datetime | None) -> datetime | None:
    """The time at which it may have frozen, unless somebody has tested it since."""
    if frozen_at is None or battery.rested_at is None:
        return frozen_at
    return frozen_at if frozen_at >= battery.rested_at else None
