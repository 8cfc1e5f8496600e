"""How soon is a stuck thermometer found, and how often is a sound one doubted?

``python -m tests.bench.stuck --seeds 1-6 --days 60`` lives winters, holds each thermometer against
those beside it every half hour, and then has each stick at hours drawn by chance: at one value, or
creeping by up to 0.05 K an hour. ``--hard`` has fronts of 5 to 15 K an hour, readings once an hour
and in whole degrees. Seeds 1 to 20 are for tuning.
"""

import argparse
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from monitor.judgement.air.grid import STEP_H, Floats, past_hours
from monitor.judgement.air.stuck_thermometers import (
    AirRows,
    StuckThermometer,
    find_stuck,
    replace_stuck,
)
from monitor.physics.lag import GAP_H
from monitor.yard.space import Space, SpaceKind
from simulator.winter import ZONE, Lived, Winter, live, make
from tests.bench.scoring.command import seeds_from

_BEGIN = datetime(2025, 11, 1, 12, tzinfo=ZoneInfo(ZONE))
_EVERY = 3  # steps of ten minutes between looks
_HOURS = past_hours()
_WRONG_K, _WRONG_STEPS = 1.0, 12  # hidden: too warm by so much, for two hours at the least
_FOLLOWED = 144  # steps after it is hidden: a day
_CREEPS_K_H = 0.05


@dataclass(slots=True)
class Found:
    """What came of some winters."""

    sensor_years: float = 0.0
    false: list[str] = field(default_factory=list)
    false_h: float = 0.0
    delays_h: list[float] = field(default_factory=list)  # inf: not within a day
    missed: list[str] = field(default_factory=list)
    missed_colder: int = 0
    too_warm_kh: float = 0.0  # of spaces whose stuck thermometer is the colder one
    still_too_warm_kh: float = 0.0


@dataclass(frozen=True, slots=True)
class _Grid:
    """One winter's thermometers on steps of ten minutes."""

    at_s: Floats
    spaces: list[Space]
    names: dict[str, list[str]]
    said_c: dict[str, Floats]
    age_h: dict[str, Floats]  # since each was read, one row each
    step_k: dict[str, list[float]]

    def rows_at(self, at: int, changed: dict[str, Floats] | None = None) -> list[AirRows]:
        span = slice(at - _HOURS.size + 1, at + 1)
        found = []
        for space in self.spaces:
            said = (changed or self.said_c).get(space.id, self.said_c[space.id])[:, span]
            held = _HOURS[None, :] > -self.age_h[space.id][:, at, None]
            found.append(
                AirRows(
                    space,
                    self.names[space.id],
                    said,
                    np.where(held, np.nan, said),
                    self.step_k[space.id].__getitem__,
                )
            )
        return found


def _grid_of(winter: Winter, lived: Lived) -> _Grid:
    at_s = np.arange(winter.start.timestamp(), winter.end.timestamp(), STEP_H * 3600.0)
    sensors = [each for each in winter.records["sensors"] if each["mount"] == "air"]
    spaces = [
        Space(id=each["space"], name=each["space"], kind=SpaceKind(each["kind"]))
        for each in winter.records["spaces"]
    ]
    names = {
        space.id: [each["sensor"] for each in sensors if each["space"] == space.id]
        for space in spaces
    }
    said, age, step = {}, {}, {}
    for space, of in names.items():
        rows, ages = [], []
        for name in of:
            when_s, values = lived.readings[name]
            value = values["temperature"]
            before = np.searchsorted(when_s, at_s, side="right") - 1
            after = np.minimum(before + 1, len(when_s) - 1)
            row = np.interp(at_s, when_s, value)
            gap = when_s[after] - when_s[np.maximum(before, 0)] > GAP_H * 3600.0
            row[(before < 0) | gap] = np.nan
            rows.append(row)
            ages.append((at_s - when_s[np.maximum(before, 0)]) / 3600.0)
        said[space], age[space] = np.array(rows), np.array(ages)
        step[space] = [
            float(np.diff(np.unique(lived.readings[name][1]["temperature"])).min()) for name in of
        ]
    return _Grid(at_s, spaces, names, said, age, step)


def _watch_sound(grid: _Grid, name: str, found: Found) -> None:
    """Live a winter in which nothing sticks."""
    known: list[StuckThermometer] = []
    counted = [each for space in grid.spaces for each in _held_against(grid, space)]
    found.sensor_years += len(counted) * (grid.at_s[-1] - grid.at_s[0]) / 86400.0 / 365.25
    for at in range(_HOURS.size, grid.at_s.size, _EVERY):
        before = {one.sensor for one in known}
        known = find_stuck(grid.rows_at(at), _HOURS, round(grid.at_s[at] * 1000.0), known)
        found.false_h += len(known) * _EVERY * STEP_H
        found.false += [
            f"{name}, {one.sensor.rsplit(':', 1)[-1]}, day {at * STEP_H / 24.0:.1f}:"
            f" {one.apart_k:.1f} K"
            for one in known
            if one.sensor not in before
        ]


