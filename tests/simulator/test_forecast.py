"""Made-up forecasts: they know little at first, less later, and repeat with the seed."""

from datetime import UTC, datetime

import numpy as np
import pytest
from numpy.testing import assert_allclose

from simulator.forecast import issues
from simulator.weather import synthetic

START, END = datetime(2025, 11, 1, tzinfo=UTC), datetime(2026, 2, 1, tzinfo=UTC)


@pytest.fixture(scope="module")
def weather():
    return synthetic(9, START, END)


def errors(weather, made, ahead_h):
    whole = [issue for issue in made if len(issue.at_s) == 48]
    at = np.array([issue.at_s[ahead_h - 1] for issue in whole])
    return np.array([issue.air_c[ahead_h - 1] for issue in whole]) - weather.during(at).air_c


def test_errors_grow_with_the_time_ahead(weather):
    spread = [np.std(errors(weather, issues(weather, 1), ahead)) for ahead in (6, 24, 48)]
    assert spread[0] < spread[1] < spread[2]
    # Services' errors of 2 m temperature are some 1 to 3 K over two days (common practice).
    assert 0.5 < spread[0] < 2.0
    assert spread[2] < 3.5


def test_an_issue_looks_ahead_only_and_hour_by_hour(weather):
    for issue in issues(weather, 1)[:40]:
        assert issue.at_s[0] > issue.issued_s
        assert_allclose(np.diff(issue.at_s), 3600.0)
        assert (issue.dew_point_c <= issue.air_c).all()
        assert ((issue.cloud_share >= 0) & (issue.cloud_share <= 1)).all()


def test_the_same_seed_forecasts_the_same(weather):
    one, again, other = (issues(weather, seed)[5].air_c for seed in (1, 1, 2))
    assert_allclose(one, again, atol=0)
    assert abs(one - other).max() > 0.1
