"""The labelled places on a chart's axes: degrees, days and months as the reader has them."""

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import pairwise

from monitor.wording import Wording

MOST_STEPS = 6  # between the labels of an axis
_DAY_WIDTH = 44.0  # that the name of a day takes
_STEPS = (1, 2, 5, 10, 20, 50)


@dataclass(frozen=True, slots=True)
class Tick:
    """One labelled place on an axis."""

    at: float
    label: str


def scale_of_degrees(words: Wording) -> tuple[float, float]:
    """Slope and offset from °C to the reader's degrees."""
    return (1.8, 32.0) if words.temperature_unit == "F" else (1.0, 0.0)


def degree_ticks(
    low_c: float, high_c: float, words: Wording, y_of: Callable[[float], float]
) -> Iterable[Tick]:
    """Label whole degrees of the reader's, in the least round step that is not too many.

    ``y_of`` tells the place of a temperature [°C].
    """
    slope, offset = scale_of_degrees(words)
    low, high = low_c * slope + offset, high_c * slope + offset
    step = next((s for s in _STEPS if (high - low) / s <= MOST_STEPS), _STEPS[-1])
    for n in range(math.ceil(low / step), math.floor(high / step) + 1):
        yield Tick(y_of((n * step - offset) / slope), f"{n * step}°".replace("-", "−"))


def day_ticks(since: datetime, edges: Sequence[float], words: Wording) -> Iterable[Tick]:
    """Write each day's name in its middle, where there is room for it.

    Parameters
    ----------
    since : datetime
        In the first day.
    edges : sequence of float
        Places of the axis' begin, of each midnight, and of its end.
    words : Wording
    """
    begin = since.astimezone(words.zone)
    for n, (left, right) in enumerate(pairwise(edges)):
        if right - left >= _DAY_WIDTH:
            yield Tick(round((left + right) / 2, 1), words.tick_label(begin + timedelta(days=n)))


def month_ticks(first: date, count: int, x_of: Callable[[date], float]) -> Iterable[Tick]:
    """Write the first day, and each month's first, where there is room."""
    last_x = -math.inf
    for n in range(1, count):
        day = first + timedelta(days=n)
        if n != 1 and day.day != 1:
            continue
        x = x_of(day)
        if x - last_x >= _DAY_WIDTH:
            last_x = x
            yield Tick(x, f"{day.day} {day:%b}")
