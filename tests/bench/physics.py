"""How fast are dew point and wet bulb? Ratios to one np.exp pass over the same array.

``python -m tests.bench.physics`` prints the table, ``--write`` puts it into PHYSICS.md beside this
module, ``--values`` sets the size (10 million). Every figure is the best of a few runs in one
process, in processor time, so that what else the machine does matters little and only ratios are to
be compared. A loop of single values is timed on a sample and scaled. Peak memory is what numpy
allocates in one call, in arrays of the input's size, the answer included.
"""

import argparse
import platform
import sys
import time
import tracemalloc
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import metpy.calc
import numpy as np
import psychrolib
from metpy.units import units

from monitor.physics import moist_air

FILE = Path(__file__).with_name("PHYSICS.md")
RUNS = 5
SAMPLE = 20_000  # single values of a scalar loop


ABOUT_METPY = """\
MetPy's row moves with the machine: 2.6 to 13 times ours from run to run. Its arithmetic alone takes
about twice ours (user time); the rest is the system handing out fresh memory for its arrays, 12,000
page faults a call against 600 here, 0.13 to 1.5 s of it. So the aim of ten times is met where fresh
memory is dear, and not where it is cheap. It also starts from a cruder formula (up to 0.33 K off at
saturation, `tests/outside/AGREEMENT.md`).

Tried for more, in blocks that stay in the cache, as a share of the time the code takes as it is:
ln e(T) as a ratio of two cubics instead of by the logarithm (2e-6 K off) 0.94; a degree less in
both denominators (2.8e-4 K off) 0.86; the cubics in single precision (2.7e-5 K off) 0.68. A
logarithm costs only as much as four multiplications here; what counts is how often a block is
passed over, and no fit within 1e-4 K needs far fewer passes. So the published formula stays."""


@dataclass(frozen=True)
class Measured:
    name: str
    seconds: float
    arrays: float  # peak memory over the size of one input; nan where not measured


def once(work: Callable[[], object]) -> float:
    start = time.process_time()
    work()
    return time.process_time() - start


def best_of_each(works: list[Callable[[], object]]) -> list[float]:
    """Shortest of a few runs, taken in turn, so that a busy spell does not fall on one alone."""
    rounds = [[once(work) for work in works] for _ in range(RUNS)]
    return [min(times) for times in zip(*rounds, strict=True)]


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

    def metpy_dew() -> object:
        return metpy.calc.dewpoint_from_relative_humidity(
            air_c * units.degC, rh_pct * units.percent
        )

    def metpy_bulb() -> object:
        dew_c = moist_air.dew_point(air_c[:few], rh_pct[:few])
        return metpy.calc.wet_bulb_temperature(
            101325 * units.Pa, air_c[:few] * units.degC, dew_c * units.degC
        )

    whole = {
        "numpy exp, one pass (the floor)": lambda: np.exp(air_c),
        "dew point": lambda: moist_air.dew_point(air_c, rh_pct),
        "frost point": lambda: moist_air.frost_point(air_c, rh_pct),
        "wet bulb": lambda: moist_air.wet_bulb(air_c, rh_pct),
        "MetPy, dew point": metpy_dew,
    }
    seconds = best_of_each(list(whole.values()))
    return [
        *(
            Measured(name, each, peak_arrays(work, air_c.nbytes))
            for (name, work), each in zip(whole.items(), seconds, strict=True)
        ),
        Measured(f"MetPy, wet bulb (of {few:,})", once(metpy_bulb) * values / few, np.nan),
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
        seconds = once(lambda: function(air_c, rh_pct / 100, *rest))
        return Measured(f"psychrolib with numba, {name}", seconds, np.nan)
    count = min(SAMPLE if not rest else SAMPLE // 20, air_c.size)
    pairs = list(zip(air_c[:count].tolist(), (rh_pct[:count] / 100).tolist(), strict=True))

    def loop() -> None:
        for t, rh in pairs:
            function(t, rh, *rest)

    return Measured(
        f"psychrolib, loop, {name} (of {count:,})", once(loop) * air_c.size / count, np.nan
    )


def document(values: int) -> str:
    """The table, then each aim with what was reached."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    rows = measure(values)
    floor, dew = rows[0], rows[1]
    lines = [
        "# Dew point and wet bulb against the floor",
        "",
        "Written by `python -m tests.bench.physics --write`: best of a few runs in one process and"
        f" one thread, processor time. {values:,} values; {platform.python_implementation()}"
        f" {platform.python_version()}, numpy {np.__version__}.",
        "",
        "| what | times one np.exp pass | times our dew point | peak memory, input arrays |",
        "| --- | --- | --- | --- |",
    ]
    for row in rows:
        arrays = "" if np.isnan(row.arrays) else f"{row.arrays:.2f}"
        lines.append(
            f"| {row.name} | {row.seconds / floor.seconds:,.1f} | {row.seconds / dew.seconds:,.2f}"
            f" | {arrays} |"
        )
    lines += [
        "",
        "| aim for dew point | reached |",
        "| --- | --- |",
        f"| at most 8 passes of np.exp | {dew.seconds / floor.seconds:.1f} |",
        f"| 50 times as fast as psychrolib, one by one | {times(rows, 'psychrolib', dew):,.0f} |",
        f"| 10 times as fast as MetPy | {times(rows, 'MetPy', dew):.1f} |",
        "| at most three temporaries of the input's size, the answer not counted |"
        f" {max(dew.arrays - 1.0, 0.0):.2f} |",
        "",
        ABOUT_METPY,
    ]
    return "\n".join(lines) + "\n"


def times(rows: list[Measured], who: str, dew: Measured) -> float:
    """How many times as long as our dew point another's takes."""
    other = next(row for row in rows if row.name.startswith(who) and "dew point" in row.name)
    return other.seconds / dew.seconds


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--values", type=int, default=10_000_000)
    parser.add_argument("--write", action="store_true", help=f"into {FILE.name}")
    chosen = parser.parse_args()
    text = document(chosen.values)
    if chosen.write:
        FILE.write_text(text, encoding="utf-8")
    else:
        sys.stdout.write(text)


if __name__ == "__main__":
    main()
