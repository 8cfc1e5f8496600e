"""Records that were judged better for telling less, or the same thing twice."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from monitor.craft.layup import Liquid, Outflow, Posture, Product
from monitor.craft.protection import Basis, Confidence, LayupState
from monitor.craft.reasons import Because, Lack
from tests.craft.scene import FLOZ, NOON, PINK, STRONG, held, record, work

SEEN = {"product": STRONG, "outflow": Outflow.FULL_COLOUR}
GREEN = Product(name="green", liquid=Liquid.ETHYLENE, strength=0.5)


def box(*entries, circuit: str = "water-box", **more):
    return held(record(*entries, **more))[circuit]


def test_full_colour_without_a_quantity_is_no_better_than_with_one():
    # 14 fl oz of 30 % product into a box that holds 2 L: about 5 % of glycol, first ice at -1 °C.
    full = {"product": PINK, "outflow": Outflow.FULL_COLOUR}
    told = box(work("antifreeze-poured", 0, "water-box", quantity_l=14 * FLOZ, **full))
    untold = box(work("antifreeze-poured", 0, "water-box", **full))
    assert told.ice_point_c == pytest.approx(-1.2, abs=0.5)
    assert untold.ice_point_c >= told.ice_point_c
    assert untold.reasons[0].lacks == (Lack.QUANTITY,)


@pytest.mark.parametrize(
    ("undone", "profile", "circuit"),
    [
        (work("commissioned", 0), "pwc-two-stroke", "cylinder-passages"),
        (work("stood", 0, posture=Posture.TILTED), "outboard", "propeller-hub"),
    ],
    ids=["commissioned", "stood tilted"],
)
def test_at_one_and_the_same_minute_what_undoes_work_comes_after_it(undone, profile, circuit):
    # A day without an hour is its noon: the order of writing tells nothing.
    dry = work("drained", 0, circuit, posture=Posture.UPRIGHT, dry=True)
    before = held(record(dry, profile=profile))[circuit]
    after = held(record(dry, undone, profile=profile))[circuit]
    assert before.state is LayupState.PROVEN
    assert after.state is not LayupState.PROVEN


def test_one_pour_that_two_people_entered_counts_once_until_it_was_a_second():
    first = work("antifreeze-poured", 0, "water-box", quantity_l=1.0, **SEEN)
    told_again = replace(first, id="b", by="Tom Varga", at=first.at + timedelta(minutes=1))
    a_second = replace(told_again, again=True)
    once = box(first)
    assert box(first, told_again) == once
    assert box(first, a_second).ice_point_c < once.ice_point_c


ENGINE = {"profile": "inboard-raw-water", "circuit": "block"}


@pytest.mark.parametrize(
    ("first", "second", "where"),
    [
        ({"quantity_l": 1.0, "outflow": Outflow.NOT_LOOKED}, {"quantity_l": 1.0}, {}),
        ({"quantity_l": 1.0}, {"quantity_l": 1.0, "outflow": Outflow.CLEAR_WATER}, {}),
        ({"quantity_l": 1.0}, {"quantity_l": 2.0}, {}),
        ({"quantity_l": 2.0}, {"quantity_l": 2.0, "act": "antifreeze-run-through"}, {}),
        (
            {"quantity_l": 2.0},
            {"quantity_l": 2.0, "product": replace(STRONG, strength=0.59)},
            {},
        ),
        ({"quantity_l": 2.0}, {"quantity_l": 2.0, "product": Product(name="jug")}, {}),
        (
            {"quantity_l": 30.0, "act": "antifreeze-run-through", "engine_hot": True},
            {"quantity_l": 30.0, "act": "antifreeze-run-through", "engine_hot": False},
            ENGINE,
        ),
        (
            {"quantity_l": 0.5},
            {"quantity_l": 0.5, "ice_point_c": -20.0, "scale": Liquid.PROPYLENE},
            {},
        ),
    ],
    ids=["outflow", "clear water", "quantity", "act", "strength", "product", "hot", "reading"],
)
def test_of_two_accounts_of_one_pour_never_the_better_one_counts(first, second, where):
    circuit = where.get("circuit", "water-box")

    def pour(said, hours, **more):
        told = {"act": "antifreeze-poured", **SEEN, **said, **more}
        return work(told.pop("act"), hours, circuit, **told)

    alone = [box(pour(said, 0), **where).ice_point_c for said in (first, second)]
    for one, other in ((first, second), (second, first)):
        assert box(pour(one, 0), pour(other, 2), **where).ice_point_c == max(alone)
    corrected = pour(second, 2, replaces="first", id="second")
    assert box(pour(first, 0, id="first"), corrected, **where) == box(pour(second, 2), **where)


def test_what_a_second_account_cannot_do_is_said_with_the_way_to_do_it():
    bare = work("antifreeze-poured", 0, "water-box", product=STRONG, quantity_l=4.0)
    full = work("antifreeze-poured", 1, "water-box", quantity_l=4.0, **SEEN)
    told = box(bare, full)
    assert told.state is LayupState.UNPROVEN
    assert told.reasons[-1].because is Because.TOLD_AGAIN
    assert "correct the first entry, or enter it as a second pour" in told.why
    assert box(bare, replace(full, again=True)).state is LayupState.PROVEN


def test_a_pour_that_is_told_again_after_a_sample_of_it_changes_nothing():
    pour = work("antifreeze-poured", 0, "water-box", quantity_l=4.0, **SEEN)
    read = work("inspected", 1, "water-box", ice_point_c=-18.0, scale=Liquid.PROPYLENE)
    bare = work("antifreeze-poured", 2, "water-box", product=STRONG, quantity_l=6.0)
    assert box(pour, read, replace(pour, id="b", at=bare.at)) == box(pour, read)
    assert box(pour, read, bare).ice_point_c == -18.0
    assert box(pour, read, bare).confidence is Confidence.LOW


def test_what_came_after_a_pour_ends_its_being_told_again():
    first = work("antifreeze-poured", 0, "water-box", quantity_l=1.0, **SEEN)
    run = work("run-on-water", 1)
    repeated = replace(first, id="b", at=first.at + timedelta(hours=2))
    assert box(first, run, repeated).state is LayupState.PROVEN


def test_propylene_over_ethylene_is_proven_ethylene_no_more_and_no_scale_reads_it():
    green = work(
        "antifreeze-poured", 0, "water-box", ice_point_c=-30.0, scale=Liquid.ETHYLENE, product=GREEN
    )
    over = work("antifreeze-poured", 1, "water-box", quantity_l=4.0, **SEEN)
    read = work("inspected", 2, "water-box", ice_point_c=-30.0, scale=Liquid.PROPYLENE)
    one = box(green, over)
    assert one.glycol is Liquid.NOT_KNOWN
    # No credit for the ethylene: 4 L of 50 % on 2 L of water is 34 %, first ice at -15 °C.
    assert -17.0 < one.ice_point_c < -14.0
    assert one.confidence is Confidence.LOW
    assert box(green, over, read).basis is Basis.COMPUTED
    unseen = work("antifreeze-poured", 1, "water-box", product=STRONG)
    assert box(green, unseen).state is LayupState.UNPROVEN


def test_a_second_glycol_in_a_coolant_loop_undoes_its_reading():
    read = work("inspected", 0, "coolant", ice_point_c=-37.0, scale=Liquid.ETHYLENE)
    more = work("antifreeze-poured", 1, "coolant", product=STRONG, quantity_l=1.0)
    loop = {"circuit": "coolant", "profile": "pwc-four-stroke"}
    assert box(read, more, **loop).reasons[0].because is Because.TWO_GLYCOLS
    assert box(read, replace(more, product=GREEN), **loop).ice_point_c == -37.0


def test_a_pour_into_a_passage_with_a_dead_leg_needs_a_sample():
    raw = {"circuit": "raw-side", "profile": "pwc-four-stroke"}
    pour = work("antifreeze-poured", 0, "raw-side", quantity_l=2.0, **SEEN)
    read = work("antifreeze-poured", 0, "raw-side", quantity_l=2.0, ice_point_c=-30.0, **SEEN)
    assert Lack.DEAD_LEG in box(pour, **raw).reasons[0].lacks
    assert box(read, **raw).ice_point_c == -30.0


@pytest.mark.parametrize(
    ("scale", "zeroed_on", "confidence"),
    [
        (Liquid.PROPYLENE, date(2026, 11, 1), Confidence.HIGH),
        (Liquid.PROPYLENE, date(2026, 10, 20), Confidence.HIGH),
        (Liquid.PROPYLENE, None, Confidence.MEDIUM),
        (Liquid.PROPYLENE, date(2026, 9, 20), Confidence.MEDIUM),  # too long before it
        (Liquid.PROPYLENE, date(2026, 11, 3), Confidence.MEDIUM),  # two days after the reading
    ],
)
def test_a_reading_is_sure_only_with_a_zero_checked_shortly_before(scale, zeroed_on, confidence):
    read = work(
        "antifreeze-run-through",
        0,
        "water-box",
        ice_point_c=-15.0,
        product=STRONG,
        quantity_l=4.0,
        scale=scale,
        zeroed_on=zeroed_on,
    )
    one = box(read)
    assert (one.ice_point_c, one.confidence) == (-15.0, confidence)
    # Slush is trusted below -18 °C only in a mix whose strength was surely measured.
    assert (one.burst_point_c < -18.0) == (confidence is Confidence.HIGH)


def test_a_reading_that_cannot_count_still_speaks_against_what_is_reckoned():
    poured = work(
        "antifreeze-poured",
        0,
        "water-box",
        quantity_l=6.0,
        ice_point_c=-3.0,
        scale=Liquid.ETHYLENE,
        **SEEN,
    )
    # Ethylene's -3 °C is 9.4 % (ASHRAE); propylene of that index is weaker, and ices sooner.
    assert -3.0 < box(poured).ice_point_c < -1.9


def test_a_blocked_passage_stays_so_until_somebody_clears_it():
    stuck = work("antifreeze-poured", 0, "water-box", product=STRONG, outflow=Outflow.NONE)
    pour = work("antifreeze-poured", 2, "water-box", quantity_l=4.0, **SEEN)
    assert box(stuck, pour).reasons[0].because is Because.STILL_BLOCKED
    assert box(stuck, work("run-on-water", 1), pour).blocked
    assert box(stuck, work("repaired", 1, "water-box"), pour).state is LayupState.PROVEN


def test_a_pour_after_draining_unseen_does_not_count_on_what_stood_there():
    strong = work(
        "antifreeze-run-through", 0, "hoses", ice_point_c=-33.0, product=STRONG, quantity_l=9.0
    )
    drained = work("drained", 1, "hoses")
    said = {"product": PINK, "quantity_l": 1.0, "outflow": Outflow.SEEN, "again": True}
    pour = work("antifreeze-poured", 2, "hoses", **said)
    kept = box(strong, pour, circuit="hoses")
    perhaps_gone = box(strong, drained, pour, circuit="hoses")
    assert perhaps_gone.ice_point_c > kept.ice_point_c
    assert perhaps_gone.ice_point_c == pytest.approx(-12.7, abs=0.1)  # the product alone


def test_water_said_to_be_left_counts_for_a_first_pour_only():
    first = work("antifreeze-poured", 0, "water-box", quantity_l=1.0, **SEEN)
    second = work(
        "antifreeze-poured", 1, "water-box", quantity_l=1.0, residual_l=0.0, again=True, **SEEN
    )
    unmeasured = replace(first, quantity_l=None)
    assert box(unmeasured, second).ice_point_c >= box(first, second).ice_point_c
    run = work("run-on-water", 0.5)
    assert box(first, run, second).ice_point_c >= box(first, second).ice_point_c


def test_a_run_that_names_a_part_of_a_flow_reaches_all_of_it():
    done = work("antifreeze-run-through", 0, "water-box", "hoses", ice_point_c=-30.0)
    assert box(done, work("flushed", 1, "hoses")).state is LayupState.VOID


def test_a_gauge_of_the_glycol_is_a_typed_fact():
    said = {"product": GREEN, "quantity_l": 6.0, "outflow": Outflow.FULL_COLOUR}
    poured = work("antifreeze-poured", 0, "water-box", **said)
    read = work("inspected", 1, "water-box", ice_point_c=-20.0, scale=Liquid.ETHYLENE)
    assert box(poured, read).glycol is Liquid.ETHYLENE
    assert box(read).glycol is Liquid.NOT_KNOWN  # a scale is the instrument's
    assert box().glycol is None


@pytest.mark.parametrize("product", [STRONG, GREEN, Product(name="jug"), None])
def test_a_reading_without_its_scale_is_no_better_than_on_any_scale(product):
    said = {"quantity_l": 4.0, "outflow": Outflow.SEEN, "ice_point_c": -30.0, "product": product}
    for act in ("antifreeze-poured", "inspected"):
        told = said if act == "antifreeze-poured" else {"ice_point_c": -30.0}
        unsaid = box(work(act, 0, "water-box", scale=None, **told))
        for scale in (Liquid.PROPYLENE, Liquid.ETHYLENE):
            noted = box(work(act, 0, "water-box", scale=scale, **told))
            assert unsaid.ice_point_c >= noted.ice_point_c
            assert unsaid.burst_point_c >= noted.burst_point_c


def test_why_a_reading_without_its_scale_does_not_count_is_said():
    read = work("inspected", 0, "water-box", ice_point_c=-30.0, scale=None)
    assert "nobody noted the scale" in box(read).why


def test_no_reading_is_colder_than_the_product_undiluted():
    # Propylene glycol of 60 % ices at -51 °C (ASHRAE's table); none is ever liquid at -70.
    sixty = replace(STRONG, strength=0.6)
    said = {"product": sixty, "quantity_l": 1.0, "outflow": Outflow.FULL_COLOUR}
    computed = box(work("antifreeze-poured", 0, "water-box", **said))
    impossible = box(work("antifreeze-poured", 0, "water-box", ice_point_c=-70.0, **said))
    assert impossible.ice_point_c == computed.ice_point_c
    assert impossible.basis is Basis.COMPUTED
    assert "colder than what went in can make" in impossible.why
    assert box(work("inspected", 0, "water-box", ice_point_c=-70.0)).state is LayupState.UNKNOWN


def test_a_reading_far_colder_than_the_pour_on_record_can_make_is_no_evidence():
    # 1.3 L of 50 % on the 2 L of the box: 20 % if all of it mixes, first ice at -7 °C, and 33 %,
    # -15 °C, if it pushed water out before it and mixed with none of it. The box may hold less.
    said = {"product": STRONG, "quantity_l": 1.33, "outflow": Outflow.FULL_COLOUR}
    pour = work("antifreeze-poured", 0, "water-box", **said)
    assert box(pour).ice_point_c == pytest.approx(-7.2, abs=0.3)
    for reading, counts in ((-35.0, False), (-26.0, False), (-20.0, True)):
        with_it = work("antifreeze-poured", 0, "water-box", ice_point_c=reading, **said)
        afterwards = work("inspected", 1, "water-box", ice_point_c=reading)
        for found in (box(with_it), box(pour, afterwards)):
            assert found.ice_point_c == (reading if counts else box(pour).ice_point_c)
            assert counts or "colder than what went in can make" in found.why
    run = work("run-on-water", 1)
    assert box(pour, run, replace(afterwards, at=NOON + timedelta(hours=2))).ice_point_c == 0.0


def test_a_pour_that_says_how_little_water_was_left_makes_a_colder_reading_credible():
    said = {"product": STRONG, "quantity_l": 0.5, "outflow": Outflow.FULL_COLOUR}
    read = work("antifreeze-poured", 0, "water-box", ice_point_c=-25.0, residual_l=0.2, **said)
    opened = work("circuit-opened", -1, "water-box")  # no drain empties a low loop
    assert box(opened, read).ice_point_c == -25.0
    # Nobody let the water out: what was told of the rest was a wish.
    undrained = box(read)
    assert undrained.ice_point_c > -10.0
    assert "colder than what went in can make" in undrained.why


def test_a_flush_of_which_nobody_saw_the_end_leaves_the_first_glycol_in_the_mix():
    said = {"quantity_l": 4.0, "outflow": Outflow.FULL_COLOUR}
    green = work("antifreeze-poured", 0, "water-box", product=GREEN, **said)
    pink = work("antifreeze-poured", 2, "water-box", product=STRONG, **said)
    unseen = box(green, work("flushed", 1, "water-box"), pink)
    clear = box(green, work("flushed", 1, "water-box", outflow=Outflow.CLEAR_WATER), pink)
    assert unseen.went_in == {Liquid.ETHYLENE, Liquid.PROPYLENE}
    assert unseen.confidence is Confidence.LOW
    assert clear.went_in == {Liquid.PROPYLENE}
    assert clear.glycol is Liquid.PROPYLENE


def test_a_flush_that_nothing_came_out_of_is_a_blocked_passage():
    pink = work("antifreeze-poured", 2, "water-box", quantity_l=4.0, **SEEN)
    found = box(work("flushed", 1, "water-box", outflow=Outflow.NONE), pink)
    assert found.state is LayupState.UNPROVEN
    assert found.blocked


def test_clear_water_at_the_outlet_is_no_sign_of_antifreeze():
    said = {**SEEN, "outflow": Outflow.CLEAR_WATER}
    found = box(work("antifreeze-poured", 0, "water-box", quantity_l=4.0, **said))
    assert found.state is LayupState.UNPROVEN
    assert "clear water came out" in found.why


def test_a_product_that_nobody_named_is_not_taken_for_the_kind_poured_over_it():
    read = {"ice_point_c": -30.0, "scale": Liquid.PROPYLENE, "zeroed_on": NOON.date()}
    over = work("antifreeze-poured", 1, "water-box", quantity_l=4.0, **SEEN, **read)
    for unnamed in (None, Product(name="jug", strength=0.5)):
        under = work("antifreeze-poured", 0, "water-box", product=unnamed, quantity_l=2.0)
        named = replace(under, product=GREEN)
        less, more = box(under, over), box(named, over)
        assert less.basis is not Basis.MEASURED
        assert less.ice_point_c >= more.ice_point_c
        assert less.confidence in {Confidence.NONE, Confidence.LOW}
    alone = work("antifreeze-poured", 0, "water-box", outflow=Outflow.SEEN, quantity_l=4.0, **read)
    assert (box(alone).basis, box(alone).glycol) == (Basis.MEASURED, Liquid.NOT_KNOWN)
