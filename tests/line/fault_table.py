"""Which outlet tells of which fault, and how soon? ``python -m tests.line.fault_table`` prints it.

It drives real faults in a daemon on each database, as `test_fault_outlets.py` beside it, and says
in seconds when each outlet told of it, and when it told of it no more; exit status 1 where one did
not.
"""
# ruff: noqa: T201

import subprocess
import sys
from pathlib import Path

from tests.line.outlets import TABLE_BEGINS, heading
from tests.real.page import load_in_words


def main() -> int:
    """Run the tests, and print their table alone."""
    test = Path(__file__).with_name("test_fault_outlets.py")
    command = [sys.executable, "-m", "pytest", "-p", "no:cacheprovider", "-q"]
    command += ["--log-cli-level=INFO", "--log-cli-format=%(message)s", str(test)]
    done = subprocess.run(command, check=False, capture_output=True, text=True)
    _, begins, rest = done.stdout.partition(TABLE_BEGINS.strip())
    if done.returncode or not begins:
        print(done.stdout[-4000:], file=sys.stderr)
        return 1
    rows = [row for row in rest.splitlines() if row.startswith("|")]
    print(load_in_words(), *heading(), *rows, sep="\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
