"""What a clear night takes: without humidity never less than with any."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.judgement.air.sky_loss import clear_sky_depression
from monitor.physics.moist_air import dew_point
from monitor.physics.sky import depression
from tests.tried import tried


@settings(max_examples=tried(200), deadline=None)
@given(air_c=st.floats(-40, 45), humidity_pct=st.floats(0.1, 100.0))
def test_no_humidity_that_is_read_takes_more_than_one_that_is_not(air_c, humidity_pct):
    known_k = clear_sky_depression(air_c, dew_point(air_c, humidity_pct))
    unknown_k = clear_sky_depression(air_c, np.nan)
    assert np.isfinite(unknown_k)
    assert unknown_k >= known_k


@pytest.mark.parametrize("air_c", [-25.0, -5.0, 0.0, 15.0])
def test_without_humidity_the_sky_is_that_of_air_without_vapour(air_c):
    # Prata 1996 with no water in the column: 1 - exp(-sqrt(1.2)), by hand.
    dry_k = depression(air_c, -100.0, 1.0 - np.exp(-np.sqrt(1.2)))
    assert clear_sky_depression(air_c, np.nan) == pytest.approx(dry_k, abs=0.1)


def test_an_hour_without_humidity_leaves_the_others_as_they_are():
    air_c, dew_c = np.array([2.0, 2.0, -3.0]), np.array([1.0, np.nan, -8.0])
    whole = clear_sky_depression(air_c, dew_c)
    assert whole[[0, 2]] == pytest.approx(clear_sky_depression(air_c[[0, 2]], dew_c[[0, 2]]))
    assert whole[1] > whole[0]
