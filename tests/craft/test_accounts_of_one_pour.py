"""Accounts of one pour that name different parts of a path: the worse counts in all of them."""

from dataclasses import replace

import pytest

from monitor.craft.asking import Asked, fields_to_ask
from monitor.craft.layup import Act, Outflow
from monitor.craft.protection import LayupState
from monitor.craft.reasons import Because
from tests.craft.scene import STRONG, TWO_STROKE, held, library, record, work

SEEN = {"product": STRONG, "outflow": Outflow.FULL_COLOUR}
POURED, RUN = Act.ANTIFREEZE_POURED, Act.ANTIFREEZE_RUN_THROUGH


def told(act, hours, *circuits, **said):
    return work(act, hours, *circuits, **{**SEEN, **said})


def found(*entries):
    return held(record(*entries))


@pytest.mark.parametrize("act", [POURED, RUN])
@pytest.mark.parametrize("fewer", [("water-box",), ("water-box", "hoses")])
@pytest.mark.parametrize("part_first", [True, False])
def test_less_told_of_a_part_counts_for_all_of_the_pour(act, fewer, part_first):
    whole = told(act, 0, *TWO_STROKE, quantity_l=12.0)
    part = told(act, 0, *fewer, quantity_l=2.0)
    first, second = (part, whole) if part_first else (whole, part)
    later = replace(second, id="second", at=second.at.replace(minute=5))
    both = found(first, later)
    # Whoever told of 2 L may be right, and whoever named all four circuits too.
    worst = found(replace(part, circuits=TWO_STROKE))
    for name in TWO_STROKE:
        assert both[name].ice_point_c == pytest.approx(worst[name].ice_point_c), name


def test_more_told_of_a_part_does_not_add_to_what_the_rest_was_told_to_hold():
    first = told(POURED, 0, "water-box", quantity_l=3.0)
    second = told(POURED, 1, "water-box", "hoses", quantity_l=3.0)
    alone, both = found(second), found(first, second)
    for name in ("water-box", "hoses"):
        assert both[name].ice_point_c == pytest.approx(alone[name].ice_point_c), name


def test_two_runs_through_one_path_are_one_run_whichever_parts_were_named():
    one = told(RUN, 0, "water-box", quantity_l=3.0)
    other = told(RUN, 1, "hoses", quantity_l=3.0)
    both, second = found(one, other), found(one, replace(other, again=True))
    for name in ("water-box", "hoses"):
        assert both[name].ice_point_c == pytest.approx(found(other)["hoses"].ice_point_c), name
    assert second["hoses"].ice_point_c < both["hoses"].ice_point_c


def test_pours_by_hand_into_different_circuits_are_different_pours():
    box, hoses = (
        told(POURED, 0, "water-box", quantity_l=3.0),
        told(POURED, 1, "hoses", quantity_l=1.0),
    )
    both = found(box, hoses)
    assert both["water-box"] == found(box)["water-box"]
    assert both["hoses"] == found(hoses)["hoses"]


def test_an_account_of_a_part_without_evidence_takes_it_from_the_whole_pour():
    whole = told(POURED, 0, "water-box", "hoses", quantity_l=12.0)
    bare = work(POURED, 1, "water-box", product=STRONG, quantity_l=12.0)
    both = found(whole, bare)
    for name in ("water-box", "hoses"):
        assert both[name].state is LayupState.UNPROVEN, name
    again = found(whole, replace(bare, again=True))
    assert again["hoses"] == found(whole)["hoses"]
    # What a pour by hand cannot reach, no account of one speaks of: only how much went in counts.
    pump = "inboard-raw-water"
    parts = ("manifolds", "raw-pump", "lift-muffler")
    all_of_it = told(RUN, 0, *parts, quantity_l=60.0)
    by_hand = told(POURED, 1, "lift-muffler", quantity_l=30.0)
    raw_pump = held(record(all_of_it, by_hand, profile=pump))["raw-pump"]
    assert raw_pump.state is LayupState.PROVEN
    assert raw_pump.ice_point_c > held(record(all_of_it, profile=pump))["raw-pump"].ice_point_c


def test_a_sample_since_tells_better_than_another_account_of_a_part():
    whole = told(RUN, 0, *TWO_STROKE, quantity_l=12.0)
    read = work("inspected", 1, "hoses", ice_point_c=-15.0)
    part = told(RUN, 2, "water-box", quantity_l=6.0)
    assert found(whole, read, part)["hoses"].ice_point_c == -15.0


def test_what_became_of_a_part_that_an_account_left_out_is_said():
    whole = told(POURED, 0, "water-box", "hoses", quantity_l=12.0)
    part = told(POURED, 1, "water-box", quantity_l=2.0)
    hoses = found(whole, part)["hoses"]
    assert Because.TOLD_AGAIN in {one.because for one in hoses.reasons}


@pytest.mark.parametrize(("act", "asks"), [(RUN, True), (POURED, False)], ids=["run", "by hand"])
def test_the_bench_asks_whether_a_run_through_another_part_of_the_path_was_a_second_one(act, asks):
    asked = Asked(
        act=act,
        profile=library()["pwc-two-stroke"],
        said={"circuits": ("hoses",), "product.liquid": STRONG.liquid},
        open_findings=False,
        on_record=(told(RUN, 0, "water-box", quantity_l=3.0),),
    )
    assert ("again" in {field.path for field in fields_to_ask(asked)}) == asks
