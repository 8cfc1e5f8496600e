"""How fast are dew point and wet bulb? Ratios to one np.exp pass over the same array.

``python -m tests.bench.physics`` prints the table; ``--values`` sets the size (10 million). Every
figure is the best of a few runs in one process, in processor time, so that what else the machine
does matters little and only ratios are to be compared. A loop of single values is timed on a sample
and scaled. Peak memory is what numpy allocates in one call,
in arrays of the input's size, the answer included.
"""

import argparse
import sys
import time
import tracemalloc
from collections.abc import Callable
from dataclasses import dataclass

import metpy.calc
import numpy as np
import psychrolib
from metpy.units import units

from monitor.physics import moist_air

RUNS = 3
SAMPLE = 20_000  # single values of a scalar loop


@dataclass(frozen=True)
class Measured:
    name: str
    seconds: float
    arrays: float  # peak memory over the size of one input; nan where not measured


def best_of(work: Callable[[], object], runs: int = RUNS) -> float:
    """Shortest of a few runs, the first of which also warms the memory."""
    times = []
    for _ in range(runs):
        start = time.process_time()
        work()
        times.append(time.process_time() - start)
    return min(times)


def peak_arrays(work: Callable[[], object], one_array: int) -> float:
    tracemalloc.start()
    work()
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    return peak / one_array


def measure(values: int) -> list[Measured]:
    dice = np.random.default_rng(0)
    air_c, rh_pct = dice.uniform(-50, 60, values), dice.uniform(1, 100, values)
    # MetPy's wet bulb integrates numerically and takes minutes for a million values.
    few = min(values, 2_000)

    def ours(name: str, work: Callable[[], object]) -> Measured:
        return Measured(name, best_of(work), peak_arrays(work, air_c.nbytes))

    def metpy_dew() -> object:
        return metpy.calc.dewpoint_from_relative_humidity(
            air_c * units.degC, rh_pct * units.percent
        )

    def metpy_bulb() -> object:
        dew_c = moist_air.dew_point(air_c[:few], rh_pct[:few])
        return metpy.calc.wet_bulb_temperature(
            101325 * units.Pa, air_c[:few] * units.degC, dew_c * units.degC
        )

    return [
        ours("numpy exp, one pass (the floor)", lambda: np.exp(air_c)),
        ours("dew point", lambda: moist_air.dew_point(air_c, rh_pct)),
        ours("frost point", lambda: moist_air.frost_point(air_c, rh_pct)),
        ours("wet bulb", lambda: moist_air.wet_bulb(air_c, rh_pct)),
        ours("MetPy, dew point", metpy_dew),
        Measured(f"MetPy, wet bulb (of {few:,})", best_of(metpy_bulb, 1) * values / few, np.nan),
        psychrolib_loop("dew point", psychrolib.GetTDewPointFromRelHum, (air_c, rh_pct), ()),
        psychrolib_loop("wet bulb", psychrolib.GetTWetBulbFromRelHum, (air_c, rh_pct), (101325.0,)),
    ]


def psychrolib_loop(
    name: str, function: Callable[..., float], arrays: tuple[np.ndarray, np.ndarray], rest: tuple
) -> Measured:
    """Its best mode: compiled if numba is installed, else one value after the other."""
    air_c, rh_pct = arrays
    if "numba" in sys.modules:
        function(air_c[:10], rh_pct[:10] / 100, *rest)  # compiles
        seconds = best_of(lambda: function(air_c, rh_pct / 100, *rest), 1)
        return Measured(f"psychrolib with numba, {name}", seconds, np.nan)
    count = min(SAMPLE if not rest else SAMPLE // 20, air_c.size)
    pairs = list(zip(air_c[:count].tolist(), (rh_pct[:count] / 100).tolist(), strict=True))

    def loop() -> None:
        for t, rh in pairs:
            function(t, rh, *rest)

    return Measured(
        f"psychrolib, loop, {name} (of {count:,})", best_of(loop, 1) * air_c.size / count, np.nan
    )


def table(values: int) -> str:
    psychrolib.SetUnitSystem(psychrolib.SI)
    rows = measure(values)
    floor = rows[0].seconds
    dew = rows[1].seconds
    lines = [
        f"{values:,} values; numpy {np.__version__}",
        "",
        "| what | times one np.exp pass | times our dew point | peak memory, input arrays |",
        "| --- | --- | --- | --- |",
    ]
    for row in rows:
        arrays = "" if np.isnan(row.arrays) else f"{row.arrays:.2f}"
        lines.append(
            f"| {row.name} | {row.seconds / floor:,.1f} | {row.seconds / dew:,.2f} | {arrays} |"
        )
    return "\n".join(lines)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--values", type=int, default=10_000_000)
    sys.stdout.write(table(parser.parse_args().values) + "\n")


if __name__ == "__main__":
    main()
