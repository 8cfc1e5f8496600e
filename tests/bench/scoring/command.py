"""How good is the judgement? Seeded winters lived through, then held against the truth.

``python -m tests.bench.score --seeds 101-130`` prints one table over all winters. Seeds 1 to 20
are for tuning; what is reported comes from seeds that were never looked at.
"""

import argparse
import pickle
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path
from zoneinfo import ZoneInfo

from simulator.winter import ZONE, Lived, Winter, live, make
from tests.bench.scoring import table, wire
from tests.bench.scoring.verdicts import Score, score
from tests.bench.scoring.watch import Heard, watch

_TOGETHER = 3  # winters that share the steps of one simulation
_BEGIN = datetime(2025, 11, 1, 12, tzinfo=ZoneInfo(ZONE))
PAGE = Path(__file__).parent.parent / "SCORE.md"


def main() -> int:
    """Live, watch, score, print."""
    chosen = _arguments().parse_args()
    began = time.monotonic()
    total = Score()
    job = partial(
        _lived_and_watched, craft=chosen.craft, days=chosen.days,
        every=timedelta(minutes=chosen.every), forecasts=not chosen.no_forecast, kept=chosen.keep,
        over_broker=chosen.over_mqtt, hard=chosen.hard,
    )  # fmt: skip
    found: list[tuple[Winter, Lived, Heard]] = []
    with ProcessPoolExecutor(chosen.workers) as pool:
        for some in pool.map(job, _batches(chosen.seeds)):
            for winter, lived, heard in some:
                score(winter, lived, heard, total)
                print(f"seed {winter.seed}: {heard.rounds} rounds", file=sys.stderr, flush=True)
            found += some if chosen.plots else []
    rows = table.rows(total)
    about = _about(chosen, total)
    print(about, table.text(rows), sep="\n\n")
    if chosen.detail:
        _print_detail(total)
    if chosen.write:
        PAGE.write_text(_page(about, rows), encoding="utf-8")
    if chosen.plots:
        from tests.bench.scoring.plots import draw

        draw(found, total, chosen.plots)
    print(f"{(time.monotonic() - began) / 60.0:.1f} min", file=sys.stderr)
    return 0


def _arguments() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m tests.bench.score", description=__doc__)
    parser.add_argument("--seeds", type=seeds_from, default=seeds_from("1-4"), metavar="101-130,7")
    parser.add_argument("--craft", type=int, default=12, help="in each yard")
    parser.add_argument("--days", type=float, default=75.0, help="from 1 November on; 150 is all")
    parser.add_argument("--every", type=float, default=360.0, help="minutes between rounds")
    parser.add_argument(
        "--no-forecast", action="store_true", help="yards without a public forecast"
    )
    parser.add_argument(
        "--over-mqtt", action="store_true", help="every reading through a real broker and intake"
    )
    parser.add_argument(
        "--hard", action="store_true", help="fronts, mild coasts, coarse and sick sensors"
    )
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--keep", type=Path, help="folder that keeps simulated winters for again")
    parser.add_argument("--write", action="store_true", help=f"write {PAGE.name} too")
    parser.add_argument("--plots", type=Path, help="folder for pictures, one a kind of event")
    parser.add_argument("--detail", action="store_true", help="list what went wrong")
    return parser


def seeds_from(text: str) -> list[int]:
    found: list[int] = []
    for part in text.split(","):
        first, _, last = part.partition("-")
        found += range(int(first), int(last or first) + 1)
    return found


def _batches(seeds: list[int]) -> list[tuple[int, ...]]:
    return [tuple(seeds[at : at + _TOGETHER]) for at in range(0, len(seeds), _TOGETHER)]


def _lived_and_watched(
    seeds: tuple[int, ...],
    *,
    craft: int,
    days: float,
    every: timedelta,
    forecasts: bool,
    kept: Path | None,
    over_broker: bool,
    hard: bool = False,
) -> list[tuple[Winter, Lived, Heard]]:
    end = _BEGIN + timedelta(days=days)
    winters = [make(seed, craft=craft, start=_BEGIN, end=end, hard=hard) for seed in seeds]
    if over_broker:
        return [_over_the_wire(winter, every, forecasts=forecasts) for winter in winters]
    kind = "-hard" if hard else ""
    name = f"{'-'.join(map(str, seeds))}-{craft}-{days:g}{kind}.pickle"
    if kept is not None and (kept / name).exists():
        lived = pickle.loads((kept / name).read_bytes())
    else:
        lived = live(winters)
        if kept is not None:
            kept.mkdir(parents=True, exist_ok=True)
            (kept / name).write_bytes(pickle.dumps(lived))
    return [
        (winter, one, watch(winter, one, every, forecasts=forecasts))
        for winter, one in zip(winters, lived, strict=True)
    ]


def _over_the_wire(
    winter: Winter, every: timedelta, *, forecasts: bool
) -> tuple[Winter, Lived, Heard]:
    """Live one winter on its own and watch it through a broker."""
    told = wire.stream(winter)
    way = partial(wire.over_mqtt, told)
    return winter, told.lived, watch(winter, told.lived, every, forecasts=forecasts, way=way)


def _about(chosen: argparse.Namespace, total: Score) -> str:
    forecast = "without a public forecast" if chosen.no_forecast else "with a public forecast"
    readings = (
        "Every reading over MQTT, through a real broker and the real intake."
        if chosen.over_mqtt
        else "Readings by the store's bulk append and not over MQTT."
    )
    return (
        f"{total.winters} winters, seeds {_named(chosen.seeds)}: {chosen.craft} craft a yard,"
        f" {chosen.days:g} days from 1 November, {forecast}"
        f"{', hard ones' if chosen.hard else ''}. {total.rounds} rounds: one every"
        f" {chosen.every:g} minutes, another half an hour after one that found something grave,"
        f" every five minutes after a heater's failure. {readings}"
    )


def _named(seeds: list[int]) -> str:
    return ", ".join(_runs(seeds))


def _runs(seeds: list[int]) -> Iterator[str]:
    first = last = seeds[0]
    for seed in [*seeds[1:], -1]:
        if seed == last + 1:
            last = seed
            continue
        yield f"{first}" if first == last else f"{first} to {last}"
        first = last = seed


def _page(about: str, rows: list[table.Row]) -> str:
    return (
        "# How good the judgement is\n\n"
        "Written by `python -m tests.bench.score --write`; seeds 1 to 20 are kept for tuning.\n\n"
        f"{about}\n\n{table.markdown(rows)}"
    )


def _print_detail(total: Score) -> None:
    for kind, events in total.events.items():
        for event in sorted(events, key=lambda each: each.lead_h):
            print(
                kind,
                event.seed,
                event.subject,
                f"{event.at:%m-%d %H:%M}",
                f"{event.lead_h:.1f}",
                event.note,
            )
    for kind, raised in total.raised.items():
        for one in raised:
            if not one.right:
                print(
                    "wrong",
                    kind,
                    one.seed,
                    one.subject,
                    f"{one.at:%m-%d %H:%M}",
                    one.loosely,
                    one.note,
                )


if __name__ == "__main__":
    sys.exit(main())
