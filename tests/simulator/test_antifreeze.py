"""The simulator's glycol table against CoolProp, and the lever rule against its own meaning."""

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from simulator.antifreeze import equilibrium_fraction, fraction_for, ice_point, ice_share


@pytest.mark.parametrize("fraction", [0.10, 0.20, 0.25, 0.30, 0.35, 0.40])
def test_ice_points_agree_with_coolprop(fraction):
    # CoolProp, incompressible solutions, MPG (Melinder 2010). The two published tables lie
    # within 0.6 K of each other up to 40 %.
    expected = PropsSI("T_freeze", "T", 300.0, "P", 101325.0, f"INCOMP::MPG[{fraction}]") - 273.15
    assert_allclose(ice_point(fraction), expected, atol=0.6)


@settings(deadline=None)
@given(fraction=st.floats(0.01, 0.5), colder_k=st.floats(0.1, 10.0))
def test_ice_leaves_all_the_glycol_in_the_liquid(fraction, colder_k):
    liquid_c = float(ice_point(fraction)) - colder_k
    share = float(ice_share(fraction, liquid_c))
    assert 0.0 < share < 1.0
    # What is left is as strong as the liquid that stands beside ice at this temperature.
    assert_allclose(fraction / (1.0 - share), equilibrium_fraction(liquid_c), rtol=1e-9)


def test_no_ice_above_the_first_crystals():
    assert_allclose(ice_share([0.0, 0.3], [0.1, -12.0]), 0.0)


def test_a_mix_made_for_an_ice_point_has_it():
    wanted_c = np.array([-5.0, -16.0, -37.0])
    assert_allclose(ice_point(fraction_for(wanted_c)), wanted_c, atol=1e-9)
