"""Pours and readings taken for better than they can be: the worse counts, and it is said."""

from dataclasses import replace

import pytest

from monitor.craft.layup import Act, Liquid, Outflow, Posture, Product
from monitor.craft.protection import Basis, Confidence, LayupState
from monitor.craft.reasons import Because, Lack
from tests.craft.scene import NOON, STRONG, TWO_STROKE, held, record, work

SIXTY = Product(name="blue", liquid=Liquid.PROPYLENE, strength=0.6)
UNNAMED = Product(name="jug without a label")
RUN = {"product": SIXTY, "outflow": Outflow.FULL_COLOUR}
ZEROED = {"zeroed_on": NOON.date()}


def box(*entries, circuit: str = "water-box", **more):
    return held(record(*entries, **more))[circuit]


# --- two accounts of one pour ---


@pytest.mark.parametrize("weaker_first", [True, False], ids=["first", "second"])
def test_the_weaker_of_two_accounts_of_a_pour_counts_in_every_circuit_of_it(weaker_first):
    # 2 L of 60 % on the 3 L that stay in the path: about 25 %, first ice at -9 °C.
    quantities = (2.0, 12.0) if weaker_first else (12.0, 2.0)
    told = [
        work("antifreeze-run-through", hours, *TWO_STROKE, quantity_l=litres, **RUN)
        for hours, litres in enumerate(quantities)
    ]
    found = held(record(*told))
    for name in TWO_STROKE:
        assert found[name].ice_point_c == pytest.approx(-9.4, abs=0.3), name


def test_an_account_of_several_pours_at_once_is_also_taken_for_all_of_them():
    parts = [
        work("antifreeze-poured", n, name, quantity_l=6.0, **RUN)
        for n, name in enumerate(("water-box", "hoses"))
    ]
    both = work("antifreeze-poured", 3, "water-box", "hoses", quantity_l=1.0, **RUN)
    alone = held(record(both))
    found = held(record(*parts, both))
    for name in ("water-box", "hoses"):
        assert found[name].ice_point_c >= alone[name].ice_point_c


# --- a glycol that nobody named ---


def test_a_glycol_that_nobody_named_counts_as_the_worse_of_both_and_never_as_sure():
    # -40 °C on ethylene's scale is 54 % of it (ASHRAE); propylene that bends light as much holds
    # 48 %, and ices near -30 °C.
    on_ethylene = {"ice_point_c": -40.0, "scale": Liquid.ETHYLENE, **ZEROED}
    poured = {"quantity_l": 6.0, "outflow": Outflow.FULL_COLOUR}
    for read in (
        work("antifreeze-poured", 0, "water-box", product=UNNAMED, **poured, **on_ethylene),
        work("antifreeze-poured", 0, "water-box", **poured, **on_ethylene),
        work("inspected", 0, "water-box", **on_ethylene),
    ):
        one = box(read)
        assert -32.0 < one.ice_point_c < -28.0
        assert one.confidence is Confidence.MEDIUM
        assert one.glycol is Liquid.NOT_KNOWN
        assert "nobody named its glycol" in one.why
    on_propylene = box(
        work("inspected", 0, "water-box", ice_point_c=-40.0, scale=Liquid.PROPYLENE, **ZEROED)
    )
    assert (on_propylene.ice_point_c, on_propylene.confidence) == (-40.0, Confidence.MEDIUM)


def test_a_coolant_is_what_its_scale_says_but_not_for_sure():
    read = work("inspected", 0, "coolant", ice_point_c=-37.0, scale=Liquid.ETHYLENE, **ZEROED)
    one = box(read, circuit="coolant", profile="pwc-four-stroke")
    assert (one.ice_point_c, one.glycol) == (-37.0, Liquid.ETHYLENE)
    assert one.confidence is Confidence.MEDIUM


# --- water said to be left ---

LITTLE = {"quantity_l": 1.3, "residual_l": 0.01}


def test_so_little_water_left_as_nobody_drained_is_no_evidence():
    bare = box(work("antifreeze-poured", 0, "hoses", **LITTLE, **RUN), circuit="hoses")
    untold = work("antifreeze-poured", 0, "hoses", quantity_l=1.3, **RUN)
    assert bare.ice_point_c == box(untold, circuit="hoses").ice_point_c
    assert "no drain of it is on record" in bare.why


@pytest.mark.parametrize("act", ["drained", "blown-out"])
def test_after_a_drain_the_water_said_to_be_left_counts(act):
    pour = work("antifreeze-poured", 0, "hoses", **LITTLE, **RUN)
    drained = work(act, -1, "hoses")
    assert box(drained, pour, circuit="hoses").ice_point_c < -45.0
    for undone in (
        work("run-on-water", -0.5),
        work("drained", -0.5, "hoses", dry=False),
        work("inspected", -0.5, "hoses", dry=False),
    ):
        assert box(drained, undone, pour, circuit="hoses").ice_point_c > -45.0


def test_no_drain_empties_a_low_loop_so_that_it_must_have_been_opened():
    pour = work("antifreeze-poured", 0, "water-box", **LITTLE, **RUN)
    opened = work("circuit-opened", -1, "water-box")
    assert box(work("drained", -1, "water-box"), pour).ice_point_c > -12.0
    assert box(opened, pour).ice_point_c < -45.0


def test_what_empties_itself_as_it_stands_needs_no_drain():
    run = work("antifreeze-run-through", 0, "powerhead", **LITTLE, **RUN)
    where = {"circuit": "powerhead", "profile": "outboard"}
    tilted = replace(run, posture=Posture.TILTED, quantity_l=0.1)
    upright = replace(tilted, posture=Posture.UPRIGHT)
    assert box(upright, **where).ice_point_c < -30.0 < box(tilted, **where).ice_point_c


