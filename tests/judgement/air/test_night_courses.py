"""Courses of the coming night: each ends its fall at its own low, and none drops there at once."""

from datetime import timedelta

import numpy as np
import pytest

from monitor.judgement.air.night_courses import coming_night, courses_to
from tests.judgement import scene

YARD = scene.yard_of(scene.SHED)
LOWS_C = np.array([-3.0, 2.0, 6.0])


@pytest.mark.parametrize("rise_k", [0.0, 3.0], ids=["flat nights", "nights that only rose"])
def test_nights_that_did_not_fall_drop_no_course_to_its_low_at_once(rise_k):
    coming = coming_night(scene.local(15, 15), YARD)
    shape = np.linspace(0.0, rise_k, coming.hours.size)
    courses = courses_to(8.0, LOWS_C, coming, shape)
    np.testing.assert_allclose(courses.min(axis=1), LOWS_C)
    # Sunset is at half past four; the fast fall begins two hours later, the low comes by sunrise.
    at_sunset = coming.hours <= (coming.dark.sunset - scene.local(15, 15)) / timedelta(hours=1)
    np.testing.assert_allclose(courses[:, at_sunset], 8.0)
