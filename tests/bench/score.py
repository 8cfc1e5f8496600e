"""``python -m tests.bench.score --seeds 101-130``: how good is the judgement? See `scoring`."""

import sys

from tests.bench.scoring.command import main

if __name__ == "__main__":
    sys.exit(main())
