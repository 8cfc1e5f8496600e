"""Glycol mixes: what mixing, slush and labels may never promise."""

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st

from monitor.physics import antifreeze
from monitor.physics.antifreeze import burst_point, ice_point, ice_share, mass_fraction_for, mix

STRENGTHS = st.floats(0.0, 0.6)
GLYCOLS = pytest.mark.parametrize("glycol", ["propylene", "ethylene"])


@GLYCOLS
def test_more_glycol_ices_later(glycol):
    assert np.all(np.diff(ice_point(np.linspace(0, 0.6, 601), glycol)) < 0)


@GLYCOLS
@given(strength=STRENGTHS)
def test_ice_point_and_strength_are_inverses(glycol, strength):
    assert mass_fraction_for(ice_point(strength, glycol), glycol) == pytest.approx(strength)


@GLYCOLS
@given(strength=STRENGTHS)
def test_volume_and_mass_are_inverses(glycol, strength):
    by_volume = antifreeze.volume_fraction(strength, glycol)
    assert antifreeze.mass_fraction_of_volume(by_volume, glycol) == pytest.approx(strength)


@given(STRENGTHS, STRENGTHS, st.floats(0.01, 5), st.floats(0.01, 5), st.floats(0.1, 10))
def test_mix_is_linear_in_mass(first, second, first_l, second_l, scale):
    strength = mix(first, first_l, second_l, residual_mass_fraction=second)
    glycol = sum(v * antifreeze.density(w) * w for w, v in ((first, first_l), (second, second_l)))
    whole = sum(v * antifreeze.density(w) for w, v in ((first, first_l), (second, second_l)))
    assert strength * whole == pytest.approx(glycol)
    assert min(first, second) - 1e-12 <= strength <= max(first, second) + 1e-12
    again = mix(first, scale * first_l, scale * second_l, residual_mass_fraction=second)
    assert again == pytest.approx(strength)


def test_nothing_mixed_with_nothing_is_not_known():
    assert np.isnan(mix(0.3, 0.0, 0.0))


@pytest.mark.parametrize("strength", [-0.01, 0.61, np.nan])
def test_strengths_beyond_the_table_are_not_known(strength):
    assert np.isnan(ice_point(strength))
    assert np.isnan(burst_point(strength))
    assert np.isnan(ice_share(strength, -5.0))


@given(STRENGTHS, st.floats(-60, 10))
def test_ice_share_is_none_above_the_ice_point_and_grows_in_the_cold(strength, temperature):
    share = ice_share(strength, temperature)
    assert 0.0 <= share <= 1.0
    assert ice_share(strength, temperature - 1.0) >= share
    if temperature >= ice_point(strength):
        assert share == pytest.approx(0.0, abs=1e-9)


def test_plain_water_is_all_ice_below_zero_and_none_at_it():
    assert list(ice_share(0.0, [0.0, -0.1])) == [0.0, 1.0]


@GLYCOLS
@pytest.mark.parametrize("measured", [True, False])
@given(strength=STRENGTHS, label=st.one_of(st.just(np.nan), st.floats(-60, -5)))
def test_burst_point_is_never_above_the_ice_point_and_never_below_the_label(
    glycol, measured, strength, label
):
    ice = ice_point(strength, glycol)
    burst = burst_point(strength, glycol, measured=measured, label_c=label)
    assert burst <= ice
    assert np.isnan(label) or burst >= min(label, ice)
    assert measured or burst >= min(-18.0, ice)


@GLYCOLS
def test_weak_mixes_get_no_credit_for_slush(glycol):
    weak = antifreeze.mass_fraction_of_volume(np.linspace(0, 0.199, 50), glycol)
    np.testing.assert_array_equal(burst_point(weak, glycol, measured=True), ice_point(weak, glycol))


def test_burst_points_lie_where_a_third_of_the_mix_is_ice():
    # The engineering guides' rows (from memory) by the lever rule: 31 to 35 % of ice.
    by_volume = np.array([0.24, 0.28, 0.30, 0.33])
    strength = antifreeze.mass_fraction_of_volume(by_volume)
    share = ice_share(strength, burst_point(strength, measured=True))
    np.testing.assert_allclose(share, 1 / 3, atol=0.06)


def test_ethylene_bursts_pipes_with_less_ice_in_it_than_propylene():
    # Ice share by the lever rule on CoolProp's freezing points (MEG), another source than ours:
    # the published burst column for ethylene never asks a pipe to stand a third of ice.
    strengths = np.arange(0.05, 0.601, 0.005)
    freezing = [PropsSI("T_FREEZE", "T", 300, "P", 101325, f"INCOMP::MEG[{w}]") for w in strengths]
    for volume in (0.20, 0.23, 0.25, 0.27, 0.29, 0.31):
        whole = float(antifreeze.mass_fraction_of_volume(volume, "ethylene"))
        burst_c = float(burst_point(whole, "ethylene", measured=True))
        liquid = np.interp(burst_c + 273.15, freezing[::-1], strengths[::-1])
        assert 0.20 < 1.0 - whole / liquid <= 0.31


@pytest.mark.parametrize("volume", [0.35, 0.40, 0.45])
def test_more_ethylene_than_the_published_column_believes_in_earns_no_more_credit(volume):
    strength = antifreeze.mass_fraction_of_volume(volume, "ethylene")
    expected = min(-28.9, float(ice_point(strength, "ethylene")))
    assert burst_point(strength, "ethylene", measured=True) == pytest.approx(expected, abs=0.1)


def test_a_label_promises_no_ice_point():
    # A published storage note: "-50 F" jugs hold about 25 % and slush from about -10 °C.
    strength = antifreeze.mass_fraction_of_burst_rating((-50 - 32) / 1.8)
    assert strength == 0.25
    assert ice_point(strength) == pytest.approx(-10.0, abs=0.5)
    assert burst_point(strength, label_c=-45.6) == -18.0


def test_a_rating_warmer_than_the_guides_is_not_known():
    assert np.isnan(antifreeze.mass_fraction_of_burst_rating(-5.0))


@GLYCOLS
@given(strength=st.floats(0.0, 0.55))
def test_a_brix_reading_gives_back_the_strength_that_made_it(glycol, strength):
    index = antifreeze.refractive_index(strength, glycol)
    brix = np.interp(index, antifreeze._BRIX_INDEX, antifreeze._BRIX)
    assert antifreeze.mass_fraction_of_brix(brix, glycol) == pytest.approx(strength, abs=2e-3)


def test_refractive_index_reads_handbook_tables_or_higher_which_is_the_safe_side():
    # Handbook of chemistry, aqueous ethylene glycol and 1,2-propanediol at 20 °C (from memory).
    ethylene = antifreeze.refractive_index([0.1, 0.2, 0.3, 0.4, 0.5, 0.6], "ethylene")
    np.testing.assert_allclose(
        ethylene, [1.3425, 1.3523, 1.3624, 1.3724, 1.3825, 1.3923], atol=0.002
    )
    propylene = antifreeze.refractive_index([0.1, 0.2, 0.3, 0.4, 0.5])
    table = np.array([1.3440, 1.3550, 1.3663, 1.3775, 1.3885])
    assert np.all(propylene - table > -0.0005)
    assert np.all(propylene - table < 0.0025)
