"""Circuits followed through every member: against the exact integration, and what must hold."""

from datetime import date

import numpy as np
import pytest

from monitor.judgement.air.ensemble import MEMBERS, bands_of, draws_of, early_hours, first_below
from monitor.judgement.air.lagged_members import follow_members, lags_of, start_temperatures
from monitor.judgement.frost.members import Water, freeze_members
from monitor.physics.freezing import freezing_series
from monitor.physics.ice import LATENT_KJ_KG

HOURS = np.arange(41) * 0.5
DRAWS = draws_of("kettlemoss", date(2026, 11, 14))
CAPACITY_KJ_K, LIQUID_KG, LAG_H = 20.0, 0.4, 2.0
AIR_C = (
    3.0 - 0.6 * HOURS + 5.0 * np.clip((HOURS - 15.0) / 5.0, 0.0, 1.0)
    + np.linspace(-5.0, 5.0, MEMBERS)[:, None] * np.minimum(HOURS / 6.0, 1.0)
)  # fmt: skip


def fates_of(air_c, ice_point_c=0.0, locked_c=None, ice=0.0, start_c=4.0):
    one = np.zeros(1, dtype=np.intp)
    lag_h = np.full((1, MEMBERS), LAG_H)
    liquid_c = follow_members(HOURS, air_c[None], one, np.full((1, MEMBERS), start_c), lag_h)
    water = Water(
        ice_point_c=np.array([ice_point_c]),
        locked_c=np.array([ice_point_c if locked_c is None else locked_c]),
        weaker_k=np.zeros(1),
        misread_k=np.zeros(1),
        latent_k=np.array([LATENT_KJ_KG * LIQUID_KG / CAPACITY_KJ_K]),
        ice=np.full((1, MEMBERS), ice),
    )
    return freeze_members(HOURS, air_c[None], one, liquid_c, lag_h, one, water, [DRAWS])


def test_ice_comes_when_the_exact_integration_has_it_come():
    # `freezing_series` solves each phase in closed form and finds each change of phase inside its
    # step; the members take whole half hours.
    exact = freezing_series(
        HOURS,
        AIR_C,
        lag_h=[LAG_H] * MEMBERS,
        heat_capacity_kj_k=[CAPACITY_KJ_K] * MEMBERS,
        liquid_kg=[LIQUID_KG] * MEMBERS,
        start_c=[4.0] * MEMBERS,
    )
    found = fates_of(AIR_C)
    np.testing.assert_array_equal(np.isfinite(found.first_ice_h[0]), np.isfinite(exact.first_ice_h))
    comes = np.isfinite(exact.first_ice_h)
    assert comes.sum() > 20
    np.testing.assert_allclose(found.first_ice_h[0, comes], exact.first_ice_h[comes], atol=0.1)
    both = np.isfinite(found.through_h[0]) & np.isfinite(exact.frozen_through_h)
    assert both.sum() > 20
    np.testing.assert_allclose(found.through_h[0, both], exact.frozen_through_h[both], atol=0.25)
    # At the edge of freezing through one member may fall on the other side.
    differ = np.isfinite(found.through_h[0]) != np.isfinite(exact.frozen_through_h)
    assert differ.sum() <= 1
    third = np.isfinite(found.third_h[0]) & both
    assert (found.first_ice_h[0, third] < found.third_h[0, third]).all()
    assert (found.third_h[0, third] < found.through_h[0, third]).all()


def test_colder_courses_freeze_in_no_fewer_members_and_no_later():
    mild, cold = fates_of(AIR_C), fates_of(AIR_C - 2.0)
    for name in ("first_ice_h", "third_h", "through_h"):
        assert (getattr(cold, name) <= getattr(mild, name) + 1e-9).all()


def test_ice_that_is_there_stays_a_part_of_every_member():
    found = fates_of(AIR_C, ice=0.5, start_c=0.0)
    assert (found.first_ice_h == 0.0).all()
    assert (found.third_h == 0.0).all()
    assert (found.through_h <= fates_of(AIR_C, start_c=0.0).through_h + 1e-9).all()


def test_a_mix_counts_from_a_third_of_ice_on_and_never_freezes_through():
    found = fates_of(AIR_C, ice_point_c=-5.0, locked_c=-8.0)
    np.testing.assert_array_equal(found.locked_h, found.third_h)
    counted = np.isfinite(found.locked_h)
    assert counted.any()
    assert (found.first_ice_h[counted] < found.locked_h[counted]).all()
    assert np.isinf(found.through_h).all()


def test_lags_and_starts_fill_their_ranges():
    lag_h = lags_of(2.0, 8.0, DRAWS)
    assert (lag_h.min() >= 2.0) & (lag_h.max() <= 8.0)
    assert np.median(lag_h) == pytest.approx(4.0, rel=0.1)  # the middle on a scale of ratios
    known = start_temperatures(
        np.array([3.0, 3.2]), np.zeros(2), np.zeros(MEMBERS), lag_h, 0.0, DRAWS
    )
    guessed = start_temperatures(
        np.array([3.0, 3.2]), np.ones(2), np.zeros(MEMBERS), lag_h, 0.0, DRAWS
    )
    assert np.ptp(known) == pytest.approx(0.2)
    assert guessed.min() < -1.0
    assert guessed.max() > 7.0


def test_draws_are_the_same_for_whoever_asks_and_others_for_another_night():
    again, other = draws_of("kettlemoss", date(2026, 11, 14)), draws_of("k", date(2026, 11, 14))
    assert (again.sky == DRAWS.sky).all()
    assert (other.sky != DRAWS.sky).any()
    for each in DRAWS:
        assert np.histogram(each, bins=8, range=(0.0, 1.0))[0] == pytest.approx(8, abs=3)


def test_hours_and_ranges_are_those_of_the_ranks():
    # Of ten in which it happens the first lies at the middle of the first tenth.
    hours = np.full(64, np.inf)
    hours[:10] = np.arange(10.0)
    assert early_hours(hours) == pytest.approx(0.5)
    rare = np.full(64, np.inf)
    rare[:3] = 1.0  # 3 of 64 is under one night in twenty
    assert np.isinf(early_hours(rare))
    cold, warm = bands_of(np.arange(64.0))
    assert (cold, warm) == (pytest.approx(5.9), pytest.approx(57.1))


def test_a_course_passes_its_limit_where_it_runs_through_it():
    hours = np.array([0.0, 1.0, 2.0])
    courses = np.array([[2.0, 1.0, -1.0], [2.0, 1.0, 0.5], [-1.0, 3.0, 3.0]])
    np.testing.assert_allclose(first_below(hours, courses, 0.0), [1.5, np.inf, 0.0])