def test_of_a_path_only_what_was_drained_can_hold_less():
    hoses = work("drained", -1, "hoses")
    pour = work("antifreeze-poured", 0, "water-box", "hoses", **LITTLE, **RUN)
    # 1.3 L of 60 % on the box's 2 L: 24 %, whatever is said.
    assert box(hoses, pour).ice_point_c == pytest.approx(-9.2, abs=0.3)


# --- readings one after another ---


def test_a_reading_gets_no_colder_without_a_pour_and_the_warmer_one_is_said():
    poured = work("antifreeze-poured", 0, "water-box", quantity_l=6.0, ice_point_c=-8.0, **RUN)
    later = work("inspected", 24, "water-box", ice_point_c=-40.0, **ZEROED)
    found = box(poured, later)
    assert (found.ice_point_c, found.confidence) == (-8.0, Confidence.LOW)
    assert found.reasons[-1].because is Because.READ_WARMER_BEFORE
    assert "read -8.0 °C, and nothing went in since" in found.why
    more = work("antifreeze-poured", 12, "water-box", quantity_l=9.0, again=True, **RUN)
    assert box(poured, more, later).ice_point_c == -40.0


def test_a_first_reading_counts_against_a_colder_one_even_if_its_scale_was_not_noted():
    first = work("inspected", 0, "water-box", ice_point_c=-8.0, scale=None)
    later = work("inspected", 24, "water-box", ice_point_c=-40.0, **ZEROED)
    noted = replace(first, evidence=replace(first.evidence, scale=Liquid.PROPYLENE))
    assert box(first, later).ice_point_c >= box(noted, later).ice_point_c == -8.0


def test_a_second_reading_within_the_allowance_confirms_the_first():
    first = work("antifreeze-poured", 0, "water-box", quantity_l=9.0, ice_point_c=-30.0, **RUN)
    later = work("inspected", 24, "water-box", ice_point_c=-31.0, **ZEROED)
    found = box(first, later)
    assert (found.ice_point_c, found.confidence) == (-30.0, Confidence.HIGH)


# --- quantities ---


@pytest.mark.parametrize("quantity_l", [0.05, 0.5, 3.0, 30.0])
@pytest.mark.parametrize("reading_c", [None, -3.0, -20.0, -40.0])
def test_a_pour_that_nobody_measured_is_no_better_than_any_that_was(quantity_l, reading_c):
    said = {"ice_point_c": reading_c, **RUN}
    untold = work("antifreeze-run-through", 0, *TWO_STROKE, **said)
    told = replace(untold, quantity_l=quantity_l)
    later = work("inspected", 1, *TWO_STROKE, ice_point_c=-40.0, **ZEROED)
    for after in ((), (later,)):
        less, more = held(record(untold, *after)), held(record(told, *after))
        for name in TWO_STROKE:
            assert less[name].ice_point_c >= more[name].ice_point_c


def test_why_a_reading_of_an_unmeasured_pour_does_not_count_is_said():
    untold = work("antifreeze-run-through", 0, *TWO_STROKE, ice_point_c=-40.0, **RUN)
    read = work("inspected", 1, "water-box", ice_point_c=-40.0)
    assert Lack.QUANTITY in box(untold).reasons[0].lacks
    assert "enter how much went in" in box(untold, read).why


def test_into_what_was_seen_dry_a_pour_needs_no_measure_for_its_reading_to_count():
    dry = work("drained", -1, "hoses", dry=True)
    read = work("antifreeze-poured", 0, "hoses", ice_point_c=-30.0, product=STRONG)
    found = box(dry, read, circuit="hoses")
    assert (found.ice_point_c, found.basis) == (-30.0, Basis.MEASURED)
    assert box(read, circuit="hoses").state is LayupState.UNPROVEN


def test_coolant_that_was_renewed_is_read_anew():
    loop = {"circuit": "coolant", "profile": "pwc-four-stroke"}
    thin = work("inspected", 0, "coolant", ice_point_c=-8.0, scale=Liquid.ETHYLENE)
    strong = work("inspected", 24, "coolant", ice_point_c=-37.0, scale=Liquid.ETHYLENE)
    renewed = work("circuit-opened", 20, "coolant")
    assert box(thin, strong, **loop).ice_point_c == -8.0
    assert "enter that it was opened or drained" in box(thin, strong, **loop).why
    assert box(thin, renewed, strong, **loop).ice_point_c == -37.0


def test_a_run_that_names_a_part_of_a_flow_mixes_with_the_water_of_all_of_it():
    run = work("antifreeze-run-through", 0, "water-box", quantity_l=2.0, **RUN)
    whole = replace(run, circuits=TWO_STROKE)
    poured = replace(run, act=Act.ANTIFREEZE_POURED)
    assert box(run).ice_point_c == box(whole).ice_point_c > box(poured).ice_point_c
    # What was seen dry before holds no water to mix with.
    dry = work("drained", -1, "cylinder-passages", "exhaust-jacket", "hoses", dry=True)
    assert box(dry, run).ice_point_c == box(poured).ice_point_c


def test_a_product_that_one_of_two_accounts_does_not_name_is_asked_for():
    said = {"quantity_l": 6.0, "outflow": Outflow.FULL_COLOUR}
    unnamed = work("antifreeze-poured", 0, "water-box", product=UNNAMED, **said)
    named = work("antifreeze-poured", 0.1, "water-box", product=SIXTY, **said)
    read = work("inspected", 1, "water-box", ice_point_c=-30.0, **ZEROED)
    why = box(unnamed, named, read).why
    assert "two kinds of glycol" not in why
    assert "correct the entry that does not name it" in why
    corrected = replace(named, replaces=unnamed.id)
    assert box(unnamed, corrected, read).basis is Basis.MEASURED
