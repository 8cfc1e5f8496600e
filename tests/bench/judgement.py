"""How does a round grow? Ratios to a round of 20 craft in as many spaces, in one process.

``python -m tests.bench.judgement`` prints how rounds grow with craft and with spaces; ``--write``
puts the page into ROUNDS.md beside this file. A round is judged as the daemon judges it, kind by
kind, expanded to every part of every craft and put in order; readings are there already, and
nothing is stored. Processor time, the best of a few runs, those compared in turn; only ratios are
to be compared. ``--beside FOLDER`` takes another tree of this program, with its own `.venv`, and
compares rounds a minute apart, each tree in processes of its own, in turn.
"""

import argparse
import statistics
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path

import numpy as np

from monitor.commands.run import collect_seldom
from monitor.craft.profile import Surface
from monitor.craft.stored import StoredCraft
from monitor.judgement.air.past_weeks import Memory
from monitor.judgement.grouped_judgements import GroupedJudgements
from monitor.judgement.groups import part_groups
from monitor.judgement.judge import judge_groups
from monitor.yard.reading import Channel
from monitor.yard.space import Space, SpaceKind
from tests.judgement import scene
from tests.real.page import load_in_words, page

FILE = Path(__file__).with_name("ROUNDS.md")
HEADING = """# How a round grows

Written by `python -m tests.bench.judgement --write`."""
RUNS = 5
TURNS, ROUNDS = 3, 9
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


@dataclass
class Yardful:
    """Craft in spaces with four days of readings, judged again and again at one moment."""

    craft: int
    spaces: int

    def __post_init__(self) -> None:
        collect_seldom()
        places = spaces_of(self.spaces)
        since = NOW - timedelta(hours=97)
        self.readings = {}
        for n, space in enumerate(places):
            for channel, mean, swing in (
                (Channel.TEMPERATURE, 1.0, 5.0),
                (Channel.HUMIDITY, 75, -10),
            ):
                self.readings |= scene.trace(
                    f"air-{space.id}",
                    channel,
                    lambda h, m=mean + 0.01 * n, s=swing: m - s * np.cos(2 * np.pi * h / 24.0),
                    since,
                    NOW,
                    60.0,
                )
        self.yard, self.stored = scene.yard_of(*places), craft_of(self.craft, places)
        self.memory, self.best_s = Memory(), np.inf
        self.found, self.count = GroupedJudgements({}), 0
        self.run()
        self.best_s = np.inf

    def run(self) -> None:
        """One round as the daemon's, but for reading and keeping."""
        start = time.process_time()
        kinds = part_groups(self.yard, self.stored, self.found, NOW)
        self.found = judge_groups(self.yard, kinds, self.readings, NOW, self.found, self.memory)
        judged = self.found.assessments_in_order(self.yard, NOW)
        self.best_s = min(self.best_s, time.process_time() - start)
        self.count, self.kinds = len(judged), len(self.found.judged)


def growth(craft: list[int], spaces: list[int]) -> Iterator[str]:
    """A table: every number of craft in every number of spaces."""
    yield f"{CIRCUITS} circuits a craft, a reading a minute; best of {RUNS}. {load_in_words()}"
    yield ""
    yield "| spaces | craft | judgements | kinds | to the fewest craft | to the first row |"
    yield "|---|---|---|---|---|---|"
    first = None
    for places in spaces:
        yards = [Yardful(each, places) for each in craft]
        for _ in range(RUNS):
            for each in yards:
                each.run()
        floor = yards[0].best_s
        first = floor if first is None else first
        for each in yards:
            yield (
                f"| {places} | {each.craft} | {each.count} | {each.kinds} |"
                f" {each.best_s / floor:.2f} | {each.best_s / first:.2f} |"
            )


# What both trees are asked: the median of rounds, each a minute on, in milliseconds of processor.
_ROUNDS_A_MINUTE_APART = """
import statistics, sys, time
from datetime import timedelta
from tests.bench import judgement as bench
yard, took, end = bench.Yardful(int(sys.argv[1]), int(sys.argv[2])), [], bench.NOW
for left in range(int(sys.argv[3]), 0, -1):
    bench.NOW = end - timedelta(minutes=left)
    began = time.process_time()
    yard.run()
    took.append(1000.0 * (time.process_time() - began))
print(statistics.median(took))
"""


def beside(other: Path, craft: int, spaces: list[int]) -> Iterator[str]:
    """A table: this tree's rounds to another's, medians of processes in turn."""
    yield f"{craft} craft; medians of {TURNS} processes of {ROUNDS} rounds each. {load_in_words()}"
    yield ""
    yield "| spaces | this tree ms | the other ms | this to the other |"
    yield "|---|---|---|---|"
    for places in spaces:
        took: dict[Path, list[float]] = {Path.cwd(): [], other: []}
        for _ in range(TURNS):
            for tree, medians in took.items():
                asked = subprocess.run(
                    [tree / ".venv/bin/python", "-c", _ROUNDS_A_MINUTE_APART]
                    + [str(each) for each in (craft, places, ROUNDS)],
                    cwd=tree,
                    check=True,
                    capture_output=True,
                    text=True,
                )
                medians.append(float(asked.stdout))
        here_ms, there_ms = (statistics.median(each) for each in took.values())
        yield f"| {places} | {here_ms:.0f} | {there_ms:.0f} | {here_ms / there_ms:.2f} |"


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--craft", type=int, nargs="+", default=[20, 200, 2000])
    parser.add_argument("--spaces", type=int, nargs="+", default=[5, 40])
    parser.add_argument("--write", action="store_true", help=f"into {FILE.name} too")
    parser.add_argument("--beside", type=Path, metavar="FOLDER", help="another tree")
    chosen = parser.parse_args()
    lines = growth(chosen.craft, chosen.spaces)
    if chosen.beside is not None:
        lines = beside(chosen.beside.resolve(), max(chosen.craft), chosen.spaces)
    page(FILE if chosen.write else None, HEADING, lines)
    return 0


if __name__ == "__main__":
    sys.exit(main())
