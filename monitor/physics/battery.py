"""Batteries at rest over arrays: charge, freezing of the electrolyte, self-discharge, float.

Every function takes arrays, broadcasts them, and keeps NaN. Voltages are those of a whole
battery: six cells of lead, or four of lithium iron phosphate, "12 V" in the trade.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from monitor.physics.arrays import Floats, between_rows
from monitor.physics.kinds import Chemistry

LEAD_CELLS = 6
HOURS_A_MONTH = 730.5

# Rested voltage at 25 °C for a charge of 0, 25, 50, 75, 100 %: trade tables (common practice,
# no source); AGM and gel at the middle of the ranges that are quoted for a full battery.
_LEAD_CHARGE = np.array([0.0, 0.25, 0.5, 0.75, 1.0])
_RESTED_V = {
    "flooded": np.array([11.89, 12.06, 12.24, 12.45, 12.65]),
    "agm": np.array([11.80, 12.05, 12.30, 12.60, 12.85]),
    "gel": np.array([11.80, 12.00, 12.35, 12.65, 12.90]),
}
# Lithium iron phosphate, rested: common practice, no source. Almost flat in the middle.
_LITHIUM_CHARGE = np.array([0.0, 0.1, 0.2, 0.4, 0.7, 0.9, 1.0])
_LITHIUM_V = np.array([10.0, 12.0, 12.8, 13.0, 13.2, 13.4, 13.6])
_FLAT_V = (12.8, 13.4)
NOT_RESTED_V = 0.25  # above a full battery's rested voltage: a charger, or surface charge
LEAD_BAND = 0.15  # every charge from a voltage is this uncertain
LITHIUM_BAND = 0.4
_WARM_V_PER_K = 0.0002 * LEAD_CELLS  # open-circuit voltage rises with warmth (from memory)

# Freezing point [°C] by specific gravity at 27 °C: storage table of a powersports owner's
# manual; last row from US Army ordnance course OD1002, whose other rows agree within 1.5 K.
_GRAVITY = np.array([1.050, 1.100, 1.150, 1.200, 1.225, 1.265, 1.280])
_FREEZES_C = np.array([-2.8, -7.8, -15.0, -27.2, -37.2, -59.4, -67.8])
LOWEST_GRAVITY = 1.050  # of that table
EMPTY_GRAVITY = 1.120  # common practice, no source
FULL_GRAVITY = 1.265
GRAVITY_BAND = 0.005  # what a hydrometer is read to (common practice, no source)
LONG_EMPTY_FREEZES_C = -7.0  # left empty until it sulphated (common practice, no source)
USUAL_LOAD_A = (
    0.020  # clock, alarm, receiver of a craft left connected (common practice, no source)
)
FLOAT_BAND_V = (13.5, 13.8)  # at 25 °C: 2.25 to 2.30 V a cell (common practice, no source)
# At the end of a discharge; rested below it, a cell is dead (common practice, no source).
EMPTY_CELL_V = 1.75

# Charge lost in a month at 25 °C, the fast end of what the trade quotes (common practice, no
# source): flooded with antimony 10 to 15 %, with calcium 3 to 5; AGM and gel 1 to 3.
SELF_DISCHARGE_PER_MONTH: dict[Chemistry, float] = {
    "flooded": 0.15,
    "agm": 0.03,
    "gel": 0.03,
    "lifepo4": 0.03,
}


class Charge(NamedTuple):
    """State of charge as a fraction of full, with the range it can really be in."""

    fraction: Floats
    low: Floats
    high: Floats


def charge_from_rested_voltage(
    voltage_v: ArrayLike, chemistry: Chemistry, temperature_c: ArrayLike = 25.0
) -> Charge:
    """Charge of a battery that has rested 8 to 24 h without charge or load.

    Parameters
    ----------
    voltage_v : array_like
        Voltage at the posts [V].
    chemistry : "flooded", "agm", "gel" or "lifepo4"
    temperature_c : array_like
        Temperature of the battery [°C].

    Returns
    -------
    Charge
        Each 0 to 1, of the broadcast shape. NaN where the voltage is too high for a rested
        battery: a charger is on or its surface charge has not left.

    Notes
    -----
    Warmth lifts the voltage by about 1.2 mV/K. That is taken off above 25 °C and not added
    below, so that a cold battery reads too low rather than too high: an error to the safe
    side. The range is ±0.15 for lead. Lithium iron phosphate between 12.8 and 13.4 V says
    next to nothing: ±0.4.
    """
    voltage, temperature = np.broadcast_arrays(
        np.asarray(voltage_v, dtype=np.float64), np.asarray(temperature_c, dtype=np.float64)
    )
    if chemistry == "lifepo4":
        known_v, known = _LITHIUM_V, _LITHIUM_CHARGE
        flat = (voltage >= _FLAT_V[0]) & (voltage <= _FLAT_V[1])
        band = np.where(flat, LITHIUM_BAND, LEAD_BAND)
    else:
        known_v, known = _RESTED_V[chemistry], _LEAD_CHARGE
        voltage = voltage - _WARM_V_PER_K * np.maximum(temperature - 25.0, 0.0)
        band = np.full(voltage.shape, LEAD_BAND)
    fraction = np.interp(voltage, known_v, known)
    unknown = np.isnan(temperature) | (voltage > known_v[-1] + NOT_RESTED_V)
    fraction = np.where(unknown, np.nan, fraction)[()]
    return Charge(
        fraction,
        np.clip(fraction - band, 0.0, 1.0)[()],
        np.clip(fraction + band, 0.0, 1.0)[()],
    )


def electrolyte_freezing_point(specific_gravity: ArrayLike) -> Floats:
    """Temperature at which a lead-acid battery begins to freeze [°C].

    Parameters
    ----------
    specific_gravity : array_like
        Electrolyte density over water's, corrected to 27 °C. Valid 1.050 to 1.280; outside
        NaN: the table is silent there, and so are we.
    """
    return between_rows(specific_gravity, _GRAVITY, _FREEZES_C)


def freezing_point_of_charge(charge: ArrayLike, chemistry: Chemistry = "flooded") -> Floats:
    """Temperature below which a battery of this charge freezes [°C].

    Parameters
    ----------
    charge : array_like
        Fraction of full, 0 to 1; outside NaN.
    chemistry : "flooded", "agm", "gel" or "lifepo4"
        AGM and gel hold denser acid when full, so the flooded figures are safe for them.
        Lithium iron phosphate: -inf, its electrolyte does not freeze in any yard (but it must
        not be charged below 0 °C).

    Notes
    -----
    Specific gravity straight from 1.120 (empty) to 1.265 (full), ±2.5 K. A battery left empty
    for long has weaker acid still: see ``LONG_EMPTY_FREEZES_C``.
    """
    fraction = np.asarray(charge, dtype=np.float64)
    inside = (fraction >= 0.0) & (fraction <= 1.0)
    if chemistry == "lifepo4":
        never: Floats = np.where(inside, -np.inf, np.nan)[()]
        return never
    gravity = EMPTY_GRAVITY + (FULL_GRAVITY - EMPTY_GRAVITY) * fraction
    freezes: Floats = np.where(inside, electrolyte_freezing_point(gravity), np.nan)[()]
    return freezes


def specific_gravity_at_27c(reading: ArrayLike, electrolyte_c: ArrayLike) -> Floats:
    """Correct a hydrometer reading to 27 °C (80 °F): 0.004 for each 10 °F."""
    warmer_f = (np.asarray(electrolyte_c, dtype=np.float64) * 1.8 + 32.0) - 80.0
    corrected: Floats = np.asarray(reading, dtype=np.float64) + 0.0004 * warmer_f
    return corrected


def charge_from_gravity(specific_gravity: ArrayLike) -> Charge:
    """Charge of a flooded battery from its acid.

    Parameters
    ----------
    specific_gravity : array_like
        Electrolyte density over water's, corrected to 27 °C: see `specific_gravity_at_27c`.
        Valid 1.050 to 1.280; outside NaN.

    Returns
    -------
    Charge
        Each 0 to 1, same shape; straight from 1.120 (empty) to 1.265 (full), with the range
        that reading a hydrometer to 0.005 leaves.
    """
    gravity = np.asarray(specific_gravity, dtype=np.float64)
    gravity = np.where((gravity >= _GRAVITY[0]) & (gravity <= _GRAVITY[-1]), gravity, np.nan)

    def charged(at: Floats) -> Floats:
        share: Floats = np.clip((at - EMPTY_GRAVITY) / (FULL_GRAVITY - EMPTY_GRAVITY), 0.0, 1.0)[()]
        return share

    return Charge(
        charged(gravity), charged(gravity - GRAVITY_BAND), charged(gravity + GRAVITY_BAND)
    )


def self_discharge(per_month_25c: ArrayLike, temperature_c: ArrayLike) -> Floats:
    """Charge lost in a month at a temperature, from that at 25 °C: halves for each 10 K colder."""
    rate = np.asarray(per_month_25c, dtype=np.float64)
    lost: Floats = rate * 2.0 ** ((np.asarray(temperature_c, dtype=np.float64) - 25.0) / 10.0)
    return lost


def hours_until_charge(
    charge: ArrayLike,
    limit: ArrayLike,
    temperature_c: ArrayLike,
    per_month_25c: ArrayLike,
    load_a: ArrayLike = 0.0,
    capacity_ah: ArrayLike = np.nan,
) -> Floats:
    """Hours until a battery without maintainer has fallen to a charge.

    Parameters
    ----------
    charge, limit : array_like
        Charge now and the limit, fractions of full.
    temperature_c : array_like
        Mean temperature over the time [°C].
    per_month_25c : array_like
        Self-discharge in a month at 25 °C, fraction of full; see ``SELF_DISCHARGE_PER_MONTH``.
    load_a : array_like
        What clocks, alarms and bilge pumps draw [A], 0 or more; below 0 gives NaN, for that
        would be a charger. 20 mA are 15 Ah a month.
    capacity_ah : array_like
        Needed if there is a load [Ah].

    Returns
    -------
    ndarray of float64, the broadcast shape
        0 if the limit is passed already, inf without any loss.
    """
    load = np.asarray(load_a, dtype=np.float64)
    load = np.where(load >= 0.0, load, np.nan)
    drawn = np.where(load == 0.0, 0.0, load / np.asarray(capacity_ah, dtype=np.float64))
    per_hour = self_discharge(per_month_25c, temperature_c) / HOURS_A_MONTH + drawn
    spare = np.maximum(np.asarray(charge, dtype=np.float64) - np.asarray(limit), 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        hours: Floats = np.where(spare == 0.0, 0.0, spare / per_hour)[()]
    return hours


def float_voltage(
    temperature_c: ArrayLike,
    base_v_cell: ArrayLike = 2.27,
    compensation_mv_cell_k: float = -4.0,
    cells: int = LEAD_CELLS,
) -> Floats:
    """Right float voltage of a lead battery at its temperature [V].

    2.25 to 2.30 V a cell at 25 °C, and 3 to 5 mV a cell more for each kelvin colder (common
    practice; one published page has 3 mV).
    """
    colder = np.asarray(temperature_c, dtype=np.float64) - 25.0
    per_cell = np.asarray(base_v_cell) + compensation_mv_cell_k / 1000.0 * colder
    voltage: Floats = cells * per_cell
    return voltage


def float_band(temperature_c: ArrayLike) -> tuple[Floats, Floats]:
    """Lowest and highest float voltage that is right for a lead battery at its temperature [V].

    13.5 to 13.8 V at 25 °C, and for each kelvin colder 18 mV (3 mV a cell, one published page)
    to 30 mV (5 mV a cell, common practice) more: at each temperature whichever is wider.
    """
    colder = 25.0 - np.asarray(temperature_c, dtype=np.float64)
    low, high = (LEAD_CELLS * mv_cell / 1000.0 * colder for mv_cell in (3.0, 5.0))
    return FLOAT_BAND_V[0] + np.minimum(low, high), FLOAT_BAND_V[1] + np.maximum(low, high)


def hydrogen_l(overcharge_ah: ArrayLike, cells: int = LEAD_CELLS) -> Floats:
    """Hydrogen that overcharging gives off [L at 0 °C and 101325 Pa]: Faraday's law.

    4 % in air explodes; NFPA 1 wants a battery room below 1 %.
    """
    moles = np.asarray(overcharge_ah, dtype=np.float64) * 3600.0 / (2.0 * 96485.33)
    litres: Floats = moles * 22.414 * cells
    return litres
