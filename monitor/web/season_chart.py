"""Where the bars of a season run: a day's coldest and mildest hour, and a gap where none is known.

Geometry only; `season_chart.html` draws it, once narrow and once wide.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from monitor.web.chart_axes import Tick, degree_ticks, month_ticks
from monitor.wording import Wording

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
        degrees=tuple(degree_ticks(low_c, high_c, words, y_of)),
        months=tuple(month_ticks(first, count, x_of)),
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
