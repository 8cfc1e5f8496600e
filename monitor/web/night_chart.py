"""Where the lines of a page's large chart run: what was read, what is coming, what it can stand.

Geometry only; `night_chart.html` draws it, once narrow for a phone and once wide, so that its
letters are never scaled. The figures go along as data for the script that zooms.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta

import numpy as np

from monitor.clock import to_ms
from monitor.phrases.names import plain
from monitor.web.chart_axes import Tick, day_ticks, degree_ticks
from monitor.web.chart_contents import (
    Chart,
    ChartLine,
    ChartLow,
    chart_as_json,
    chart_in_words,
    is_known,
)
from monitor.wording import Wording

_LEAST_SPAN_C = 8.0  # else the noise of a quiet space would fill the chart
_APART = 17.0  # between the baselines of two labels
_LETTER = 8.6  # of a label in bold 14 px: its width in a wide face, on average
_LABEL = 110.0  # room for one beside a low


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnLow:
    """Places of a coming low: its dot, its range, and the wedge that opens towards it."""

    key: str
    x: float
    y: float
    top: float
    bottom: float
    wedge: str
    course: str
    label: str
    label_x: float
    label_y: float
    anchor: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnLimit:
    """Place of a limit and of its name; no name where another stands in its way."""

    y: float
    label: str
    label_y: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """One size of a chart."""

    size: str
    width: float
    height: float
    left: float
    right: float
    top: float
    bottom: float
    now_x: float
    zero_y: float
    degrees: tuple[Tick, ...]
    midnights: tuple[float, ...]
    days: tuple[Tick, ...]
    paths: tuple[tuple[str, str], ...]  # key and SVG path data of each line
    lows: tuple[DrawnLow, ...]
    limits: tuple[DrawnLimit, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class NightChart:
    """A chart in both sizes, in words, and as data."""

    drawings: tuple[Drawing, ...]
    description: str
    key: tuple[tuple[str, str], ...]  # what each line is
    data: str  # JSON


def draw_chart(chart: Chart, title: str, words: Wording) -> NightChart:
    """Lay a chart out for a phone and for a desk, in the reader's units."""
    return NightChart(
        drawings=(
            _Frame(chart, words, "narrow", 358.0, 250.0).drawing(),
            _Frame(chart, words, "wide", 760.0, 300.0).drawing(),
        ),
        description=chart_in_words(chart, title, words),
        key=tuple((line.key, line.name) for line in chart.lines if is_known(line)),
        data=chart_as_json(chart, words),
    )


