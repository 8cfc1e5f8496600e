"""The chart of one space's last days and coming night, and what the circuits in it can stand."""

from collections import defaultdict
from collections.abc import Sequence
from datetime import timedelta
from math import isfinite

import numpy as np

from monitor.clock import from_ms
from monitor.phrases.names import Names
from monitor.phrases.space_tonight import deeper_than_drawn, limit_of_several
from monitor.reports.air import RecordedAir
from monitor.web.chart_contents import Chart, ChartLimit, ChartLine, is_known
from monitor.web.night_chart import NightChart, draw_chart
from monitor.web.pages.craft_chart import AFTER, DEEPEST_K, LEAD, coming_air_low
from monitor.wording import Wording
from monitor.yard.assessment import Assessment

BEFORE = timedelta(days=3)
_LIMITS = 4  # lines of a chart; more would be a grid
_ALIKE_C = 0.5


def space_chart(
    recorded: RecordedAir,
    air: Assessment | None,
    frost: Sequence[Assessment],
    names: Names,
    words: Wording,
) -> tuple[NightChart | None, str]:
    """The chart, and what lies too deep for it."""
    low = coming_air_low(air)
    lines = (
        ChartLine(key="air", name="air", at_ms=recorded.at_ms, value_c=recorded.coldest_c),
        ChartLine(key="dew", name="dew point", at_ms=recorded.at_ms, value_c=recorded.dew_point_c),
    )
    first = [int(line.at_ms[np.isfinite(line.value_c)][0]) for line in lines if is_known(line)]
    if not first and low is None:
        return None, ""
    since = from_ms(min(first)) - LEAD if first else words.now - LEAD
    air_c = recorded.coldest_c[recorded.seen]
    deepest = min([*air_c.tolist(), *([low.cold_c] if low else [])], default=0.0) - DEEPEST_K
    limits, left_out = _limits_of(frost, deepest, names, words)
    chart = Chart(
        lines=lines,
        lows=() if low is None else (low,),
        limits=limits,
        since=max(since, words.now - BEFORE),
        until=max(words.now + AFTER, low.at + timedelta(hours=2)) if low else words.now + AFTER,
    )
    return draw_chart(chart, names.space(recorded.space), words), left_out


def _limits_of(
    frost: Sequence[Assessment], deepest_c: float, names: Names, words: Wording
) -> tuple[tuple[ChartLimit, ...], str]:
    """Limits of the circuits that stand there, alike ones together, and how many lie too deep."""
    groups: dict[float, list[Assessment]] = defaultdict(list)
    for each in frost:
        if isfinite(each.limit_c):
            groups[round(each.limit_c / _ALIKE_C) * _ALIKE_C].append(each)
    shown = [c for c in sorted(groups, reverse=True) if c >= deepest_c][:_LIMITS]
    deep = {each.subject.craft for c in groups if c not in shown for each in groups[c]}
    return tuple(
        ChartLimit(
            name=limit_of_several(groups[c], max(a.limit_c for a in groups[c]), names, words),
            value_c=max(a.limit_c for a in groups[c]),
        )
        for c in shown
    ), deeper_than_drawn(len(deep))
