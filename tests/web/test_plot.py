import re
from datetime import timedelta

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from monitor.clock import to_ms
from monitor.reports.air import RecordedAir
from monitor.web.plot import BOTTOM, LEFT, RIGHT, TOP, common_scale, space_plot
from monitor.wording import Units, Wording
from monitor.yard.assessment import Assessment, Hazard, Standing, Subject
from tests.reports import kettlemoss as yard_of
from tests.written import written

NOW = yard_of.KETTLEMOSS_NOW


def air(values_c):
    values = np.asarray(values_c, dtype=np.float64)
    at_ms = np.linspace(to_ms(NOW - timedelta(hours=48)), to_ms(NOW), values.size).astype(np.int64)
    nothing = np.full(values.shape, np.nan)
    return RecordedAir(
        space="s", at_ms=at_ms, coldest_c=values, warmest_c=values, dew_point_c=nothing,
        wet=np.zeros(values.shape, dtype=np.bool_), low=None, high=None,
    )  # fmt: skip


def judged(low_c=float("nan"), hours=12.0):
    return Assessment(
        subject=Subject("s"), hazard=Hazard.AIR, standing=Standing.STEADY, at=NOW, **written("b"),
        low_c=low_c, low_at=NOW + timedelta(hours=hours),
    )  # fmt: skip


def plot(values_c, low=None, unit=None):
    seen, coming = air(values_c), low or judged()
    scale = common_scale([seen], [coming], NOW)
    words = Wording(zone=yard_of.yard().zone, now=NOW, units=Units(temperature=unit))
    return space_plot("Shed", seen, coming, scale, words)


@given(st.lists(st.floats(-60, 60), min_size=2, max_size=50), st.floats(-60, 60))
def test_everything_lies_inside_the_frame(values_c, low_c):
    drawn = plot(values_c, judged(low_c))
    places = [tuple(map(float, p.split())) for p in re.split("[ML]", drawn.air)[1:]]
    assert len(places) == len(values_c)
    for x, y in [*places, (drawn.low.x, drawn.low.y), (drawn.now_x, drawn.zero_y)]:
        assert LEFT <= x <= RIGHT
        assert TOP <= y <= BOTTOM


@given(st.floats(-50, 50), st.floats(-50, 50))
def test_colder_lies_lower(one_c, other_c):
    drawn = plot([one_c, other_c])
    one_y, other_y = (float(p.split()[1]) for p in re.split("[ML]", drawn.air)[1:])
    if one_c < other_c - 1:
        assert one_y > other_y


def test_a_gap_breaks_the_line():
    nan = float("nan")
    assert plot([1.0, 2.0, nan, 3.0, 4.0]).air.count("M") == 2


def test_a_space_that_was_not_seen_has_no_line_and_says_so():
    drawn = plot([float("nan")] * 5)
    assert drawn.air == ""
    assert "no reading of its air" in drawn.description


def test_a_low_beyond_the_plot_or_not_known_is_not_drawn():
    assert plot([1.0, 2.0], judged(-5.0, hours=30)).low is None
    assert plot([1.0, 2.0]).low is None


def test_freezing_is_a_line_at_32_on_a_fahrenheit_scale():
    drawn = plot([-10.0, 10.0], unit="F")
    at = {tick.label: tick.at for tick in drawn.degrees}
    # 20 °F and 40 °F lie at −6.7 and 4.4 °C: freezing is between, three fifths of the way up.
    share = (at["20°"] - drawn.zero_y) / (at["20°"] - at["40°"])
    assert abs(share - 0.6) < 0.01
