"""The chart of one craft's nights: its air, the inside of its weakest circuit, what that stands."""

from datetime import timedelta
from math import isfinite

import numpy as np

from monitor.clock import from_ms
from monitor.craft.stored import StoredCraft
from monitor.phrases.names import judged_part_name, plain
from monitor.reports.craft_nights import HourlyCourse
from monitor.web.chart_contents import Chart, ChartLimit, ChartLine, ChartLow, is_known
from monitor.web.night_chart import NightChart, draw_chart
from monitor.wording import Wording
from monitor.yard.air_facts import AirFacts
from monitor.yard.assessment import Assessment
from monitor.yard.frost_facts import FrostFacts

BEFORE, AFTER = timedelta(days=4), timedelta(hours=18)
LEAD = timedelta(hours=3)  # before the first that is known
DEEPEST_K = 12.0  # so far below all air a limit would flatten everything else


def craft_chart(
    course: HourlyCourse,
    air: Assessment | None,
    weakest: Assessment | None,
    here: StoredCraft | None,
    words: Wording,
) -> tuple[NightChart | None, str]:
    """The chart of the last nights and the coming one, and what it does not show."""
    name = "" if weakest is None else plain(judged_part_name(weakest, here))
    lows = list(filter(None, (coming_air_low(air), coming_inside_low(weakest, name))))
    air_line = ChartLine(key="air", name="air around it", at_ms=course.at_ms, value_c=course.air_c)
    lines = [air_line]
    if weakest is not None:
        how = "by its probe" if course.is_probed else "computed"
        lines.append(
            ChartLine(
                key="inside",
                name=f"inside: {name}, {how}",
                at_ms=course.at_ms,
                value_c=course.inside_c,
            )
        )
    known = [float(v) for line in lines for v in line.value_c if isfinite(v)]
    known += [low.cold_c for low in lows]
    if not known:
        return None, ""
    limits, note = _limit_of(weakest, name, min(known), words)
    until = max([words.now + AFTER, *(low.at + timedelta(hours=2) for low in lows)])
    first = [int(line.at_ms[np.isfinite(line.value_c)][0]) for line in lines if is_known(line)]
    since = max(words.now - BEFORE, from_ms(min(first)) - LEAD) if first else words.now - LEAD
    if weakest is not None and not is_known(lines[-1]):
        note = f"Inside {name}: not known yet, too little of the air before was read. {note}"
    chart = Chart(
        lines=tuple(lines),
        lows=tuple(lows),
        limits=limits,
        since=since,
        until=until,
    )
    return draw_chart(chart, "The nights", words), note


def _limit_of(
    weakest: Assessment | None, name: str, coldest_c: float, words: Wording
) -> tuple[tuple[ChartLimit, ...], str]:
    if weakest is None or not isfinite(weakest.limit_c):
        return (), ""
    said = f"ice at {words.ice_point(weakest.limit_c)}"
    if weakest.limit_c < coldest_c - DEEPEST_K:
        return (), f"Its limit lies far below: {name}: {said}."
    # Of whom it is stands in the key; with the name it would run into the lows' labels on a phone.
    return (ChartLimit(name=said, value_c=weakest.limit_c),), ""


def coming_air_low(air: Assessment | None) -> ChartLow | None:
    """The coming low of a space's air; None where it is not known."""
    if air is None or air.low_at is None or not isinstance(air.facts, AirFacts):
        return None
    facts = air.facts
    band = (facts.low_band_low_c, facts.low_expected_c, facts.low_band_high_c, air.now_c)
    if not all(map(isfinite, band)):
        return None
    return ChartLow(
        key="air", name="coming low of the air", at=air.low_at, median_c=facts.low_expected_c,
        cold_c=facts.low_band_low_c, warm_c=facts.low_band_high_c, now_c=air.now_c,
    )  # fmt: skip


def coming_inside_low(weakest: Assessment | None, name: str) -> ChartLow | None:
    """The coming low inside a circuit; None where it is not known."""
    if weakest is None or weakest.low_at is None or not isinstance(weakest.facts, FrostFacts):
        return None
    facts = weakest.facts
    band = (facts.low_band_low_c, weakest.low_c, facts.low_band_high_c, weakest.now_c)
    if not all(map(isfinite, band)):
        return None
    return ChartLow(
        key="inside", name=f"coming low inside {name}", at=weakest.low_at, median_c=weakest.low_c,
        cold_c=facts.low_band_low_c, warm_c=facts.low_band_high_c, now_c=weakest.now_c,
    )  # fmt: skip
