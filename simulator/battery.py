"""Twelve-volt lead-acid batteries with their maintainers: charge, voltage, loss, freezing.

A battery holds charge, loses some by itself and to what is left connected, and freezes when its
electrolyte is weak enough. A maintainer charges in bulk, holds an absorption voltage until the
current falls, then floats; without mains it does nothing.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

OFF, BULK, ABSORPTION, FLOAT = 0, 1, 2, 3

# Freezing by specific gravity: US Army ordnance course OD1002, °F turned into °C.
_GRAVITY = np.array([1.000, 1.100, 1.150, 1.200, 1.250, 1.280])
_FREEZES_C = np.array([0.0, -7.2, -15.0, -26.7, -52.2, -68.9])

_CHARGE = np.array([0.0, 0.25, 0.5, 0.75, 1.0])
_RESTED_V = np.array([11.89, 12.06, 12.24, 12.45, 12.65])  # common practice, 25 °C

_BULK_C_RATE = 0.06  # A per Ah of capacity, at most 4 A
_ABSORB_V = 14.4
_FLOAT_V = 13.6
_KELVIN_V = -0.018  # V per K above 25 °C, for absorption and float
_OHM_AH = 0.5  # inner resistance times capacity


@dataclass(frozen=True, slots=True, kw_only=True)
class Battery:
    """One battery as it really is."""

    capacity_ah: float = 18.0
    charge: float = 1.0  # 0 to 1 at the start
    aboard: bool = False  # else on the bench
    lag_h: float = 2.0
    heat_kj_k: float = 6.0
    loss_month: float = 0.05  # share of the charge lost by itself in a month at 25 °C
    parasitic_a: float = 0.0  # what is left connected
    maintained: bool = True
    mains_lost: tuple[tuple[float, float], ...] = ()  # from, to [Unix s]
    tells: bool = True  # its maintainer reports readings


def gravity_of(charge: ArrayLike) -> Array:
    """Specific gravity of a flooded battery's electrolyte by charge: 1.120 empty, 1.265 full."""
    return 1.120 + 0.145 * np.clip(np.asarray(charge, dtype=np.float64), 0.0, 1.0)


def freezing_point(charge: ArrayLike) -> Array:
    """Temperature at which the electrolyte begins to freeze [°C], by charge 0 to 1."""
    return np.interp(gravity_of(charge), _GRAVITY, _FREEZES_C)


def rested_voltage(charge: ArrayLike) -> Array:
    """Voltage after hours of rest [V], by charge 0 to 1."""
    return np.interp(np.clip(charge, 0.0, 1.0), _CHARGE, _RESTED_V)


def ice_share(charge: ArrayLike, battery_c: ArrayLike) -> Array:
    """Share of the electrolyte's water that is ice at equilibrium, 0 to 1: the lever rule.

    The acid stays in the liquid, so the liquid's strength follows the freezing curve; strength is
    taken as proportional to specific gravity above water's.
    """
    acid = gravity_of(charge) - 1.0
    standing = np.interp(-np.asarray(battery_c, dtype=np.float64), -_FREEZES_C, _GRAVITY - 1.0)
    return np.clip(1.0 - acid / np.maximum(standing, 1e-9), 0.0, 1.0)


class Bank:
    """All batteries of a yard, stepped at once."""

    def __init__(self, batteries: Sequence[Battery]) -> None:
        self.batteries = tuple(batteries)

        def figures(name: str) -> Array:
            return np.array([float(getattr(one, name)) for one in self.batteries])

        self.capacity_ah = figures("capacity_ah")
        self.charge = figures("charge")
        self._loss_s = figures("loss_month") / (30.0 * 86400.0)
        self._load_a = figures("parasitic_a")
        self._maintained = np.array([one.maintained for one in self.batteries], dtype=bool)
        full = self.charge > 0.97
        self.stage = np.where(self._maintained, np.where(full, FLOAT, BULK), OFF)
        self.surface_v = np.where(self._maintained, 0.6, 0.0)  # charge on the plates' surface
        self.mains = self._maintained.copy()
        self._mains_lost = [
            (row, *spell) for row, one in enumerate(self.batteries) for spell in one.mains_lost
        ]
        self.current_a = np.zeros(len(self.batteries))
        self.voltage_v = rested_voltage(self.charge) + self.surface_v

    def step(self, at_s: float, battery_c: Array, step_s: float) -> None:
        """Charge, lose and float for one step; sets voltage, current, mains and stage."""
        self.mains = self._maintained.copy()
        for row, start_s, end_s in self._mains_lost:
            if start_s <= at_s < end_s:
                self.mains[row] = False
        stage = np.where(self.mains, np.where(self.stage == OFF, BULK, self.stage), OFF)
        warm = _KELVIN_V * (battery_c - 25.0)
        absorb_v, float_v = _ABSORB_V + warm, _FLOAT_V + warm
        rested = rested_voltage(self.charge)
        ohm = _OHM_AH / self.capacity_ah * (1.0 + 0.01 * np.maximum(25.0 - battery_c, 0.0))
        most_a = np.minimum(_BULK_C_RATE * self.capacity_ah, 4.0)
        # The charge's own counter-voltage rises steeply as the last tenth fills.
        counter = rested + 1.5 * np.clip((self.charge - 0.85) / 0.15, 0.0, 1.0) ** 2
        counter = np.minimum(counter, np.where(stage == FLOAT, float_v - 0.002 * ohm, absorb_v))
        target = np.where(stage == FLOAT, float_v, absorb_v)
        wanted = np.where(stage == BULK, most_a, (target - counter) / ohm * 0.15)
        current = np.where(stage == OFF, 0.0, np.clip(wanted, 0.0, most_a))
        floor_a = 0.0005 * self.capacity_ah
        current = np.where(stage == FLOAT, np.clip(current, floor_a, 4 * floor_a), current)
        stage = np.where((stage == BULK) & (self.charge > 0.85), ABSORPTION, stage)
        filled = (stage == ABSORPTION) & (self.charge > 0.985)
        stage = np.where(filled, FLOAT, stage)
        stage = np.where((stage == FLOAT) & (self.charge < 0.9), BULK, stage)
        self.stage = stage
        loss = self._loss_s * 2.0 ** ((battery_c - 25.0) / 10.0) * step_s
        net_ah = (current * 0.97 - self._load_a) * step_s / 3600.0
        self.charge = np.clip(self.charge + net_ah / self.capacity_ah - loss, 0.0, 1.0)
        fade = np.exp(-step_s / (3.0 * 3600.0))
        charging = np.where(stage == FLOAT, float_v - rested, np.where(stage == OFF, 0.0, 0.9))
        held = np.where(stage == OFF, self.surface_v * fade, charging)
        self.surface_v = np.maximum(held, 0.0)
        loaded = rested + self.surface_v + current * ohm - self._load_a * ohm
        top = np.where(stage == FLOAT, float_v, absorb_v)
        self.voltage_v = np.where(stage == OFF, loaded, np.minimum(loaded, top))
        self.current_a = current
