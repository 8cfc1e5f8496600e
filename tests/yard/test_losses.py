"""What a yard loses, and the chance from which on an act pays."""

from dataclasses import replace

import pytest

from monitor.yard.losses import Losses, act_from, chance_of_loss, is_grave
from tests.judgement import scene


@pytest.mark.parametrize(
    ("material", "tough"),
    [
        ("aluminium: jacket and head", False),
        ("iron block, core plugs", False),
        ("bronze, plastic bowl", False),
        ("plastic or aluminium; hose necks", False),
        ("the tube splits", False),  # not named, so it may be metal
        ("plastic pump, mixer, hose", True),
        ("rubber; plastic tees", True),
    ],
)
def test_only_what_is_named_as_giving_way_counts_as_tough(material, tough):
    assert replace(scene.circuit(), material=material).is_tough is tough


def test_an_act_pays_from_one_over_what_is_lost():
    # Twenty evenings lost, one evening's work: at 1 night in 20 both cost the same.
    losses = Losses()
    metal, hose = scene.circuit(), replace(scene.circuit(), material="rubber")
    assert act_from(losses.of_circuit(metal)) == pytest.approx(0.05)
    assert act_from(losses.of_circuit(hose)) > act_from(losses.of_circuit(metal))


def test_the_same_chance_weighs_more_where_more_is_lost():
    assert is_grave(0.3, 20.0)
    assert not is_grave(0.3, 10.0)
    assert not is_grave(0.1, 20.0)


def test_a_loss_below_an_evenings_work_is_refused():
    with pytest.raises(ValueError, match="one evening's work"):
        Losses(metal=0.5)


def test_a_third_of_ice_counts_in_full_and_less_ice_a_tenth():
    assert chance_of_loss(0.4, 0.4) == pytest.approx(0.4)
    assert chance_of_loss(1.0, 0.0) == pytest.approx(0.1)
    assert chance_of_loss(0.6, 0.2) == pytest.approx(0.24)


def test_water_that_is_sure_to_touch_ice_is_worth_an_act_only_where_metal_may_crack():
    losses = Losses()
    assert chance_of_loss(1.0, 0.0) > act_from(losses.metal)
    assert chance_of_loss(0.4, 0.0) < act_from(losses.metal)
    assert chance_of_loss(0.9, 0.0) < act_from(losses.fittings)
