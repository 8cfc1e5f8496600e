"""What of a battery is left in each member of the night's ensemble, and where its acid freezes."""

from dataclasses import dataclass

import numpy as np

from monitor.craft.stored import Battery
from monitor.judgement.air.ensemble import Draws
from monitor.judgement.air.grid import Floats
from monitor.judgement.battery.charge_by_record import EMPTY, LONG_EMPTY_H, BatteryCharge
from monitor.physics.battery import (
    LEAD_BAND,
    LONG_EMPTY_FREEZES_C,
    freezing_point_of_charge,
)

# Left connected, half of all batteries have nothing that draws from them; the other half something
# between a tenth of the usual load and all of it (estimate, no source).
_NOTHING_DRAWS = 0.5
_LEAST_LOAD = 0.1
_LEAST_SELF_DISCHARGE = 1.0 / 3.0  # of the fast end: what the trade quotes spans so much
_TABLES_APART_K = 1.5  # two published tables of freezing points agree so far
_DIGITS = 8.0  # of a draw: members that agree in the first are spread evenly in the second


@dataclass(frozen=True, slots=True)
class ChargeMembers:
    """One battery's charge in each member, each of shape (members,)."""

    now: Floats  # 0 to 1; NaN: not known, and fed
    falls_per_h: Floats
    empty_h: Floats  # for how long it has stood empty by now; inf: perhaps for ever
    error_k: Floats  # of the freezing point that its charge tells
    battery: Battery

    def freezing_points(self, hours: float | Floats = 0.0) -> Floats:
        """Where the acid freezes at some hours before now [°C], of their shape and the members'."""
        before = np.asarray(hours)[..., None]
        left = np.clip(self.now - self.falls_per_h * before, 0.0, 1.0)
        point_c = np.asarray(freezing_point_of_charge(left, self.battery.chemistry.value))
        point_c = point_c + self.error_k
        if self.battery.has_lead_cells:
            weak = self.empty_h + before >= LONG_EMPTY_H
            point_c = np.where(weak, np.maximum(point_c, LONG_EMPTY_FREEZES_C), point_c)
        found: Floats = point_c
        return found


def charge_members(battery: Battery, charge: BatteryCharge, draws: Draws) -> ChargeMembers:
    """Spread a charge over the members by what is not known of it.

    Parameters
    ----------
    battery : Battery
    charge : BatteryCharge
        A voltage tells it to 15 points. Where nothing is known, every member is empty: an unknown
        battery has no protection. What floats is full.
    draws : Draws
        The ``mix`` of each is free here, as a battery has none; second digits of it and of others
        serve what is independent of their first.
    """
    error = 2.0 * draws.mix - 1.0
    drawn, slowly, table = ((each * _DIGITS) % 1.0 for each in (draws.mix, draws.hull, draws.start))
    never = np.zeros(error.size)
    error_k = _TABLES_APART_K * (2.0 * table - 1.0)
    if not np.isfinite(charge.fraction):
        left = np.full(error.size, charge.low)
        empty_h = np.full(error.size, charge.low_empty_h)
        return ChargeMembers(left, never, empty_h, np.maximum(error_k, 0.0), battery)
    known = charge.known
    told = charge.fraction if known is None else known.fraction
    band = 0.0 if charge.is_full_by_float else LEAD_BAND
    began = np.clip(told + band * error, 0.0, 1.0)
    if known is None:
        empty_h = np.full(error.size, charge.empty_h)
        return ChargeMembers(began, never, empty_h, error_k, battery)
    itself = _LEAST_SELF_DISCHARGE**slowly
    load = _LEAST_LOAD ** ((1.0 - drawn) / (1.0 - _NOTHING_DRAWS))
    load = np.where(drawn < _NOTHING_DRAWS, 0.0, load)
    falls = charge.itself_per_h * itself + charge.load_a / battery.capacity_ah * load
    with np.errstate(divide="ignore", invalid="ignore"):
        empty_h = charge.known_h - np.maximum(began - EMPTY, 0.0) / falls
    empty_h = np.where(began <= EMPTY, charge.known_h, np.nan_to_num(empty_h, neginf=0.0))
    left = began - falls * charge.known_h
    return ChargeMembers(left, falls, np.maximum(empty_h, 0.0), error_k, battery)
