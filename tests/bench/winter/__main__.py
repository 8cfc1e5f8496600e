"""A whole winter at full speed with every fault in turn: `python -m tests.bench.winter`.

The same winter is lived through twice, once undisturbed, through the real line: broker, store, mail
server and the daemon as a process. Then: what the broker acknowledged is in the store, whoever was
told of an alarm in the undisturbed winter was told in the disturbed one, nothing grows.

python -m tests.bench.winter                              # 60 days on SQLite
python -m tests.bench.winter --store postgresql --days 30
python -m tests.bench.winter --fault "sensor stuck" --days 7  # that fault alone
python -m tests.bench.winter --store both --write         # into WINTER.md beside this file
"""

import argparse
import signal
import sys
import tempfile
from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path

from tests.bench.winter.drill import Drilled, drill
from tests.bench.winter.faults import FAULTS, Fault
from tests.bench.winter.places import StorePlace, postgresql_place, sqlite_place
from tests.bench.winter.told import lines_of
from tests.real.page import load_in_words, page
from tests.real.postgres import throw_away_cluster

FILE = Path(__file__).with_name("WINTER.md")
HEADING = "# A winter with every fault\n\nWritten by `python -m tests.bench.winter --write`."


@contextmanager
def _places(store: str) -> Iterator["list[AbstractContextManager[StorePlace]]"]:
    """Two places for stores of one kind: for the undisturbed winter and the other."""
    if store == "sqlite":
        yield [sqlite_place(), sqlite_place()]
        return
    with throw_away_cluster() as calm, throw_away_cluster() as disturbed:
        yield [postgresql_place(calm), postgresql_place(disturbed)]


def run(
    store: str,
    days: int,
    seed: int,
    keep: Path | None = None,
    faults: tuple[Fault, ...] = FAULTS,
) -> Drilled:
    """Live through one winter twice, on one kind of store; ``keep`` is a folder for both stores."""
    if keep is not None:
        keep = keep / store
        keep.mkdir(parents=True, exist_ok=True)
    with (
        tempfile.TemporaryDirectory() as folder,
        _places(store) as (calm, disturbed),
        calm as one,
        disturbed as other,
    ):
        return drill(Path(folder), one, other, days=days, seed=seed, keep=keep, faults=faults)


def main() -> None:
    """Run the drill and print what came of it."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--store", choices=("sqlite", "postgresql", "both"), default="sqlite")
    parser.add_argument("--days", type=int, default=60)
    parser.add_argument("--seed", type=int, default=3)
    parser.add_argument("--fault", choices=[one.name for one in FAULTS], help="that one alone")
    parser.add_argument("--write", action="store_true", help=f"into {FILE.name} too")
    parser.add_argument("--keep", type=Path, help="a folder for the stores and logs of all runs")
    given = parser.parse_args()
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(1))  # and every part is ended with it
    faults = tuple(one for one in FAULTS if given.fault in {None, one.name})
    stores = ("sqlite", "postgresql") if given.store == "both" else (given.store,)

    def lines() -> Iterator[str]:
        yield load_in_words()
        for store in stores:
            yield from lines_of(run(store, given.days, given.seed, given.keep, faults))

    page(FILE if given.write else None, HEADING, lines())


if __name__ == "__main__":
    main()
