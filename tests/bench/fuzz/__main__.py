"""What becomes of 200,000 spoiled payloads? Each is taken, or refused with a reason.

``python -m tests.bench.fuzz`` makes them anew from sound seeds, the same on every machine, tries
each with the parser that it is for, and prints what became of them; exit status 1 where one
crashed, took too long or too much memory, or was refused without a word. ``--only PARSER --number
N`` shows one and tries it; ``--times 5`` tries five times as many, each another; ``--write`` keeps
what is printed in FUZZ.md beside this file.
"""

import argparse
import gc
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path

from tests.bench.fuzz.parsers import Parser, parsers
from tests.bench.fuzz.run import HEADING, fault_lines, figures_line, payload_of, strain
from tests.real.page import page

FILE = Path(__file__).with_name("FUZZ.md")


def main() -> int:
    """Run and tell."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.fuzz", description=__doc__)
    parser.add_argument("--only", choices=[one.name for one in parsers()])
    parser.add_argument("--number", type=int)
    parser.add_argument("--times", type=float, default=1.0)
    parser.add_argument("--write", action="store_true", help=f"into {FILE.name} too")
    given = parser.parse_args()
    chosen = [one for one in parsers() if given.only in {None, one.name}]
    if given.number is not None:
        print(payload_of(chosen[0], given.number))
        found = strain(chosen[0], [given.number])
        print(*found.reasons, *(what for _, what in found.faults), sep="\n")
        return 0 if found.is_well else 1
    well: list[bool] = []
    page(
        FILE if given.write else None,
        "# What became of spoiled payloads\n\nWritten by `python -m tests.bench.fuzz --write`.\n",
        _lines(chosen, given.times, well),
    )
    return 0 if all(well) else 1


def _lines(chosen: Sequence[Parser], times: float, well: list[bool]) -> Iterator[str]:
    yield f"```\n{HEADING}"
    count = 0
    for one in chosen:
        found = strain(one, range(round(one.share * times)))
        gc.collect()
        yield "\n".join([figures_line(found), *fault_lines(found)])
        count += found.payloads
        well.append(found.is_well)
    yield f"```\n\n{count:,} payloads; {'all is well' if all(well) else 'NOT ALL IS WELL'}."


if __name__ == "__main__":
    sys.exit(main())
