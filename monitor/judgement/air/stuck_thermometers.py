"""Thermometers that stay while the others of their air fall, and what is judged in their stead.

Until one follows again what it reads counts only where it is the colder word: else its place is as
far from the others as it was before.
"""

from collections.abc import Callable, Iterable, Sequence
from typing import NamedTuple

import numpy as np

from monitor.judgement.air.sensor_offsets import (
    LEAST_K,
    Floats,
    fill_gaps,
    find_parting,
    follows_again,
)
from monitor.yard.space import OUTDOORS, WARM, Space

_MS_PER_H = 3_600_000.0

_HELD_H = 0.5  # a parting must last so long: a draught comes to one corner first
_HELD_ACROSS_H = 2.0  # of two spaces outdoors: a front may come to one of them first
_HELD_STEPS = 12  # of the grid: so long


class StuckThermometer(NamedTuple):
    """A thermometer that stays, as it is remembered from round to round."""

    space: str
    sensor: str
    other: str  # the one that fell; empty: several did
    since_ms: int  # when it parted from the others [Unix ms]
    usual_k: float  # by how much it was warmer than they are, until then
    apart_k: float = np.nan  # by how much more it is now


class AirRows(NamedTuple):
    """What the thermometers of one space's air say on the grid, one row each."""

    space: Space
    names: Sequence[str]
    said_c: Floats  # (sensors, n); NaN where not known
    read_c: Floats  # the same, without what is only held after each one's newest reading
    # The step in which the one of a row speaks; asked for only where one may have parted.
    step_k: Callable[[int], float]


def find_stuck(
    spaces: Sequence[AirRows],
    hours: Floats,
    now_ms: int,
    known: Iterable[StuckThermometer] = (),
) -> list[StuckThermometer]:
    """Find the thermometers of a yard that stay while others fall.

    Parameters
    ----------
    spaces : sequence of AirRows
    hours : ndarray, shape (n,)
        Before now, rising to 0.
    now_ms : int
    known : iterable of StuckThermometer
        Found before: each stays so until it follows again.

    Returns
    -------
    list of StuckThermometer
        Each is held against the others of its own air. Outdoors one that is alone, and all of one
        air together, are held against the other spaces there; indoors against nothing, for no other
        air falls with their own.
    """
    before = {each.sensor: each for each in known}
    found = []
    for rows in spaces:
        for at, name in enumerate(rows.names):
            was = before.get(name)
            # It hangs elsewhere now, or a clock that has been put back since was wrong.
            if was is not None and (was.space != rows.space.id or was.since_ms > now_ms):
                was = None
            beside = _others_of(rows, at, spaces, frozenset(before))
            if beside is None:
                found += [] if was is None else [was]
                continue
            own_c, others_c = rows.read_c[at], beside.middle_read_c()
            one = (
                _newly_stuck(rows, at, beside, others_c, hours, now_ms)
                if was is None
                else None
                if follows_again(own_c, others_c, hours, was.usual_k)
                else was._replace(apart_k=_newest(own_c - others_c) - was.usual_k)
            )
            found += [] if one is None else [one]
        found += _all_stuck(
            rows, spaces, [*before, *(each.sensor for each in found)], hours, now_ms
        )
    return found


def _all_stuck(
    rows: AirRows, spaces: Sequence[AirRows], doubted: Iterable[str], hours: Floats, now_ms: int
) -> list[StuckThermometer]:
    """All thermometers of an outdoor air, if each stays while the other spaces there fall.

    Beside each other they agree. One of them that falls with the others clears all.
    """
    known = frozenset(doubted)
    sound = [at for at, name in enumerate(rows.names) if name not in known]
    beside = _others_across(rows, spaces, known)
    if len(sound) < 2 or beside is None:
        return []
    others_c = beside.middle_read_c()
    found = [
        _newly_stuck(rows, at, beside, others_c, hours, now_ms)
        for at in sound
        if np.isfinite(rows.read_c[at, -_HELD_STEPS:]).any()  # a silent one clears nobody
    ]
    parted = [one for one in found if one is not None]
    return parted if len(parted) == len(found) else []


class _Others(NamedTuple):
    """The thermometers that one is held against."""

    rows: Sequence[tuple[AirRows, int]]
    across: bool  # they hang in other spaces

    @property
    def names(self) -> list[str]:
        """Their names."""
        return [each.names[row] for each, row in self.rows]

    @property
    def step_k(self) -> float:
        """The coarsest step in which one of them speaks."""
        return max(each.step_k(row) for each, row in self.rows)

    def middle_said_c(self) -> Floats:
        """What they say together; (n,)."""
        return _middle_of(np.array([each.said_c[row] for each, row in self.rows]))

    def middle_read_c(self) -> Floats:
        """The same, without what is only held after each one's newest reading."""
        return _middle_of(np.array([each.read_c[row] for each, row in self.rows]))


