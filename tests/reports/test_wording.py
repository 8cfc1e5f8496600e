from datetime import UTC, datetime, timedelta
from math import inf, nan

import pytest

from monitor.reports.wording import Wording, hours, typeset
from monitor.yard.assessment import Assessment, Hazard, Standing, Subject
from tests.reports import kettlemoss as yard_of

NOW = yard_of.AT  # Saturday 14 November, 16:00 CST
WORDS = Wording.of(yard_of.yard(), NOW)


def plain(text):
    return text.replace("\N{NO-BREAK SPACE}", " ")


@pytest.mark.parametrize(
    ("after_h", "says"),
    [
        (2.25, "18:15"),
        (15, "07:00"),  # the coming night needs no day
        (17.9, "09:54"),
        (24, "Sun 16:00"),  # the same hour again does
        (-3, "13:00"),
        (-17, "Fri 23:00"),
        (24 * 7, "21 Nov 16:00"),
    ],
)
def test_a_time_names_its_day_only_where_it_must(after_h, says):
    assert WORDS.clock(NOW + timedelta(hours=after_h)) == says


def test_times_are_the_yards_whatever_zone_they_came_in():
    assert WORDS.clock(datetime(2026, 11, 15, 0, 15, tzinfo=UTC)) == "18:15"
    assert WORDS.day(datetime(2026, 11, 15, 0, 15, tzinfo=UTC)) == "Saturday 14 November"
    assert WORDS.clock(None) == ""


def margin(value, hazard=Hazard.FROST, words=WORDS):
    judged = Assessment(
        subject=Subject("s"), hazard=hazard, standing=Standing.HOLDING, at=NOW, basis="b",
        margin_k=value,
    )  # fmt: skip
    return plain(words.margin(judged))


@pytest.mark.parametrize(
    ("value", "hazard", "says"),
    [
        (24.0, Hazard.FROST, "24.0 °C to spare"),
        (-12.7, Hazard.FROST, "12.7 °C short"),
        (inf, Hazard.FROST, "seen dry, nothing to freeze"),
        (nan, Hazard.FROST, "margin not known"),
        (3.0, Hazard.DAMP, "3.0 °C above dew point"),
        (-2.0, Hazard.DAMP, "2.0 °C below dew point"),
    ],
)
def test_a_margin_needs_no_sign(value, hazard, says):
    assert margin(value, hazard) == says


def test_a_difference_in_fahrenheit_is_scaled_but_not_shifted():
    # 10 K are 18 °F of difference; as a temperature 10 °C would be 50 °F.
    assert margin(10.0, words=Wording.of(yard_of.yard(), NOW, "F")) == "18.0 °F to spare"


@pytest.mark.parametrize(
    ("raw", "set_"),
    [
        ("down to -7.2 °C now", "down to −7.2 °C now"),
        ("2026-11-14 and two-stroke stay", "2026-11-14 and two-stroke stay"),
        ("run 14 fl oz through", "run 14 fl oz through"),
        ("11.9 V rested", "11.9 V rested"),
    ],
)
def test_numbers_get_a_true_minus_and_keep_their_unit(raw, set_):
    assert plain(typeset(raw)) == set_
    assert typeset(raw).count("\N{NO-BREAK SPACE}") == (0 if "2026" in raw else 1)


@pytest.mark.parametrize(
    ("value", "says"), [(0.0, "none"), (0.5, "0.5 h"), (43.2, "43 h"), (nan, "not known")]
)
def test_hours_are_as_fine_as_they_can_be_known(value, says):
    assert hours(value) == says