class _Frame:
    """Turns times and temperatures of one chart into places of one size."""

    def __init__(
        self, chart: Chart, words: Wording, size: str, width: float, height: float
    ) -> None:
        self._chart, self._words, self._size = chart, words, size
        self._width, self._height = width, height
        self._left, self._right = 42.0, width - 8.0
        self._top, self._bottom = 12.0, height - 26.0
        self._since_ms, self._until_ms = to_ms(chart.since), to_ms(chart.until)
        self._low_c, self._high_c = _span_c(chart)

    def drawing(self) -> Drawing:
        """Every place."""
        return Drawing(
            size=self._size, width=self._width, height=self._height,
            left=self._left, right=self._right, top=self._top, bottom=self._bottom,
            now_x=self._x(to_ms(self._words.now)),
            zero_y=self._y(0.0),
            degrees=tuple(degree_ticks(self._low_c, self._high_c, self._words, self._y)),
            midnights=tuple(self._x(to_ms(at)) for at in self._midnights()),
            days=tuple(day_ticks(self._chart.since, self._day_edges(), self._words)),
            paths=tuple((line.key, self._path(line)) for line in self._chart.lines),
            lows=tuple(self._low(n, low) for n, low in enumerate(self._chart.lows)),
            limits=tuple(self._limits()),
        )  # fmt: skip

    def _x(self, at_ms: float) -> float:
        share = (at_ms - self._since_ms) / (self._until_ms - self._since_ms)
        return round(self._left + min(max(share, 0.0), 1.0) * (self._right - self._left), 1)

    def _y(self, value_c: float) -> float:
        share = (value_c - self._low_c) / (self._high_c - self._low_c)
        return round(self._bottom - min(max(share, 0.0), 1.0) * (self._bottom - self._top), 1)

    def _path(self, line: ChartLine) -> str:
        parts, is_down = [], False
        for at_ms, value in zip(line.at_ms.tolist(), line.value_c.tolist(), strict=True):
            if math.isnan(value) or not self._since_ms <= at_ms <= self._until_ms:
                is_down = False
                continue
            parts.append(f"{'L' if is_down else 'M'}{self._x(at_ms)} {self._y(value)}")
            is_down = True
        return "".join(parts)

    def _low(self, n: int, low: ChartLow) -> DrawnLow:
        x, y = self._x(to_ms(low.at)), self._y(low.median_c)
        top, bottom = self._y(low.warm_c), self._y(low.cold_c)
        now_x, now_y = self._x(to_ms(self._words.now)), self._y(low.now_c)
        left = n > 0 or x > self._right - _LABEL
        return DrawnLow(
            key=low.key, x=x, y=y, top=top, bottom=bottom,
            wedge=f"M{now_x} {now_y}L{x} {top}V{bottom}Z" if x > now_x else "",
            course=f"M{now_x} {now_y}L{x} {y}" if x > now_x else "",
            label=f"{low.key} {self._words.temperature(low.median_c)}",
            label_x=x - 8.0 if left else x + 8.0,
            label_y=y + 4.0 + self._aside(n),
            anchor="end" if left else "start",
        )  # fmt: skip

    def _aside(self, n: int) -> float:
        """How far a low's label is moved so that those of two lows that are as cold stay apart."""
        ys = [self._y(low.median_c) for low in self._chart.lows]
        near = [abs(y - ys[n]) for m, y in enumerate(ys) if m != n]
        if not near or min(near) >= _APART:
            return 0.0
        lower = ys[n] > min(ys) or (ys[n] == min(ys) == max(ys) and n > 0)
        return (_APART - min(near)) / 2 * (1.0 if lower else -1.0)

    def _limits(self) -> Iterable[DrawnLimit]:
        taken: list[float] = []
        for limit in sorted(self._chart.limits, key=lambda one: -one.value_c):
            y = self._y(limit.value_c)
            label_y = y - 4.0 if y - self._top > _APART else y + _APART - 2.0
            is_free = all(abs(label_y - other) >= _APART for other in taken)
            taken += [label_y] if is_free else []
            label = self._fitted(limit.name) if is_free else ""
            yield DrawnLimit(y=y, label=label, label_y=label_y)

    def _fitted(self, label: str) -> str:
        """A limit's label, its name cut short where it would run out of the drawing."""
        most = int((self._right - self._left) / _LETTER)
        name, colon, limit = label.rpartition(": ")
        if len(label) <= most or not colon:
            return label
        return f"{plain(name, limit=max(most - len(limit) - 2, 2))}: {limit}"

    def _midnights(self) -> Sequence[datetime]:
        zone = self._words.zone
        day = self._chart.since.astimezone(zone).date()
        last = self._chart.until.astimezone(zone).date()
        days = [day + timedelta(days=n) for n in range((last - day).days + 1)]
        return [
            at
            for at in (datetime.combine(each, time(), zone) for each in days)
            if self._since_ms < to_ms(at) < self._until_ms
        ]

    def _day_edges(self) -> Sequence[float]:
        return [self._left, *(self._x(to_ms(at)) for at in self._midnights()), self._right]


def _span_c(chart: Chart) -> tuple[float, float]:
    """Lowest and highest temperature shown; a limit far below all air would flatten the rest."""
    values = [0.0]
    for line in chart.lines:
        within = (line.at_ms >= to_ms(chart.since)) & (line.at_ms <= to_ms(chart.until))
        seen = line.value_c[within & np.isfinite(line.value_c)]
        values += [float(seen.min()), float(seen.max())] if seen.size else []
    for low in chart.lows:
        values += [low.cold_c, low.median_c, low.warm_c]
    values += [limit.value_c for limit in chart.limits]
    low_c, high_c = min(values) - 1.0, max(values) + 1.0
    short = max(0.0, _LEAST_SPAN_C - (high_c - low_c)) / 2
    return low_c - short, high_c + short