def _others_of(
    rows: AirRows, at: int, spaces: Sequence[AirRows], doubted: frozenset[str]
) -> _Others | None:
    """Those that are not in doubt themselves: of the same air, else outdoors of the other spaces.

    None: there are none.
    """
    own = [(rows, n) for n, name in enumerate(rows.names) if n != at and name not in doubted]
    return _Others(own, across=False) if own else _others_across(rows, spaces, doubted)


def _others_across(
    rows: AirRows, spaces: Sequence[AirRows], doubted: frozenset[str]
) -> _Others | None:
    """Those of the other spaces outdoors, for one that is outdoors itself; None: there are none."""
    if rows.space.kind not in OUTDOORS:
        return None
    picked = [
        (each, n)
        for each in spaces
        if each is not rows and each.space.kind in OUTDOORS
        for n, name in enumerate(each.names)
        if name not in doubted
    ]
    return _Others(picked, across=True) if picked else None


def _middle_of(table_c: Floats) -> Floats:
    """The middle of some rows, of two the warmer: what fell in one corner alone is no fall."""
    filled = np.sort(fill_gaps(table_c), axis=0)  # NaN last
    known = np.isfinite(filled).sum(axis=0)
    middle: Floats = np.take_along_axis(filled, (known // 2)[None, :] * (known > 0), axis=0)[0]
    return middle


def _newly_stuck(
    rows: AirRows, at: int, beside: _Others, others_c: Floats, hours: Floats, now_ms: int
) -> StuckThermometer | None:
    held_h = _HELD_ACROSS_H if beside.across else _HELD_H
    parting = find_parting(rows.read_c[at], others_c, hours, LEAST_K, held_h)
    if parting is None:
        return None
    if parting.apart_k < LEAST_K + (rows.step_k(at) + beside.step_k) / 2.0:
        return None
    # A heater keeps the middle of a space where it is while a corner falls.
    if rows.space.kind in WARM and parting.usual_k >= 0.0:
        return None
    return StuckThermometer(
        space=rows.space.id,
        sensor=rows.names[at],
        other=beside.names[0] if len(beside.rows) == 1 else "",
        since_ms=round(now_ms + parting.since_h * _MS_PER_H),
        usual_k=parting.usual_k,
        apart_k=parting.apart_k,
    )


def replace_stuck(
    spaces: Sequence[AirRows], stuck: Sequence[StuckThermometer], hours: Floats, now_ms: int
) -> dict[str, Floats]:
    """The air at each thermometer: gaps filled, and those that stay put where the others say.

    Parameters
    ----------
    spaces : sequence of AirRows
    stuck : sequence of StuckThermometer
    hours, now_ms
        As for `find_stuck`.

    Returns
    -------
    dict of ndarray, each of shape (sensors, n)
        By space. From its parting on the place of one that stays is as much warmer than the others
        as it was before, or as cold as it says itself, whichever is colder.
    """
    table = {rows.space.id: fill_gaps(rows.said_c) for rows in spaces}
    doubted = frozenset(each.sensor for each in stuck)
    for one in stuck:
        rows = next(each for each in spaces if each.space.id == one.space)
        at = rows.names.index(one.sensor)
        beside = _others_of(rows, at, spaces, doubted)
        if beside is None:
            continue
        since = hours >= (one.since_ms - now_ms) / _MS_PER_H
        own_c = table[one.space].copy()
        own_c[at, since] = np.fmin(own_c[at], beside.middle_said_c() + one.usual_k)[since]
        table[one.space] = own_c
    return table


def find_unfollowed(spaces: Sequence[AirRows], stuck: Sequence[StuckThermometer]) -> frozenset[str]:
    """Find the spaces of which only thermometers that stay are heard, and no other tells more.

    Parameters
    ----------
    spaces : sequence of AirRows
    stuck : sequence of StuckThermometer
        As `find_stuck` found them.

    Returns
    -------
    frozenset of str
        Their air is at most as warm as what is read; how much colder it is nobody knows.
    """
    doubted = frozenset(each.sensor for each in stuck)
    found = set()
    for rows in spaces:
        heard = [at for at in range(len(rows.names)) if np.isfinite(rows.said_c[at, -1])]
        if not heard or any(rows.names[at] not in doubted for at in heard):
            continue
        beside = [_others_of(rows, at, spaces, doubted) for at in heard]
        if not any(one is not None and np.isfinite(one.middle_said_c()[-1]) for one in beside):
            found.add(rows.space.id)
    return frozenset(found)


def _newest(values: Floats) -> float:
    known = values[np.isfinite(values)]
    return float(known[-1]) if known.size else float("nan")
