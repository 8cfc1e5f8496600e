"""A label claims the weakest circuit, the work behind it, and never what nobody has shown."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.craft.label_figures import LabelFigures, gather_label
from monitor.craft.layup import OilAppearance, Outflow
from monitor.craft.protection import LayupState
from monitor.wording import Units, Wording
from tests.craft.scene import (
    EVE,
    SHELTERS,
    STRONG,
    TWO_STROKE,
    ZONE,
    held,
    record,
    twelve,
    work,
)
from tests.tried import tried

WORDS = Wording(zone=ZONE, units=Units(), now=EVE)
LOW_C = -20.0


def figures(one, at=EVE) -> LabelFigures:
    return gather_label(one, SHELTERS, at, LOW_C, WORDS)


def laid_up(*further):
    done = work(
        "antifreeze-run-through", 0, *TWO_STROKE, product=replace(STRONG, lot="P26-117"),
        quantity_l=8.0, outflow=Outflow.FULL_COLOUR, engine_hot=True, ice_point_c=-30.0,
    )  # fmt: skip
    oil = work("oil-changed", 1, "pump-housing", oil=OilAppearance.CLEAR)
    return record(done, oil, *further)


def test_the_weakest_circuit_stands_with_product_lot_and_reading():
    told = figures(twelve()["k3"])  # Grebe's raw side reads −5 °C, the rest −37
    assert (told.weakest.ice_point_c, told.sample.evidence.ice_point_c) == (-5.0, -5.0)
    assert [one.product.lot for one in told.poured] == ["P26-117"]
    assert not told.holds_low


@pytest.mark.parametrize(
    ("craft", "state"),
    [("k2", LayupState.UNPROVEN), ("k8", LayupState.UNPROVEN), ("k11", LayupState.VOID),
     ("k12", LayupState.VOID), ("k5", LayupState.UNKNOWN), ("k10", LayupState.UNKNOWN)],
)  # fmt: skip
def test_what_is_not_proven_has_neither_product_nor_reading_beside_it(craft, state):
    told = figures(twelve()[craft])
    assert told.weakest.state is state
    assert (told.poured, told.sample, told.holds_low) == ((), None, False)


@pytest.mark.parametrize(("drained", "lots"), [(True, ["NEW"]), (False, ["NEW", "OLD"])])
def test_a_product_is_told_until_it_is_drained_again(drained, lots):
    def poured(hours, lot):
        return work(
            "antifreeze-poured", hours, "exhaust-jacket", product=replace(STRONG, lot=lot),
            quantity_l=2.0, outflow=Outflow.FULL_COLOUR, ice_point_c=-25.0, again=True,
        )  # fmt: skip

    out = [work("drained", 30, "exhaust-jacket", dry=True)] if drained else []
    run = laid_up().entries
    told = figures(record(*run[1:], *run[:1], poured(24, "OLD"), *out, poured(48, "NEW")))
    assert told.weakest.circuit == "exhaust-jacket"
    assert [one.product.lot for one in told.poured][: len(lots)] == lots
    assert ("OLD" in [one.product.lot for one in told.poured]) is not drained


def test_it_is_signed_off_by_commissioning_and_by_nothing_else():
    assert figures(laid_up()).signed_off is None
    done = work("commissioned", 24, by="Vera")
    assert figures(laid_up(done)).signed_off.by == "Vera"
    again = work("antifreeze-poured", 48, "water-box", product=STRONG, quantity_l=1.0)
    assert figures(laid_up(done, again)).signed_off is None


def test_of_a_record_that_cannot_be_read_every_circuit_is_water():
    spoilt = replace(laid_up(), entries=(), unreadable="link 3 was changed")
    told = figures(spoilt)
    assert len(told.unproven) == told.circuits == 5
    assert told.unreadable == "link 3 was changed"


def test_of_a_record_that_cannot_be_added_up_every_circuit_is_water_too():
    # The profile has no such circuit: an entry that a newer fitting brought, say.
    told = figures(laid_up(work("drained", 3, "no-such-circuit", dry=True)))
    assert len(told.unproven) == told.circuits == 5
    assert told.unreadable


DONE = st.builds(
    work,
    st.sampled_from(
        ["antifreeze-poured", "antifreeze-run-through", "drained", "inspected", "run-on-water",
         "commissioned", "kept-warm", "flushed", "blown-out"]
    ),
    st.integers(0, 200),
    st.sampled_from(TWO_STROKE),
    product=st.sampled_from([None, STRONG]),
    ice_point_c=st.sampled_from([None, -5.0, -30.0]),
    dry=st.sampled_from([None, True]),
    outflow=st.sampled_from(["none", "seen", "full colour"]).map(Outflow),
)  # fmt: skip


@settings(max_examples=tried(60), deadline=None)
@given(st.lists(DONE, max_size=6, unique_by=lambda one: one.id))
def test_no_circuit_holds_less_than_the_label_says(told):
    one = laid_up(*told)
    label = figures(one)
    for circuit in held(one).values():
        if label.weakest.state is LayupState.PROVEN:
            assert circuit.state is LayupState.PROVEN
            assert circuit.ice_point_c <= label.weakest.ice_point_c
        else:
            assert not label.holds_low
            assert (label.poured, label.sample) == ((), None)
