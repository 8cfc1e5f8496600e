"""What becomes of 200,000 spoiled payloads? Each is taken, or refused with a reason.

``python -m tests.bench.fuzz`` makes them anew from sound seeds, the same on every machine, tries
each with the parser that it is for, and prints what became of them; exit status 1 where one
crashed, took too long or too much memory, or was refused without a word. ``--only PARSER --number
N`` shows one and tries it; ``--times 5`` tries five times as many, each another.
"""

import argparse
import gc
import sys

from tests.bench.fuzz.parsers import parsers
from tests.bench.fuzz.run import HEADING, fault_lines, figures_line, payload_of, strain


def main() -> int:
    """Run and tell."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.fuzz", description=__doc__)
    parser.add_argument("--only", choices=[one.name for one in parsers()])
    parser.add_argument("--number", type=int)
    parser.add_argument("--times", type=float, default=1.0)
    given = parser.parse_args()
    chosen = [one for one in parsers() if given.only in {None, one.name}]
    if given.number is not None:
        print(payload_of(chosen[0], given.number))
        found = strain(chosen[0], [given.number])
        print(*found.reasons, *(what for _, what in found.faults), sep="\n")
        return 0 if found.is_well else 1
    print(HEADING)
    count, is_well = 0, True
    for one in chosen:
        found = strain(one, range(round(one.share * given.times)))
        gc.collect()
        print(figures_line(found), *fault_lines(found), sep="\n", flush=True)
        count, is_well = count + found.payloads, is_well and found.is_well
    print(f"{count:,} payloads; {'all is well' if is_well else 'NOT ALL IS WELL'}.")
    return 0 if is_well else 1


if __name__ == "__main__":
    sys.exit(main())
