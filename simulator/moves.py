"""Craft that are moved in the middle of a winter: brought in cold, or taken out of the heat.

A craft that is moved is simulated twice. One stays where it first stood and goes on trading heat
and moisture there, so that the rest of the yard is exactly what it would be without the move. Its
double goes along: it feels the air, the sky and the sun of the space in which it stands and gives
nothing back. A craft is small beside a shop, and a yard whose other truths do not hang on who was
moved can be compared with itself. What happened to the craft is what happened to its double.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
from numpy.typing import NDArray

from simulator.weather import Weather

Array = NDArray[np.float64]
Records = dict[str, Any]

_SAMPLE_S = 300.0
_SETTLED = timedelta(days=4)  # after the start, and before the end
_HOURS = (9.0, 15.0)  # of the day, at which people move craft
_COLD_C = -3.0  # outdoors, when a craft that is brought in counts as cold
_VISIT_H = 2.0


@dataclass(frozen=True, slots=True)
class Stay:
    """From a time on [Unix s] the craft stands in this space."""

    space: str
    since_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """Where one craft stands after the space in which it begins; stays in order of time."""

    craft: str
    stays: tuple[Stay, ...]

    def __post_init__(self) -> None:
        times = [stay.since_s for stay in self.stays]
        if not times or sorted(times) != times:
            raise ValueError(f"move of {self.craft}: {len(times)} stays, not in order of time")


def one_move(
    rng: np.random.Generator,
    records: Sequence[Records],
    weather: Weather,
    start: datetime,
    end: datetime,
) -> tuple[Move, ...]:
    """Make up at most one move of a winter.

    Parameters
    ----------
    rng : Generator
        A stream of its own: what else is drawn for the winter does not change.
    records : sequence of dict
        The shop's records of its craft. Those with a battery aboard stay: their batteries are
        read by sensors that do not move.
    weather : Weather
    start, end : aware datetime

    Returns
    -------
    tuple of Move
        A heat-only craft taken out of the shop, or a cold one brought into it for two hours or
        for good; empty if the winter has no such craft or no such day.
    """
    benched = [one for one in records if one["battery"]["place"] == "bench"]
    inside = [one for one in benched if one["space"] == "shop" and _needs_heat(one)]
    outside = [one for one in benched if one["space"] != "shop"]
    outward = bool(inside) and (not outside or rng.random() < 0.4)
    chosen = inside if outward else outside
    times = _times(weather, start, end, cold=not outward)
    if not chosen or not times.size:
        return ()
    craft = chosen[int(rng.integers(len(chosen)))]
    at_s = float(rng.choice(times))
    if outward:
        to = str(rng.choice(["long-shed", "far-shed", "row"]))
        return (Move(craft=craft["craft"], stays=(Stay(to, at_s),)),)
    stays = [Stay("shop", at_s)]
    if rng.random() < 0.5:
        stays.append(Stay(craft["space"], at_s + _VISIT_H * 3600.0))
    return (Move(craft=craft["craft"], stays=tuple(stays)),)


def _needs_heat(record: Records) -> bool:
    return any(circuit["state"] == "heat-only" for circuit in record["circuits"])


def _times(weather: Weather, start: datetime, end: datetime, *, cold: bool) -> Array:
    """Samples at which people may move a craft."""
    begin_s = (start + _SETTLED).timestamp()
    at_s = np.arange(begin_s, (end - _SETTLED).timestamp(), _SAMPLE_S)
    hour = (start.hour + start.minute / 60.0 + (at_s - start.timestamp()) / 3600.0) % 24.0
    open_ = (_HOURS[0] <= hour) & (hour < _HOURS[1])
    if cold:
        open_ &= np.interp(at_s, weather.at_s, weather.air_c) < _COLD_C
    return at_s[open_]


def on_record(moves: Sequence[Move]) -> list[Records]:
    """What the shop writes down of its moves: every stay with its begin."""
    return [
        {
            "craft": move.craft,
            "space": stay.space,
            "since": datetime.fromtimestamp(stay.since_s, UTC).strftime("%Y-%m-%dT%H:%M:%SZ"),
        }
        for move in moves
        for stay in move.stays
    ]
