"""Courses of the coming night: each ends its fall at its own low, and none drops there at once."""

from datetime import timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.judgement.air.night_members import coming_night, members_to_lows
from tests.judgement import scene
from tests.tried import tried

YARD = scene.yard_of(scene.SHED)
NOW = scene.local(15, 15)
LOWS_C = np.array([-3.0, 2.0, 6.0])


@pytest.mark.parametrize("rise_k", [0.0, 3.0], ids=["flat nights", "nights that only rose"])
def test_nights_that_did_not_fall_drop_no_course_to_its_low_at_once(rise_k):
    coming = coming_night(NOW, YARD)
    shapes = np.tile(np.linspace(0.0, rise_k, coming.hours.size), (3, 1))
    courses = members_to_lows(8.0, LOWS_C, coming, shapes)
    np.testing.assert_allclose(courses.min(axis=1), LOWS_C)
    sunset_h = (coming.dark.sunset - NOW) / timedelta(hours=1)
    np.testing.assert_allclose(courses[:, coming.hours <= sunset_h], 8.0)
    # By the square root of time to the low before sunrise: a quarter of the way after a sixteenth.
    low_h = coming.hours[courses[0].argmin()]
    early = np.abs(coming.hours - sunset_h - (low_h - sunset_h) / 16.0).argmin()
    np.testing.assert_allclose(courses[:, early], 8.0 + 0.25 * (LOWS_C - 8.0), atol=0.4)


def past_shapes(hours, nights=20):
    """Nights that fell by 1 to 10 K, to a low that came early in every other one."""
    falls = np.linspace(1.0, 10.0, nights)
    lows_h = np.where(np.arange(nights) % 2 == 0, 5.0, 14.0)
    part = hours / lows_h[:, None]
    down = np.sqrt(np.minimum(part, 1.0))
    up = np.clip((hours - lows_h[:, None]) / 10.0, 0.0, 1.0)
    return -falls[:, None] * down + 0.8 * falls[:, None] * up


def test_each_course_goes_as_a_night_that_fell_about_as_far_and_ends_at_its_own_low():
    coming = coming_night(NOW, YARD)
    shapes = past_shapes(coming.hours)
    lows_c = 8.0 - np.linspace(9.5, 1.5, 64)
    courses = members_to_lows(8.0, lows_c, coming, shapes)
    np.testing.assert_allclose(courses.min(axis=1), lows_c)
    assert (courses >= lows_c[:, None] - 1e-9).all()
    low_h = coming.hours[courses.argmin(axis=1)]
    early, late = (np.abs(low_h - each) < 1.0 for each in (5.0, 14.0))
    assert (early | late).mean() > 0.9
    assert 0.25 < early.mean() < 0.75
    # What the nights themselves were like: of those that fell 4 to 7 K, the mean of their hours.
    some = (lows_c < 4.0) & (lows_c > 1.0)
    falls = -shapes.min(axis=1)
    alike = shapes[(falls > 4.0) & (falls < 7.0)]
    assert courses[some].mean() - 8.0 == pytest.approx(alike.mean(), abs=0.5)


def test_with_less_than_two_weeks_of_nights_no_course_is_warmer_than_their_mean_lets_it_be():
    coming = coming_night(NOW, YARD)
    shapes = past_shapes(coming.hours)[-9:]
    few = members_to_lows(8.0, LOWS_C, coming, shapes)
    as_usual = members_to_lows(8.0, LOWS_C, coming, np.tile(shapes.mean(axis=0), (3, 1)))
    np.testing.assert_allclose(few, as_usual)


@given(
    st.lists(st.floats(-25.0, 8.0), min_size=64, max_size=64).map(sorted),
    st.integers(14, 40),
    st.integers(0, 1000),
)
@settings(max_examples=tried(25), deadline=None)
def test_whatever_the_nights_were_no_course_goes_below_its_low_or_misses_it(lows_c, nights, seed):
    coming = coming_night(NOW, YARD)
    steps = np.random.default_rng(seed).normal(0.0, 0.5, (nights, coming.hours.size))
    courses = members_to_lows(8.0, np.array(lows_c), coming, np.cumsum(steps, axis=1))
    np.testing.assert_allclose(courses.min(axis=1), lows_c)


def test_at_no_hour_is_less_than_six_hours_ahead_looked_at():
    """A front at midday must be seen in time, also where the sun rises late."""
    north = scene.yard_of(scene.RACK, latitude=62.0)
    for yard in (YARD, north):
        for tenth in range(240):
            now = scene.local(14, 0) + timedelta(hours=tenth / 10.0)
            assert coming_night(now, yard).hours[-1] >= 5.8, now
