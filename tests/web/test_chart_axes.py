import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.web.chart_axes import MOST_STEPS, degree_ticks
from monitor.wording import Units, Wording

lows_c = st.floats(-60.0, 40.0)
spans_k = st.floats(8.0, 100.0)
CELSIUS, FAHRENHEIT = Wording(units=Units()), Wording(units=Units(temperature="F"))


def ticks_in_c(low_c, span_k, words):
    """Each label's number beside its place, where a place is the temperature itself [°C]."""
    found = degree_ticks(low_c, low_c + span_k, words, lambda value_c: value_c)
    return [(int(one.label.replace("−", "-").rstrip("°")), one.at) for one in found]


@given(lows_c, spans_k)
def test_a_label_in_celsius_stands_at_its_own_temperature(low_c, span_k):
    assert all(number == at_c for number, at_c in ticks_in_c(low_c, span_k, CELSIUS))


@given(lows_c, spans_k, st.sampled_from([CELSIUS, FAHRENHEIT]))
def test_labels_lie_on_the_axis_and_there_is_one_but_never_a_crowd(low_c, span_k, words):
    found = ticks_in_c(low_c, span_k, words)
    assert 1 <= len(found) <= MOST_STEPS + 1
    assert all(low_c - 1e-9 <= at_c <= low_c + span_k + 1e-9 for _, at_c in found)


@given(lows_c, spans_k)
def test_a_label_in_fahrenheit_stands_where_that_temperature_is(low_c, span_k):
    # NIST SP 811 (2008), appendix B.8: t/°C = (t/°F - 32) / 1.8.
    for number, at_c in ticks_in_c(low_c, span_k, FAHRENHEIT):
        assert at_c == pytest.approx((number - 32) / 1.8)
