"""What is lost, and who is told what, when something dies? Every fault, as two tables.

python -m tests.line.drills                # about ten minutes
python -m tests.line.drills --rounds 3     # each drill of packs three times
python -m tests.line.drills --only mail    # drills whose name contains this
python -m tests.line.drills --write        # the tables into DRILLS.md beside this file
"""

import argparse
import os
from collections.abc import Iterator
from pathlib import Path

from tests.line.drills import (
    delivery_faults,
    intake_faults,
    judgement_faults,
    own_figures,
    packs,
    store_faults,
    warnings,
)
from tests.real.page import load_in_words, page

FILE = Path(__file__).with_name("DRILLS.md")
HEADING = "# What is lost when something dies\n\nWritten by `python -m tests.line.drills --write`."
WARNING_DRILLS = [
    *intake_faults.DRILLS,
    *store_faults.DRILLS,
    *judgement_faults.DRILLS,
    *own_figures.DRILLS,
    *delivery_faults.DRILLS,
]


def main() -> None:
    """Run all drills and print their tables."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--rounds", type=int, default=1)
    parser.add_argument("--only", default="", help="drills whose name contains this")
    parser.add_argument("--seed", type=int, default=os.getpid())
    parser.add_argument("--write", action="store_true", help=f"into {FILE.name} too")
    parser.add_argument("--take", metavar="URL", help=argparse.SUPPRESS)
    parser.add_argument("--port", type=int, help=argparse.SUPPRESS)
    given = parser.parse_args()
    if given.take:
        packs.take(given.take, given.port)
        return
    lines = _tables(given.rounds, given.only, given.seed)
    page(FILE if given.write else None, HEADING, lines)


def _tables(rounds: int, only: str, seed: int) -> Iterator[str]:
    yield f"{load_in_words()}\n"
    yield from packs.table(rounds, only, seed)
    yield "\n## Who is told when something outside fails\n"
    yield from warnings.table(WARNING_DRILLS, only)
    yield (
        "\nHeld: the warning reached whom it should within its time. Memory: the largest resident"
        " memory of the daemon under the fault."
    )


if __name__ == "__main__":
    main()
