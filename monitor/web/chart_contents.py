"""What a page's large chart shows: its lines, coming lows and limits; in words, and as data."""

import json
import math
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from monitor.clock import to_ms
from monitor.web.chart_axes import scale_of_degrees
from monitor.wording import Wording


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartLine:
    """What was measured or computed; NaN where nothing is known."""

    key: str  # how it is drawn: "air", "dew", "inside"
    name: str
    at_ms: NDArray[np.int64]
    value_c: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartLow:
    """A coming low: its median, and the range in which it lies eight times in ten."""

    key: str  # of the line that it goes on
    name: str
    at: datetime
    median_c: float
    cold_c: float
    warm_c: float
    now_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartLimit:
    """A temperature that something can stand."""

    name: str
    value_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Chart:
    """What a chart shows."""

    lines: tuple[ChartLine, ...]
    lows: tuple[ChartLow, ...]
    limits: tuple[ChartLimit, ...]
    since: datetime
    until: datetime


def is_known(line: ChartLine) -> bool:
    """Whether a line says anything at all."""
    return bool(np.isfinite(line.value_c).any())


def chart_in_words(chart: Chart, title: str, words: Wording) -> str:
    """What a chart shows, for who does not see it."""
    said = []
    for line in chart.lines:
        seen = line.value_c[np.isfinite(line.value_c)]
        if seen.size:
            low, high = (words.temperature(float(v)) for v in (seen.min(), seen.max()))
            said.append(f"{line.name} from {low} to {high}")
        else:
            said.append(f"{line.name}: nothing known")
    said += [
        f"{low.name} about {words.clock(low.at)} {words.temperature(low.median_c)}, most likely"
        f" {words.temperature(low.cold_c)} to {words.temperature(low.warm_c)}"
        for low in chart.lows
    ]
    said += [limit.name for limit in chart.limits]
    return f"{title}: {'; '.join(said)}."


def chart_as_json(chart: Chart, words: Wording) -> str:
    """The chart's figures in the reader's units; times as seconds of Unix time."""
    slope, offset = scale_of_degrees(words)

    def degrees(value_c: float) -> float | None:
        return round(value_c * slope + offset, 2) if math.isfinite(value_c) else None

    return json.dumps(
        {
            "unit": f"°{words.temperature_unit}",
            "zone": str(words.zone),
            "now": to_ms(words.now) // 1000,
            "until": to_ms(chart.until) // 1000,
            "lines": [
                {
                    "key": line.key,
                    "name": line.name,
                    "at": (line.at_ms // 1000).tolist(),
                    "value": [degrees(v) for v in line.value_c.tolist()],
                }
                for line in chart.lines
            ],
            "lows": [
                {
                    "key": low.key,
                    "at": to_ms(low.at) // 1000,
                    "values": [degrees(v) for v in (low.cold_c, low.median_c, low.warm_c)],
                }
                for low in chart.lows
            ],
            "limits": [
                {"name": each.name, "value": degrees(each.value_c)} for each in chart.limits
            ],
        },
        separators=(",", ":"),
    ).replace("<", "\\u003c")
