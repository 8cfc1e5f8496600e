"""How far the members' lows reach: as far as n nights can tell, and no further in than that."""

import numpy as np
import pytest

from monitor.judgement.air.ensemble import LOW_RANKS, band_of, errors_of_lows


def errors_like(rng, nights):
    """Errors of nights with fronts among them: fat tails, none of them told apart."""
    own = 1.5 * rng.standard_t(5, size=nights + 1)
    return own[:-1], own[-1]


@pytest.mark.parametrize("nights", [12, 30, 60])
def test_the_next_night_is_colder_than_every_member_about_as_often_as_members_say(nights):
    rng = np.random.default_rng(nights)
    tries, colder, warmer = 4000, 0, 0
    for _ in range(tries):
        own, coming = errors_like(rng, nights)
        errors = errors_of_lows(own, float(np.sqrt(np.mean(own**2))))
        colder += coming > errors.max()
        warmer += coming < errors.min()
    # The coldest member stands for the middle of the last 64th; half of that lies beyond it.
    due = LOW_RANKS[0]
    assert colder / tries < 2.0 * due
    assert warmer / tries < 2.5 * due
    assert colder / tries > due / 4.0  # and no tail is made up


def test_the_stated_range_is_that_of_the_nights_themselves():
    own = np.random.default_rng(1).normal(0.0, 2.0, 50)
    errors = errors_of_lows(own, 2.0)
    cold, warm = band_of(errors)
    inside = np.mean((own > cold) & (own < warm))
    assert 0.7 < inside < 0.9


def test_members_are_in_order_and_fewer_nights_leave_more_open():
    rng = np.random.default_rng(2)
    for nights in (0, 9, 10, 45):
        own = rng.standard_t(5, size=nights)
        errors = errors_of_lows(own, 1.5)
        assert (np.diff(errors) <= 1e-12).all()
    same = rng.normal(0.0, 1.0, 60)
    assert errors_of_lows(same[:15], 1.0)[0] - same[:15].max() >= 0.0
