"""Courses of the coming night: each ends its fall at its own low, and none drops there at once."""

from datetime import timedelta

import numpy as np
import pytest

from monitor.judgement.air.night_courses import coming_night, courses_to
from tests.judgement import scene

YARD = scene.yard_of(scene.SHED)
NOW = scene.local(15, 15)
LOWS_C = np.array([-3.0, 2.0, 6.0])


@pytest.mark.parametrize("rise_k", [0.0, 3.0], ids=["flat nights", "nights that only rose"])
def test_nights_that_did_not_fall_drop_no_course_to_its_low_at_once(rise_k):
    coming = coming_night(NOW, YARD)
    shape = np.linspace(0.0, rise_k, coming.hours.size)
    courses = courses_to(8.0, LOWS_C, coming, shape)
    np.testing.assert_allclose(courses.min(axis=1), LOWS_C)
    sunset_h = (coming.dark.sunset - NOW) / timedelta(hours=1)
    np.testing.assert_allclose(courses[:, coming.hours <= sunset_h], 8.0)
    # By the square root of time to the low before sunrise: a quarter of the way after a sixteenth.
    low_h = coming.hours[courses[0].argmin()]
    early = np.abs(coming.hours - sunset_h - (low_h - sunset_h) / 16.0).argmin()
    np.testing.assert_allclose(courses[:, early], 8.0 + 0.25 * (LOWS_C - 8.0), atol=0.4)
