"""How true is the judgement on winters that nobody tuned for?

``python -m tests.bench.winters`` asks the product on each evening of the winters that may be tuned
on, and holds what it said against a truth of its own. Quick looks: ``--only denver --every 5
--forecast none``. ``--held`` is for the end: those winters are never tuned on.
"""

import argparse
import gzip
import json
import sys
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict
from pathlib import Path

from tests.bench.winters.asking import ASKED_AT_H, FORECASTS, Asked, SaidOfAir, SaidOfPart, ask
from tests.bench.winters.places import HELD, TUNE, NotHereError, winter_of
from tests.bench.winters.table import Judged, judged, page
from tests.bench.winters.truth import evenings, truth_of
from tests.real.page import page as written

TODAY = Path(__file__).with_name("data") / "before_chances.json.gz"
FILE = Path(__file__).with_name("WINTERS.md")
FILE_TUNE = Path(__file__).with_name("TUNE.md")
HEADING = """# What was said of open winters, and what happened

"Today" is the rule before chances: edges. Ice until noon counts, ice that is there when laidup is
asked too. Costs are evenings of needless work, by the losses that the yard is told. A letter in
vain is one after which nothing froze while its alarm stood."""

FILE_BEFORE = Path(__file__).with_name("BEFORE.md")
HEADING_BEFORE = """# What was said of open winters by edges, before there were chances

Exposed counts as said for certain, thin as one in two."""


def main() -> int:
    """Ask, score, print."""
    chosen = _arguments().parse_args()
    began = time.monotonic()
    made = f"\n\nWritten by `python -m tests.bench.winters {' '.join(sys.argv[1:])}`."
    names = chosen.only or list(HELD if chosen.held else TUNE)
    if not chosen.held and not chosen.keep_today:
        for name in set(names) & set(HELD):
            print(f"{name} is held back for the end: with --held only.", file=sys.stderr)
            return 2
    if chosen.today:
        kept = {key: said for key, said in _kept().items() if key[0] in names}
        kept = {key: said for key, said in kept.items() if key[1] in chosen.forecast}
        written(FILE_BEFORE if chosen.write else None, HEADING_BEFORE + made, _lines(kept))
        return 0
    jobs = [(name, each, chosen.every) for name in names for each in chosen.forecast]
    found: dict[tuple[str, str], list[Asked]] = {}
    with ProcessPoolExecutor(chosen.workers) as pool:
        for (name, forecast, _), said in zip(jobs, pool.map(_asked, jobs), strict=True):
            if said is None:
                print(f"{name}: left out, its file is not to be had here", file=sys.stderr)
            else:
                found[name, forecast] = said
    if chosen.keep_today:
        _keep(found)
    else:
        file = FILE if chosen.held else FILE_TUNE
        written(file if chosen.write else None, HEADING + made, _lines(found))
    print(f"{(time.monotonic() - began) / 60.0:.1f} min", file=sys.stderr)
    return 0


def _arguments() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m tests.bench.winters", description=__doc__)
    parser.add_argument("--only", nargs="+", metavar="PLACE", choices=[*TUNE, *HELD])
    parser.add_argument("--every", type=int, default=1, help="take each N-th evening")
    parser.add_argument("--forecast", nargs="+", choices=FORECASTS, default=list(FORECASTS))
    parser.add_argument("--held", action="store_true", help="the winters that are never tuned on")
    parser.add_argument(
        "--today", action="store_true", help="of the rule before chances, without asking anew"
    )
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument(
        "--write", action="store_true", help=f"into {FILE.name} or {FILE_TUNE.name} too"
    )
    parser.add_argument(
        "--keep-today", action="store_true", help=f"keep what is said now in {TODAY.name}"
    )
    return parser


def _asked(job: tuple[str, str, int]) -> list[Asked] | None:
    name, forecast, every = job
    try:
        weather = winter_of(name)
    except NotHereError:
        return None
    return ask(weather, truth_of(weather), forecast, evenings(weather)[::every])


def _lines(found: dict[tuple[str, str], list[Asked]]) -> Iterator[str]:
    was = _kept()
    scored: list[Judged] = []
    for (name, forecast), said in found.items():
        truth = truth_of(winter_of(name))
        today = was.get((name, forecast), said)
        scored += [
            judged(name, truth, forecast, said, today, hour, sky=sky)
            for hour in ASKED_AT_H
            for sky in (True, False)
        ]
    yield from page(scored)


def _keep(found: dict[tuple[str, str], list[Asked]]) -> None:
    rows = json.loads(gzip.decompress(TODAY.read_bytes())) if TODAY.exists() else {}
    rows |= {f"{name}/{forecast}": _rows(said) for (name, forecast), said in found.items()}
    TODAY.write_bytes(gzip.compress(json.dumps(rows).encode(), 9, mtime=0))


def _rows(said: Sequence[Asked]) -> list[list[object]]:
    return [
        [
            one.day, one.hour,
            {name: [round(x, 2) for x in asdict(each).values()] for name, each in one.air.items()},
            {
                "/".join(part): [each.standing, round(each.chance, 3), round(each.low_c, 2)]
                for part, each in one.parts.items()
            },
        ]
        for one in said
    ]  # fmt: skip


def _kept() -> dict[tuple[str, str], list[Asked]]:
    rows = json.loads(gzip.decompress(TODAY.read_bytes())) if TODAY.exists() else {}
    found = {}
    for key, said in rows.items():
        name, _, forecast = key.partition("/")
        found[name, forecast] = [
            Asked(
                day=day,
                hour=hour,
                air={
                    space: SaidOfAir(now_c=a, expected_c=b, cold_c=c, warm_c=d)
                    for space, (a, b, c, d) in air.items()
                },
                parts={
                    (part.partition("/")[0], part.partition("/")[2]): SaidOfPart(
                        standing=standing, chance=chance, low_c=low
                    )
                    for part, (standing, chance, low) in parts.items()
                },
            )
            for day, hour, air, parts in said
        ]
    return found


if __name__ == "__main__":
    sys.exit(main())
