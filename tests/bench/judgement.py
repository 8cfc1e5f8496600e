"""How does a round grow? Ratios to a round of 20 craft in 40 spaces, in one process.

``python -m tests.bench.judgement`` prints two tables: rounds over more craft in the same spaces,
and over more spaces for the same craft. Processor time, the best of a few runs; only ratios are
to be compared. Readings are there already: what is measured is the judgement itself.
"""

import argparse
import sys
import time
from datetime import timedelta

import numpy as np

from monitor.craft.stored import StoredCraft, Surface
from monitor.judgement.judge import judge
from monitor.judgement.memory import Memory
from monitor.yard.reading import Channel
from monitor.yard.space import Space, SpaceKind
from tests.judgement import scene

RUNS = 3
NOW = scene.local(15, 2)
LAGS_H = (1.5, 2.0, 2.5, 3.0, 4.0, 6.0, 12.0)
CIRCUITS = 6


def spaces_of(count: int) -> tuple[Space, ...]:
    kinds = (SpaceKind.COLD, SpaceKind.OPEN, SpaceKind.WRAPPED, SpaceKind.HEATED)
    return tuple(
        Space(id=f"space-{n}", name=f"Space {n}", kind=kinds[n % len(kinds)]) for n in range(count)
    )


def craft_of(count: int, spaces: tuple[Space, ...]) -> list[StoredCraft]:
    holds = (scene.water, lambda name: scene.mix(-12.0, name), lambda name: scene.mix(-5.0, name))
    block = Surface(id="block", name="Engine block", lag_low_h=3.0, lag_high_h=6.0, length_m=0.3)
    return [
        scene.stored(
            spaces[n % len(spaces)],
            *(
                (
                    scene.circuit(LAGS_H[(n + part) % len(LAGS_H)], id=f"part-{part}"),
                    holds[(n + part) % len(holds)](f"part-{part}"),
                )
                for part in range(CIRCUITS)
            ),
            craft_id=f"k{n}",
            surfaces=(block,),
        )
        for n in range(count)
    ]


def round_s(craft: int, spaces: int) -> tuple[int, float]:
    """Judgements in a round, and the processor time of one."""
    places = spaces_of(spaces)
    since = NOW - timedelta(hours=97)
    readings = {}
    for n, space in enumerate(places):
        for channel, mean, swing in ((Channel.TEMPERATURE, 1.0, 5.0), (Channel.HUMIDITY, 75, -10)):
            readings |= scene.trace(
                f"air-{space.id}",
                channel,
                lambda h, m=mean + 0.01 * n, s=swing: m - s * np.cos(2 * np.pi * h / 24.0),
                since,
                NOW,
                60.0,
            )
    yard, stored, memory = scene.yard_of(*places), craft_of(craft, places), Memory()
    judged = judge(yard, stored, readings, NOW, (), memory)
    times = []
    for _ in range(RUNS):
        start = time.process_time()
        judge(yard, stored, readings, NOW, judged, memory)
        times.append(time.process_time() - start)
    return len(judged), min(times)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--craft", type=int, nargs="+", default=[20, 200, 2000])
    parser.add_argument("--spaces", type=int, nargs="+", default=[10, 20, 40])
    chosen = parser.parse_args()
    most, fewest = max(chosen.spaces), min(chosen.craft)
    _, floor = round_s(fewest, most)
    print(f"{most} spaces, {CIRCUITS} circuits a craft; floor: {fewest} craft")
    for craft in chosen.craft:
        count, seconds = round_s(craft, most)
        print(f"{craft:6} craft {count:7} judgements  {seconds / floor:5.2f} x")
    print(f"{fewest} craft; floor: {min(chosen.spaces)} spaces")
    _, floor = round_s(fewest, min(chosen.spaces))
    for spaces in chosen.spaces:
        count, seconds = round_s(fewest, spaces)
        print(f"{spaces:6} spaces {count:6} judgements  {seconds / floor:5.2f} x")
    return 0


if __name__ == "__main__":
    sys.exit(main())
