"""Fogging with the engine running draws water, unless it ends the run of antifreeze."""

import pytest

from monitor.craft.layup import Liquid, Outflow
from monitor.craft.protection import LayupState
from tests.craft.scene import NOON, STRONG, TWO_STROKE, held, library, record, work

SEEN = {
    "product": STRONG,
    "quantity_l": 6.0,
    "outflow": Outflow.FULL_COLOUR,
    "ice_point_c": -30.0,
    "scale": Liquid.PROPYLENE,
    "zeroed_on": NOON.date(),
}
TWIN = library()["jet-boat-twin"]
PORT, STARBOARD = TWIN.engine_paths


def run_through(hours, circuits):
    return work("antifreeze-run-through", hours, *circuits, **SEEN)


@pytest.mark.parametrize(
    "before",
    [work("antifreeze-poured", 0, *TWO_STROKE, **SEEN), run_through(0, TWO_STROKE)],
    ids=["poured", "run-through"],
)
def test_an_engine_started_again_for_fogging_undoes_what_stood_in_it(before):
    assert held(record(before))["water-box"].state is LayupState.PROVEN
    later = held(record(before, work("fogged-running", 5)))
    assert later["water-box"].state is LayupState.VOID
    assert "drew water" in later["water-box"].why


def test_an_engine_drained_dry_is_no_more_dry_once_it_was_fogged_running():
    dry = work("drained", 0, "hoses", dry=True)
    assert held(record(dry))["hoses"].state is LayupState.PROVEN
    assert held(record(dry, work("fogged-running", 0.2)))["hoses"].state is LayupState.VOID


def test_fog_at_the_end_of_the_run_of_antifreeze_undoes_nothing():
    done = (run_through(0, TWO_STROKE), work("fogged-running", 0.2))
    assert held(record(*done))["water-box"].state is LayupState.PROVEN
    same_date = (run_through(0, TWO_STROKE), work("fogged-running", 0))
    assert held(record(*same_date))["water-box"].state is LayupState.PROVEN


def test_work_between_the_run_of_antifreeze_and_the_fog_ends_that_run():
    drained = work("drained", 0.1, "hoses", dry=True)
    done = (run_through(0, TWO_STROKE), drained, work("fogged-running", 0.2))
    assert held(record(*done))["hoses"].state is LayupState.VOID


def test_fog_in_one_engine_of_two_leaves_the_other_as_it_was():
    both = (run_through(0, PORT), run_through(24, STARBOARD))
    one = held(record(*both, work("fogged-running", 24.2, STARBOARD[0]), profile="jet-boat-twin"))
    whole = held(record(*both, work("fogged-running", 24.2), profile="jet-boat-twin"))
    proven_before = held(record(*both, profile="jet-boat-twin"))
    name = next(one for one in PORT if proven_before[one].state is LayupState.PROVEN)
    assert one[name].state is LayupState.PROVEN
    assert whole[name].state is LayupState.VOID
