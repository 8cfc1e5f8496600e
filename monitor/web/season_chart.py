"""Where the bars of a season run: a day's coldest and mildest hour, and a gap where none is known.

Geometry only; `season_chart.html` draws it, once narrow and once wide.
"""

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from monitor.web.plot import Tick
from monitor.wording import Wording

_STEPS = (2, 5, 10, 20, 50)
_MOST_TICKS = 6
_LEAST_SPAN_C = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class DayOfAir:
    """One day of a space's air."""

    day: date
    low_c: float
    high_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DayBar:
    """Place of one day."""

    x: float
    top: float
    bottom: float
    is_frost: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonDrawing:
    """One size of the chart."""

    size: str
    width: float
    height: float
    left: float
    right: float
    bottom: float
    zero_y: float
    bar_width: float
    degrees: tuple[Tick, ...]
    months: tuple[Tick, ...]
    bars: tuple[DayBar, ...]


def draw_season(days: Sequence[DayOfAir], today: date, words: Wording) -> tuple[SeasonDrawing, ...]:
    """Lay a season out for a phone and a desk; empty where no day is known."""
    if not days:
        return ()
    return (
        _drawing(days, today, words, "narrow", 358.0, 200.0),
        _drawing(days, today, words, "wide", 760.0, 220.0),
    )


def _drawing(
    days: Sequence[DayOfAir], today: date, words: Wording, size: str, width: float, height: float
) -> SeasonDrawing:
    left, right, top, bottom = 42.0, width - 8.0, 10.0, height - 24.0
    first = days[0].day - timedelta(days=1)
    count = max((today - first).days + 1, 14)
    step = (right - left) / count
    low_c = min(0.0, *(one.low_c for one in days)) - 1.0
    high_c = max(low_c + _LEAST_SPAN_C, *(one.high_c for one in days)) + 1.0

    def y_of(value_c: float) -> float:
        return round(bottom - (value_c - low_c) / (high_c - low_c) * (bottom - top), 1)

    def x_of(day: date) -> float:
        return round(left + ((day - first).days + 0.5) * step, 1)

    return SeasonDrawing(
        size=size, width=width, height=height, left=left, right=right, bottom=bottom,
        zero_y=y_of(0.0),
        bar_width=round(max(1.0, min(step * 0.7, 8.0)), 1),
        degrees=tuple(_degrees(low_c, high_c, words, y_of)),
        months=tuple(_months(first, count, x_of)),
        bars=tuple(
            DayBar(
                x=x_of(one.day),
                top=y_of(one.high_c),
                bottom=max(y_of(one.low_c), y_of(one.high_c) + 1.5),
                is_frost=one.low_c < 0.0,
            )
            for one in days
        ),
    )  # fmt: skip


def _degrees(
    low_c: float, high_c: float, words: Wording, y_of: Callable[[float], float]
) -> Iterable[Tick]:
    slope, offset = (1.8, 32.0) if words.temperature_unit == "F" else (1.0, 0.0)
    low, high = low_c * slope + offset, high_c * slope + offset
    step = next((s for s in _STEPS if (high - low) / s <= _MOST_TICKS), _STEPS[-1])
    for n in range(math.ceil(low / step), math.floor(high / step) + 1):
        yield Tick(y_of((n * step - offset) / slope), f"{n * step}°".replace("-", "−"))


def _months(first: date, count: int, x_of: Callable[[date], float]) -> Iterable[Tick]:
    """The first day, and each month's first, where there is room."""
    last_x = -math.inf
    for n in range(1, count):
        day = first + timedelta(days=n)
        if n != 1 and day.day != 1:
            continue
        x = x_of(day)
        if x - last_x >= 44.0:
            last_x = x
            yield Tick(x, f"{day.day} {day:%b}")