def _held_against(grid: _Grid, space: Space) -> list[str]:
    names = grid.names[space.id]
    alone_outdoors = len(names) == 1 and space.kind in {SpaceKind.OPEN, SpaceKind.WRAPPED}
    return names if len(names) > 1 or alone_outdoors else []


def _watch_stuck(grid: _Grid, rng: np.random.Generator, times: int, found: Found) -> None:
    """Have each thermometer indoors stick some times, and see when it is found."""
    for space in grid.spaces:
        for row, name in enumerate(grid.names[space.id]):
            if len(grid.names[space.id]) > 1:
                for _ in range(times):
                    _one_stuck(grid, space, row, name, rng, found)


def _one_stuck(
    grid: _Grid, space: Space, row: int, name: str, rng: np.random.Generator, found: Found
) -> None:
    sound = grid.said_c[space.id]
    begin = int(rng.integers(_HOURS.size, sound.shape[1] - 3 * _FOLLOWED))
    if not np.isfinite(sound[row, begin]):
        return
    creeps = float(rng.choice([0.0, 1.0])) * float(rng.uniform(-_CREEPS_K_H, _CREEPS_K_H))
    stuck = sound.copy()
    stuck[row, begin:] = sound[row, begin] + creeps * STEP_H * np.arange(stuck.shape[1] - begin)
    wrong_k = stuck[row] - sound[row]
    hidden = next(
        (
            at
            for at in range(begin, begin + 2 * _FOLLOWED)
            if (wrong_k[at : at + _WRONG_STEPS] >= _WRONG_K).all()
        ),
        None,
    )
    if hidden is None:
        return
    known: list[StuckThermometer] = []
    at_found = None
    colder = bool(np.nanmedian(sound[row] - np.delete(sound, row, axis=0)[0]) < 0.0)
    for at in range(begin, hidden + _FOLLOWED):
        rows, now_ms = grid.rows_at(at, {space.id: stuck}), round(grid.at_s[at] * 1000.0)
        known = find_stuck(rows, _HOURS, now_ms, known)
        if at_found is None and any(one.sensor == name for one in known):
            at_found = at
        if colder and at >= hidden:
            truth_c = float(np.nanmin(sound[:, at]))
            judged = replace_stuck(rows, known, _HOURS, now_ms)[space.id][:, -1]
            without = float(np.nanmin(stuck[:, at]))
            found.too_warm_kh += max(without - truth_c, 0.0) * STEP_H
            found.still_too_warm_kh += max(float(np.nanmin(judged)) - truth_c, 0.0) * STEP_H
        elif at_found is not None:
            break
    found.delays_h.append(np.inf if at_found is None else (at_found - hidden) * STEP_H)
    if at_found is None:
        most_k = float(np.nanmax(wrong_k[hidden : hidden + _FOLLOWED]))
        found.missed.append(f"{name.rsplit(':', 1)[-1]}, {most_k:.1f} K too warm")
        found.missed_colder += colder


def watch(seeds: Sequence[int], days: float, times: int, *, hard: bool) -> Found:
    """Live winters and count."""
    end = _BEGIN + timedelta(days=days)
    winters = [make(seed, craft=1, start=_BEGIN, end=end, hard=hard, moved=False) for seed in seeds]
    found = Found()
    for winter, lived in zip(winters, live(winters), strict=True):
        grid = _grid_of(winter, lived)
        _watch_sound(grid, f"seed {winter.seed}", found)
        _watch_stuck(grid, np.random.default_rng([winter.seed, 41]), times, found)
    return found


def lines_of(kind: str, found: Found) -> Iterator[str]:
    """A row of the table, and the sound ones that were doubted."""
    delays = np.array(found.delays_h)
    came = delays[np.isfinite(delays)]
    middle, late = np.quantile(came, [0.5, 0.9], method="higher") if came.size else (0.0, 0.0)
    yield (
        f"| {kind} | {found.sensor_years:.1f} | {len(found.false)} | {delays.size} |"
        f" {60.0 * middle:.0f} min | {60.0 * late:.0f} min |"
        f" {len(found.missed)}, {found.missed_colder} |"
        f" {found.too_warm_kh:.0f} | {found.still_too_warm_kh:.0f} |"
    )
    yield from (f"<!-- doubted: {one} -->" for one in found.false)
    yield from (f"<!-- not found: {one} -->" for one in found.missed)


HEADER = (
    "| winters | sensor-years without a fault | doubted | stuck, and 1 K too warm for 2 h |"
    " found, half of those within | nine of ten of those | not within a day, of them the colder |"
    " colder one stuck: its space too warm by [K h] | with its known offset |\n"
    "|---|---|---|---|---|---|---|---|---|"
)


def main() -> None:
    """Count and print."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.stuck", description=__doc__)
    parser.add_argument("--seeds", type=seeds_from, default=seeds_from("1-3"), metavar="1-6")
    parser.add_argument("--days", type=float, default=60.0)
    parser.add_argument("--times", type=int, default=4, help="that each sticks")
    parser.add_argument("--hard", action="store_true")
    given = parser.parse_args()
    print(HEADER)
    found = watch(given.seeds, given.days, given.times, hard=given.hard)
    for line in lines_of("hard" if given.hard else "ordinary", found):
        print(line)


if __name__ == "__main__":
    main()
