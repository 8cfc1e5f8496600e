"""A space over a slow floor: followed as an independent solver has it, and found in readings."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from monitor.physics.floor import FLOOR_LAGS_H, UNSEEN_SHARE, fit_floor, follow_over_floor
from monitor.physics.lag import lag_response
from tests.tried import tried

HOURS = np.arange(0.0, 14 * 24.0 + 1.0)


def weather(seed, hours=HOURS):
    """Days, and fronts that come every few days and stay."""
    rng = np.random.default_rng(seed)
    steps = np.repeat(rng.normal(0.0, 5.0, hours.size // 60 + 1), 60)[: hours.size]
    fronts = np.convolve(np.pad(steps, 12, mode="edge"), np.ones(25) / 25.0, "valid")
    return 2.0 + fronts + 4.0 * np.cos(2 * np.pi * (hours - 15.0) / 24.0)


def two_nodes(hours, outside_c, lag_h, floor_lag_h, share, begin_c, ground=0.0):
    """Both differential equations, solved by scipy; the floor may stand on ground of 8 °C."""

    def change(at, state):
        inside, floor = state
        outside = np.interp(at, hours, outside_c)
        return [
            ((1.0 - share) * outside + share * floor - inside) / lag_h,
            (inside - floor + ground * (8.0 - floor)) / floor_lag_h,
        ]

    found = solve_ivp(
        change, (hours[0], hours[-1]), begin_c, t_eval=hours, rtol=1e-7, atol=1e-7, max_step=1.0
    )
    return found.y


def test_air_over_a_floor_goes_as_the_differential_equations_have_it():
    hours = np.arange(0.0, 20.0 + 1e-9, 1.0 / 6.0)
    outside = 4.0 - 9.0 * np.sin(np.pi * hours / 20.0) ** 2
    inside, floor = two_nodes(hours, outside, 3.0, 40.0, 0.35, [5.0, 8.0])
    air, ground = follow_over_floor(5.0, 8.0, outside, np.diff(hours), 3.0, 40.0, (0.35, 0.35))
    assert air == pytest.approx(inside[1:], abs=0.02)
    assert ground == pytest.approx(floor[1:], abs=0.02)


def test_several_courses_at_once_are_each_followed_as_alone():
    hours = np.arange(0.0, 12.0, 0.5)
    courses = np.array([2.0 - hours, 2.0 - 0.3 * hours])
    figures = np.diff(hours), 4.0, 40.0, (0.2, 0.3), 0.5
    together, _ = follow_over_floor(3.0, 1.0, courses, *figures)
    for row, course in enumerate(courses):
        alone, _ = follow_over_floor(3.0, 1.0, course, *figures)
        assert together[row] == pytest.approx(alone, abs=1e-12)


@pytest.mark.parametrize(("lag_h", "floor_lag_h", "share"), [(4.0, 60.0, 0.25), (2.0, 40.0, 0.5)])
def test_a_floor_is_found_again_in_readings_of_a_tenth_of_a_degree(lag_h, floor_lag_h, share):
    outside = weather(1)
    inside, _ = two_nodes(HOURS, outside, lag_h, floor_lag_h, share, [outside[0], 5.0])
    fit = fit_floor(HOURS, outside.round(1), inside.round(1))
    assert fit.lag_h == pytest.approx(lag_h, rel=0.05)
    assert fit.floor_lag_h == floor_lag_h
    assert fit.share == pytest.approx(share, abs=0.02)
    assert fit.share_error < 0.02


def test_a_lag_that_is_known_is_kept():
    outside = weather(2)
    inside, _ = two_nodes(HOURS, outside, 4.0, 60.0, 0.25, [outside[0], 5.0])
    fit = fit_floor(HOURS, outside, inside, lag_h=4.0)
    assert fit.lag_h == 4.0
    assert fit.share == pytest.approx(0.25, abs=0.02)


@given(seed=st.integers(0, 10_000), lag_h=st.floats(1.0, 12.0), noise_k=st.floats(0.05, 1.0))
@settings(max_examples=tried(10), deadline=None)
def test_of_a_building_without_a_floor_hardly_any_is_counted_on(seed, lag_h, noise_k):
    # Sun and doors move its air for hours, which no error of a reading does.
    outside, rng = weather(seed), np.random.default_rng(seed)
    inside, _ = two_nodes(HOURS, outside, lag_h, 60.0, 0.0, [outside[0], outside[0]])
    stirred = np.convolve(rng.normal(0.0, noise_k, HOURS.size), np.exp(-np.arange(9) / 3.0), "same")
    fit = fit_floor(HOURS, outside, inside + stirred)
    assert fit.share - 1.28 * fit.share_error < 0.1


def test_a_floor_that_a_few_hours_cannot_show_is_not_told():
    outside = weather(3)
    inside, _ = two_nodes(HOURS, outside, 4.0, 60.0, 0.3, [outside[0], 5.0])
    few = slice(0, 36)  # 17 h, the quickest floor there is, takes 39 to forget its beginning
    assert np.isnan(fit_floor(HOURS[few], outside[few], inside[few]).share)


def test_readings_with_a_hole_are_refused():
    apart = np.delete(HOURS, slice(100, 110))
    assert np.isnan(fit_floor(apart, weather(4, apart), weather(5, apart)).share)


def test_ground_below_the_floor_does_not_hide_it():
    # The simulator's shed, and any real one: the floor itself stands on ground that stays warm.
    outside = weather(6)
    inside, _ = two_nodes(HOURS, outside, 2.5, 42.0, 0.4, [outside[0], 5.0], ground=0.15)
    fit = fit_floor(HOURS, outside.round(1), inside.round(1))
    assert fit.share == pytest.approx(0.4, abs=0.06)


def fit_one_after_another(hours, outside_c, inside_c, lag_h=None, gap_h=2.0):
    """The same search written the slow way: each pair of lags followed and solved for alone."""

    def squares(lag, floor_lag):
        floor = lag_response(hours, inside_c, floor_lag, gap_h=gap_h)
        air, over, start = (
            lag_response(hours, drive, lag, 0.0, gap_h=gap_h).body_c
            for drive in (outside_c, floor.body_c - outside_c, floor.unknown_share)
        )
        columns = np.array([over, start, np.exp(-(hours - hours[0]) / lag), np.ones_like(hours)])
        found, *_ = np.linalg.lstsq(columns.T, inside_c - air, rcond=None)
        return float(((inside_c - air - columns.T @ found) ** 2).sum()), float(found[0])

    best = (np.inf, np.nan, np.nan, np.nan)
    for floor_lag in FLOOR_LAGS_H[np.exp(-(hours[-1] - hours[0]) / FLOOR_LAGS_H) <= UNSEEN_SHARE]:
        low, high = np.log((0.2, 80.0) if lag_h is None else (lag_h, lag_h))
        for _ in range(3 if lag_h is None else 1):
            grid = np.linspace(low, high, 17 if lag_h is None else 1)
            tried = [squares(lag, floor_lag) for lag in np.exp(grid)]
            at = int(np.argmin([sums for sums, _ in tried]))
            low, high = grid[max(at - 2, 0)], grid[min(at + 2, grid.size - 1)]
        if tried[at][0] < best[0]:
            best = (tried[at][0], float(np.exp(grid[at])), float(floor_lag), tried[at][1])
    return best


@pytest.mark.parametrize(
    ("seed", "lag_h", "hours"),
    [
        (11, None, HOURS[: 5 * 24]),
        (12, None, HOURS[: 7 * 24]),
        (13, 3.0, HOURS),
        (14, None, np.delete(HOURS[: 5 * 24], [40, 77, 78])),  # uneven
    ],
)
def test_all_lags_at_once_give_what_one_after_another_gives(seed, lag_h, hours):
    rng = np.random.default_rng(seed)
    outside = weather(seed, hours).round(1)
    inside, _ = two_nodes(hours, outside, 4.0, 30.0, 0.3, [outside[0], 5.0])
    inside = (inside + rng.normal(0.0, 0.1, hours.size)).round(1)
    fit = fit_floor(hours, outside, inside, lag_h, gap_h=6.0)
    squares, slow_lag_h, floor_lag_h, share = fit_one_after_another(
        hours, outside, inside, lag_h, gap_h=6.0
    )
    assert fit.lag_h == pytest.approx(slow_lag_h, rel=1e-12)
    assert fit.floor_lag_h == floor_lag_h
    assert fit.share == pytest.approx(share, rel=1e-8)
    assert fit.residual_c == pytest.approx(np.sqrt(squares / hours.size), rel=1e-9)
