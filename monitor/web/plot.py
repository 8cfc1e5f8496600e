"""Where the lines of a space's plot run: the last two days of its air, and the low to come.

Geometry only; the template draws it. All plots of a page share one scale, so that they can be
compared at a glance.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta, tzinfo

import numpy as np
from numpy.typing import NDArray

from monitor.clock import to_ms
from monitor.phrases.figures import figures_of
from monitor.reports.air import RecordedAir
from monitor.wording import Wording
from monitor.yard.assessment import Assessment

BEFORE = timedelta(hours=48)
AFTER = timedelta(hours=18)

WIDTH, HEIGHT = 380.0, 150.0
LEFT, RIGHT, TOP, BOTTOM = 40.0, 374.0, 8.0, 128.0
_LEAST_SPAN_C = 10.0  # else the noise of a quiet space would fill the plot
_MOST_TICKS = 5
_LABEL_WIDTH = 30.0
_STEPS = (1, 2, 5, 10, 20, 50)


@dataclass(frozen=True, slots=True)
class Tick:
    """One labelled place on an axis."""

    at: float
    label: str


@dataclass(frozen=True, slots=True)
class Low:
    """The coming low: its place, the ends of its band, and the label's anchor."""

    x: float
    y: float
    band_top: float
    band_bottom: float
    label: str
    anchor: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """Turns times and temperatures into places; one for all plots of a page."""

    since_ms: int
    until_ms: int
    low_c: float
    high_c: float

    def x_of(self, at_ms: float) -> float:
        """Place of a time."""
        share = (at_ms - self.since_ms) / (self.until_ms - self.since_ms)
        return LEFT + share * (RIGHT - LEFT)

    def y_of(self, value_c: float) -> float:
        """Place of a temperature, kept inside the frame."""
        share = (value_c - self.low_c) / (self.high_c - self.low_c)
        return BOTTOM - min(max(share, 0.0), 1.0) * (BOTTOM - TOP)


@dataclass(frozen=True, slots=True, kw_only=True)
class SpacePlot:
    """All that the template needs to draw one space's plot."""

    air: str  # SVG path data; empty: nothing seen
    dew: str
    zero_y: float
    now_x: float
    low: Low | None
    days: tuple[Tick, ...]
    degrees: tuple[Tick, ...]
    description: str


def common_scale(airs: Iterable[RecordedAir], lows: Iterable[Assessment], now: datetime) -> Scale:
    """A scale that holds every space's air and coming low, and 0 °C."""
    values_c = [0.0]
    for air in airs:
        for line in (air.coldest_c, air.dew_point_c):
            seen = line[~np.isnan(line)]
            values_c += [float(seen.min()), float(seen.max())] if seen.size else []
    for low in lows:
        values_c += [v for v in (low.low_c, *_band_of(low)) if math.isfinite(v)]
    low_c, high_c = min(values_c) - 1.0, max(values_c) + 1.0
    short = max(0.0, _LEAST_SPAN_C - (high_c - low_c)) / 2
    return Scale(
        since_ms=to_ms(now - BEFORE),
        until_ms=to_ms(now + AFTER),
        low_c=low_c - short,
        high_c=high_c + short,
    )


def space_plot(
    name: str, air: RecordedAir, judged: Assessment, scale: Scale, wording: Wording
) -> SpacePlot:
    """Lay out one space's plot."""
    seen = air.coldest_c[air.seen]
    told = (
        f"air from {wording.temperature(float(seen.min()))} to"
        f" {wording.temperature(float(seen.max()))}"
        if seen.size
        else "no reading of its air"
    )
    low = _low_mark(judged, scale, wording)
    coming = (
        f"; coming low {wording.temperature(judged.low_c)} about {wording.clock(judged.low_at)}"
        if low
        else ""
    )
    return SpacePlot(
        air=_path_of(air.at_ms, air.coldest_c, scale),
        dew=_path_of(air.at_ms, air.dew_point_c, scale),
        zero_y=round(scale.y_of(0.0), 1),
        now_x=round(scale.x_of(to_ms(wording.now)), 1),
        low=low,
        days=tuple(_day_ticks(scale, wording)),
        degrees=tuple(_degree_ticks(scale, wording)),
        description=f"{name}, last 48 hours: {told}{coming}.",
    )


def _low_mark(judged: Assessment, scale: Scale, wording: Wording) -> Low | None:
    if judged.low_at is None or not math.isfinite(judged.low_c):
        return None
    at_ms = to_ms(judged.low_at)
    if not scale.since_ms <= at_ms <= scale.until_ms:
        return None
    x, y = scale.x_of(at_ms), scale.y_of(judged.low_c)
    bottom, top = (scale.y_of(v) if math.isfinite(v) else y for v in _band_of(judged))
    return Low(
        x=round(x, 1),
        y=round(y, 1),
        band_top=round(top, 1),
        band_bottom=round(bottom, 1),
        label=wording.temperature(judged.low_c),
        anchor="end" if x > RIGHT - 60 else "start",
    )


def _band_of(judged: Assessment) -> tuple[float, float]:
    figures = figures_of(judged)
    return (
        figures.get("low_band_low_c", math.nan),
        figures.get("low_band_high_c", math.nan),
    )


def _path_of(at_ms: NDArray[np.int64], value_c: NDArray[np.float64], scale: Scale) -> str:
    parts, pen_down = [], False
    for t, v in zip(at_ms.tolist(), value_c.tolist(), strict=True):
        if math.isnan(v):
            pen_down = False
            continue
        parts.append(f"{'L' if pen_down else 'M'}{scale.x_of(t):.1f} {scale.y_of(v):.1f}")
        pen_down = True
    return "".join(parts)


def _day_ticks(scale: Scale, wording: Wording) -> Iterable[Tick]:
    now_x = scale.x_of(to_ms(wording.now))
    for midnight in _midnights_of(scale, wording.zone):
        x = scale.x_of(to_ms(midnight))
        crowded = abs(x - now_x) < _LABEL_WIDTH or WIDTH - x < _LABEL_WIDTH / 2
        yield Tick(round(x, 1), "" if crowded else f"{midnight:%a}")


def _midnights_of(scale: Scale, zone: tzinfo) -> Sequence[datetime]:
    first = datetime.fromtimestamp(scale.since_ms / 1000, zone).date()
    days = (first + timedelta(days=n) for n in range(5))
    midnights = [datetime.combine(day, time(), zone) for day in days]
    return [at for at in midnights if scale.since_ms < to_ms(at) < scale.until_ms]


def _degree_ticks(scale: Scale, wording: Wording) -> Iterable[Tick]:
    fahrenheit = wording.temperature_unit == "F"
    slope, offset = (1.8, 32.0) if fahrenheit else (1.0, 0.0)
    low, high = scale.low_c * slope + offset, scale.high_c * slope + offset
    step = next((s for s in _STEPS if (high - low) / s <= _MOST_TICKS), _STEPS[-1])
    for n in range(math.ceil(low / step), math.floor(high / step) + 1):
        value = n * step
        yield Tick(round(scale.y_of((value - offset) / slope), 1), f"{value}°".replace("-", "−"))
