"""How far the air still falls, told from dryness, the last hours and how warm it is for the place.

Expected values are worked out from a law that the nights were made by, not by the module.
"""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.judgement.air.fall_regression import (
    PREDICTORS,
    FallPrior,
    expect_fall,
    fall_prior,
    falls_expected_before,
)
from tests.tried import tried

PRIOR = FallPrior(6.0, np.array([0.2, -0.1, 0.1]), np.array([8.0, 0.0, 0.0]))
SLOPES = np.array([0.5, -0.4, 0.3])  # of the place that is to be learnt


def signs(count: int, seed: int = 1) -> np.ndarray:
    dice = np.random.default_rng(seed)
    return dice.normal([8.0, 0.0, 0.0], [5.0, 1.5, 6.0], (count, PREDICTORS))


def falls_by_law(table: np.ndarray) -> np.ndarray:
    return np.maximum(7.0 + (table - [8.0, 0.0, 0.0]) @ SLOPES, 0.0)


def test_before_the_first_night_the_fall_is_the_usual_one_moved_by_the_usual_slopes():
    none = np.empty((0, PREDICTORS)), np.empty(0)
    assert expect_fall(PRIOR, *none, np.array([8.0, 0.0, 0.0])) == pytest.approx(6.0)
    # 10 K drier than usual at 0.2 is 2 K more; falling 2 K in three hours at -0.1 is 0.2 K more.
    assert expect_fall(PRIOR, *none, np.array([18.0, -2.0, 0.0])) == pytest.approx(8.2)


def test_a_place_with_its_own_slopes_is_learnt_in_two_months():
    table = signs(60) + np.array([30.0, 0.0, 0.0])  # dry enough that no fall ends at 0
    now = np.array([45.0, -2.0, 8.0])
    expected = expect_fall(PRIOR, table, falls_by_law(table), now)
    by_law = float(falls_by_law(now[None])[0])
    before = expect_fall(PRIOR, np.empty((0, PREDICTORS)), np.empty(0), now)
    assert abs(expected - by_law) < 0.25 * abs(before - by_law)


@settings(max_examples=tried(20))
@given(st.integers(1, 30), st.integers(0, 29), st.floats(0.0, 40.0))
def test_no_night_is_expected_from_itself_or_from_a_later_one(count, night, other_k):
    night = min(night, count - 1)
    table, falls = signs(count), falls_by_law(signs(count))
    changed = falls.copy()
    changed[night] = other_k
    before, after = (falls_expected_before(PRIOR, table, each) for each in (falls, changed))
    np.testing.assert_allclose(after[: night + 1], before[: night + 1])


def test_what_is_expected_of_past_nights_is_what_would_have_been_said_then():
    table, falls = signs(12), falls_by_law(signs(12))
    told = falls_expected_before(PRIOR, table, falls)
    for n in range(12):
        then = expect_fall(PRIOR, table[:n], falls[:n], table[n])
        assert told[n] == pytest.approx(then)


@settings(max_examples=tried(20))
@given(st.integers(0, 20), st.integers(0, PREDICTORS - 1))
def test_a_sign_that_is_not_known_counts_as_usual(count, which):
    table, falls = signs(count), falls_by_law(signs(count))
    unknown, usual = signs(1, seed=2)[0], signs(1, seed=2)[0]
    unknown[which], usual[which] = np.nan, PRIOR.usual_k[which]
    assert expect_fall(PRIOR, table, falls, unknown) == pytest.approx(
        expect_fall(PRIOR, table, falls, usual)
    )


def test_air_is_never_expected_to_rise():
    damp = np.array([0.0, 8.0, -40.0])
    assert expect_fall(PRIOR, np.empty((0, PREDICTORS)), np.empty(0), damp) == 0.0


@pytest.mark.parametrize("outdoors", [True, False])
def test_dry_air_and_air_warm_for_the_place_fall_further_at_every_hour(outdoors):
    for after_sunset_h in np.arange(-8.0, 14.0):
        prior = fall_prior(after_sunset_h, 5.0, outdoors=outdoors, share=1.0)
        assert prior.slopes[0] > 0.0
        assert prior.slopes[2] >= 0.0
    heated = fall_prior(0.0, 1.0, outdoors=False, share=0.25)
    cold = fall_prior(0.0, 4.0, outdoors=False, share=1.0)
    np.testing.assert_allclose(heated.slopes, cold.slopes / 4.0)
