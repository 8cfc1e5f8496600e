"""What a lay-up record adds up to, entry by entry."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.craft.circuit_events import Iced
from monitor.craft.layup import (
    ANTIFREEZE,
    Act,
    LayupEntry,
    Liquid,
    OilAppearance,
    Outflow,
    Posture,
    Product,
)
from monitor.craft.protection import Basis, Confidence, LayupState
from tests.craft.scene import EVE, NOON, PINK, STRONG, TWO_STROKE, held, record, work
from tests.tried import tried

POUR = {"product": STRONG, "quantity_l": 1.0, "outflow": Outflow.SEEN}


def state(*entries: LayupEntry, circuit: str = "cylinder-passages", **more):
    return held(record(*entries, **more))[circuit].state


def test_nothing_on_record_is_unknown_and_water():
    one = held(record())["hoses"]
    assert (one.state, one.basis, one.ice_point_c) == (LayupState.UNKNOWN, Basis.UNKNOWN, 0.0)


def test_poured_is_said_and_come_out_is_shown():
    poured = work("antifreeze-poured", 0, "cylinder-passages", product=STRONG, quantity_l=1.0)
    shown = work("antifreeze-poured", 1, "cylinder-passages", again=True, **POUR)
    assert state(poured) is LayupState.UNPROVEN
    assert state(poured, shown) is LayupState.PROVEN


def test_nothing_came_out_means_a_blocked_passage_whatever_was_poured_before():
    good = work("antifreeze-poured", 0, "cylinder-passages", ice_point_c=-30.0, product=STRONG)
    blocked = work("antifreeze-poured", 5, "cylinder-passages", **{**POUR, "outflow": Outflow.NONE})
    one = held(record(good, blocked))["cylinder-passages"]
    assert one.state is LayupState.UNPROVEN
    assert "blocked" in one.why


def test_a_reading_beats_the_mix_and_the_mix_beats_the_label():
    full = {"product": PINK, "outflow": Outflow.FULL_COLOUR}
    dry = work("drained", -1, "hoses", dry=True)
    label = work("antifreeze-poured", 0, "hoses", **full)
    full["again"] = True
    mix = work("antifreeze-poured", 1, "hoses", quantity_l=1.0, **full)
    read = work("antifreeze-poured", 2, "hoses", quantity_l=1.0, ice_point_c=-7.0, **full)
    assert held(record(dry, label))["hoses"].basis is Basis.LABEL
    assert held(record(mix))["hoses"].basis is Basis.COMPUTED
    one = held(record(label, mix, read))["hoses"]
    assert (one.basis, one.ice_point_c) == (Basis.MEASURED, -7.0)


def test_seen_coming_out_without_quantity_tells_nothing_of_its_strength():
    entry = work("antifreeze-poured", 0, "water-box", product=STRONG, outflow=Outflow.SEEN)
    assert state(entry, circuit="water-box") is LayupState.UNPROVEN


def test_a_water_box_cannot_be_drained_dry():
    entry = work("drained", 0, "water-box", dry=True)
    assert state(entry, circuit="water-box") is LayupState.UNKNOWN  # as if it were not there


def test_a_thermostat_block_counts_hot_or_filled_by_hand_or_probed_dry():
    run = {"product": STRONG, "quantity_l": 25.0, "outflow": Outflow.FULL_COLOUR}
    v8 = {"circuit": "block", "profile": "sterndrive-raw-water"}
    silent = work("antifreeze-run-through", 0, "block", **run)
    hot = work("antifreeze-run-through", 0, "block", engine_hot=True, **run)
    by_hand = work("antifreeze-poured", 0, "block", **run)
    probed = work("drained", -1, "block", dry=True)
    assert state(silent, **v8) is LayupState.UNPROVEN
    assert state(hot, **v8) is LayupState.PROVEN
    assert state(by_hand, **v8) is LayupState.UNPROVEN  # it passes what stands behind a drain
    assert state(probed, by_hand, **v8) is LayupState.PROVEN
    assert state(probed, **v8) is LayupState.PROVEN


@pytest.mark.parametrize("act", ["run-on-water", "flushed", "fuel-run-through"])
def test_a_run_on_water_voids_raw_circuits_and_leaves_oil(act):
    done = work("antifreeze-poured", 0, *TWO_STROKE, **{**POUR, "quantity_l": 6.0})
    oil = work("oil-changed", 1, "pump-housing", oil=OilAppearance.CLEAR)
    found = held(record(done, oil, work(act, 24)))
    assert {found[name].state for name in TWO_STROKE} == {LayupState.VOID}
    assert found["pump-housing"].state is LayupState.PROVEN


@pytest.mark.parametrize("act", ["circuit-opened", "port-left-open"])
def test_opening_voids_that_circuit_alone(act):
    done = work("antifreeze-poured", 0, "hoses", "water-box", **{**POUR, "quantity_l": 6.0})
    found = held(record(done, work(act, 24, "hoses")))
    assert (found["hoses"].state, found["water-box"].state) == (LayupState.VOID, LayupState.PROVEN)


def test_commissioning_voids_lake_water_and_plumbing_but_not_coolant():
    run = work("antifreeze-run-through", 0, "raw-side", "ballast-bags", ice_point_c=-30.0)
    coolant = work("inspected", 0, "coolant", ice_point_c=-37.0)
    spring = work("commissioned", 48)
    found = held(record(run, coolant, spring, profile="tow-boat"))
    assert found["raw-side"].state is found["ballast-bags"].state is LayupState.VOID
    assert found["coolant"].ice_point_c == -37.0


def test_a_torn_cover_makes_pockets_unknown():
    dry = work("drained", 0, "propeller-hub", dry=True, posture=Posture.UPRIGHT)
    torn = work("cover-torn", 24)
    outboard = {"profile": "outboard", "circuit": "propeller-hub"}
    assert state(dry, **outboard) is LayupState.PROVEN
    assert state(dry, torn, **outboard) is LayupState.UNKNOWN


def test_an_outboard_is_dry_only_upright_and_a_hub_fills_when_tilted():
    dry = {"dry": True, "posture": Posture.UPRIGHT}
    upright = work("drained", 0, "powerhead", "propeller-hub", **dry)
    tilted = work("drained", 0, "powerhead", "propeller-hub", dry=True, posture=Posture.TILTED)
    later = work("stood", 24, posture=Posture.TILTED)
    found = held(record(upright, later, profile="outboard"))
    assert found["powerhead"].state is LayupState.PROVEN
    assert found["propeller-hub"].state is LayupState.UNPROVEN
    assert state(tilted, profile="outboard", circuit="powerhead") is LayupState.UNPROVEN


def test_clear_oil_proves_a_housing_and_milky_oil_is_water():
    box = {"circuit": "pump-housing"}
    clear = work("oil-changed", 0, "pump-housing", oil=OilAppearance.CLEAR)
    milky = work("oil-changed", 0, "pump-housing", oil=OilAppearance.MILKY)
    silent = work("oil-changed", 0, "pump-housing")
    looked_again = work("inspected", 24, "pump-housing", oil=OilAppearance.CLEAR)
    assert state(clear, **box) is LayupState.PROVEN
    assert state(milky, **box) is LayupState.UNPROVEN
    assert state(silent, **box) is LayupState.UNPROVEN
    assert state(milky, looked_again, **box) is LayupState.PROVEN


def test_kept_warm_is_heat_only_in_heat_and_nothing_in_the_cold():
    warm = work("kept-warm", 0)
    assert state(warm, places=("stove-barn",)) is LayupState.HEAT_ONLY
    assert state(warm, places=("long-shed",)) is LayupState.UNPROVEN


def test_a_move_from_heat_into_cold_voids_what_only_heat_kept():
    warm = work("kept-warm", 0)
    treated = work("drained", 1, "hoses", dry=True)
    found = held(record(warm, treated, places=("stove-barn", "lee-rack")))
    assert found["water-box"].state is LayupState.VOID
    assert found["hoses"].state is LayupState.PROVEN
    assert state(warm, places=("stove-barn", "bench")) is LayupState.HEAT_ONLY


def test_the_owners_word_proves_nothing():
    one = held(record(work("owner-statement", 0, by="its owner")))["hoses"]
    assert one.state is LayupState.UNKNOWN
    assert "its owner's word" in one.why


def test_last_seasons_treatment_is_unknown_until_it_is_read_again():
    last_year = NOON.replace(year=2025)
    old = work(
        "antifreeze-run-through", 0, "water-box", at=last_year, ice_point_c=-30.0, quantity_l=6.0
    )
    again = work("inspected", 0, "water-box", ice_point_c=-28.0)
    box = {"circuit": "water-box", "arrived_at": last_year - timedelta(days=9)}
    assert state(old, **box) is LayupState.UNKNOWN
    assert state(old, again, **box) is LayupState.PROVEN


def test_an_unproven_circuit_below_its_ice_point_is_suspect_until_inspected():
    iced = (Iced(circuit="water-box", at=NOON + timedelta(days=3)),)
    drained = work("antifreeze-run-through", 96, "water-box", ice_point_c=-30.0, quantity_l=6.0)
    looked = work("inspected", 120, "water-box")
    found = held(record(drained, iced=iced))["water-box"]
    assert found.state is LayupState.PROVEN
    assert found.suspect_since == iced[0].at  # antifreeze mends no crack
    assert held(record(drained, looked, iced=iced))["water-box"].suspect_since is None


def test_a_proven_mix_that_was_part_ice_is_not_suspect_but_its_reading_is_stale():
    iced = (Iced(circuit="water-box", at=NOON + timedelta(days=3)),)
    read = work("antifreeze-run-through", 0, "water-box", ice_point_c=-5.0)
    one = held(record(read, iced=iced))["water-box"]
    assert one.suspect_since is None
    assert one.confidence is Confidence.LOW
    assert "read it again" in one.why


def test_readings_on_the_wrong_scale_or_of_ethanol_do_not_count():
    wrong = work(
        "antifreeze-run-through",
        0,
        "water-box",
        ice_point_c=-30.0,
        scale=Liquid.ETHYLENE,
        outflow=Outflow.FULL_COLOUR,
        product=PINK,
        quantity_l=6.0,
    )
    one = held(record(wrong))["water-box"]
    assert one.basis is Basis.COMPUTED
    assert one.ice_point_c > -12.8
    ethanol = Product(name="blend", liquid=Liquid.ETHANOL)
    blend = work("antifreeze-run-through", 0, "water-box", ice_point_c=-30.0, product=ethanol)
    assert state(blend, circuit="water-box") is LayupState.UNPROVEN


def test_two_kinds_of_glycol_poured_unseen_on_each_other_prove_nothing():
    first = work("antifreeze-poured", 0, "water-box", ice_point_c=-20.0, product=STRONG)
    green = Product(name="green", liquid=Liquid.ETHYLENE, strength=0.5)
    second = work("antifreeze-poured", 1, "water-box", product=green, quantity_l=1.0)
    assert state(first, second, circuit="water-box") is LayupState.UNPROVEN


def test_work_of_later_does_not_count_yet():
    done = work("antifreeze-poured", 0, "water-box", **POUR)
    one = record(done)
    assert held(one, NOON - timedelta(seconds=1))["water-box"].state is LayupState.UNKNOWN
    assert held(one, NOON)["water-box"].state is LayupState.PROVEN


@pytest.mark.parametrize("quantity_l", [None, 4.0])
def test_a_stronger_product_poured_unseen_is_given_no_credit(quantity_l):
    read = work("antifreeze-run-through", 0, "water-box", ice_point_c=-5.0, product=PINK)
    unseen = work(
        "antifreeze-poured", 1, "water-box", product=STRONG, quantity_l=quantity_l, again=True
    )
    one = held(record(read, unseen))["water-box"]
    assert (one.ice_point_c, one.basis) == (-5.0, Basis.MEASURED)


def test_a_weaker_product_poured_unseen_counts_against_it():
    read = work(
        "antifreeze-run-through", 0, "water-box", ice_point_c=-30.0, product=STRONG, quantity_l=9.0
    )
    unseen = work("antifreeze-poured", 1, "water-box", product=PINK, quantity_l=4.0, again=True)
    one = held(record(read, unseen))["water-box"]
    assert -30.0 < one.ice_point_c < -12.7  # between the reading and the product alone
    assert one.confidence is Confidence.LOW


def test_draining_without_a_probe_keeps_what_was_proven():
    read = work("antifreeze-run-through", 0, "hoses", ice_point_c=-30.0, quantity_l=6.0)
    drained = work("drained", 1, "hoses")
    assert held(record(read, drained))["hoses"].ice_point_c == -30.0


def test_a_probe_that_finds_water_takes_a_dry_circuit_back():
    dry = work("drained", 0, "hoses", dry=True)
    wet = work("drained", 1, "hoses", dry=False)
    assert state(dry, wet, circuit="hoses") is LayupState.UNPROVEN


# --- what must hold for every record ---

CIRCUITS = (*TWO_STROKE, "pump-housing")
strengths = st.floats(0.05, 0.6, allow_nan=False)
products = st.builds(
    Product,
    name=st.just("jug"),
    liquid=st.sampled_from([Liquid.PROPYLENE, Liquid.PROPYLENE, Liquid.ETHYLENE, Liquid.ETHANOL]),
    strength=st.none() | strengths,
    label_burst_c=st.none() | st.floats(-60, -8),
)


@st.composite
def entries(draw, acts=tuple(Act)):
    act = draw(st.sampled_from([one for one in acts if one is not Act.WITHDRAWN]))
    circuits = draw(st.lists(st.sampled_from(CIRCUITS), min_size=1, max_size=3, unique=True))
    return work(
        act,
        draw(st.integers(0, 200)),
        *circuits,
        by=draw(st.sampled_from(["Ines Aldaz", "Tom Varga"])),
        product=draw(st.none() | products),
        quantity_l=draw(st.none() | st.floats(0.05, 4.0)),
        outflow=draw(st.sampled_from(Outflow)),
        ice_point_c=draw(st.none() | st.floats(-40, -0.5)),
        dry=draw(st.none() | st.booleans()),
        oil=draw(st.none() | st.sampled_from(OilAppearance)),
        posture=draw(st.none() | st.sampled_from(Posture)),
        engine_hot=draw(st.none() | st.booleans()),
    )


@st.composite
def good_work(draw):
    """Work that proves a circuit: else chance would seldom draw anything to lose."""
    circuit = draw(st.sampled_from(CIRCUITS))
    hours = draw(st.integers(0, 200))
    if circuit == "pump-housing":
        return work("oil-changed", hours, circuit, oil=OilAppearance.CLEAR)
    liquid = draw(st.sampled_from([Liquid.PROPYLENE, Liquid.ETHYLENE]))
    product = Product(name="jug", liquid=liquid, strength=draw(strengths))
    if draw(st.booleans()):
        return work(
            "inspected", hours, circuit, ice_point_c=draw(st.floats(-40, -0.5)), scale=liquid
        )
    return work(
        "antifreeze-poured",
        hours,
        circuit,
        product=product,
        quantity_l=draw(st.floats(0.05, 4.0)),
        outflow=Outflow.SEEN,
    )


any_work = entries() | good_work()
LATER = NOON + timedelta(days=30)  # when all of it is done


def last(entry: LayupEntry) -> LayupEntry:
    return replace(entry, id="the-last", at=entry.at + timedelta(days=9))


@settings(max_examples=tried(50), deadline=None)
@given(st.lists(any_work, max_size=8), st.randoms(use_true_random=False))
def test_any_order_of_writing_gives_the_same_protection(work_done, chance):
    work_done = [replace(one, at=one.at + timedelta(minutes=n)) for n, one in enumerate(work_done)]
    shuffled = list(work_done)
    chance.shuffle(shuffled)
    assert held(record(*work_done)) == held(record(*shuffled))


@settings(max_examples=tried(50), deadline=None)
@given(
    st.lists(any_work, max_size=6),
    st.sampled_from(CIRCUITS),
    st.sampled_from(sorted(ANTIFREEZE)),
    st.none() | st.floats(0.05, 4.0),
    st.sampled_from([Outflow.NOT_LOOKED, Outflow.SEEN, Outflow.FULL_COLOUR]),
    st.data(),
)
def test_adding_stronger_antifreeze_never_raises_the_ice_point(
    before, circuit, act, quantity_l, outflow, data
):
    every = held(record(*before), LATER)
    found = every[circuit]
    if found.basis is Basis.DRAINED or found.glycol is Liquid.NOT_KNOWN:
        return  # any liquid ices sooner than none; and two glycols make a mix that nobody reads
    path = [every[name] for name in TWO_STROKE if every[name].basis is not Basis.DRAINED]
    if act is Act.ANTIFREEZE_RUN_THROUGH and any(
        (one.glycol_mass_fraction or 0.0) < (found.glycol_mass_fraction or 0.0)
        or len(one.went_in) > 1
        for one in path
    ):
        return  # a run goes through the whole path, and carries what is thinner there along
    weakest = found.glycol_mass_fraction or 0.05
    liquid = found.glycol or Liquid.PROPYLENE
    strength = data.draw(st.floats(min(weakest, 0.6), 0.6))
    more = last(
        work(
            act,
            200,
            circuit,
            outflow=outflow,
            quantity_l=quantity_l,
            again=True,
            product=Product(name="stronger", liquid=liquid, strength=strength),
        )
    )
    after = held(record(*before, more), LATER)[circuit]
    assert after.ice_point_c <= found.ice_point_c + 1e-9


@settings(max_examples=tried(50), deadline=None)
@given(
    st.lists(any_work, max_size=6),
    st.sampled_from(CIRCUITS),
    st.sampled_from([Act.DRAINED, Act.BLOWN_OUT]),
    st.sampled_from([None, True]),
)
def test_draining_never_lowers_protection(before, circuit, act, dry):
    found = held(record(*before), LATER)[circuit]
    after = held(record(*before, last(work(act, 200, circuit, dry=dry))), LATER)[circuit]
    assert after.ice_point_c <= found.ice_point_c
    assert after.burst_point_c <= found.burst_point_c


@settings(max_examples=tried(50), deadline=None)
@given(
    st.lists(any_work, min_size=1, max_size=6, unique_by=lambda one: one.id), entries(), st.data()
)
def test_a_correction_counts_as_if_it_had_been_written_at_once(work_done, right, data):
    wrong = data.draw(st.sampled_from(work_done))
    right = replace(right, id="right", at=wrong.at, replaces=wrong.id)
    written_right = replace(right, replaces="")
    at_once = [written_right if one.id == wrong.id else one for one in work_done]
    assert held(record(*work_done, right)) == held(record(*at_once))


@settings(max_examples=tried(60), deadline=None)
@given(st.lists(any_work, min_size=1, max_size=6, unique_by=lambda one: one.id), st.data())
def test_a_withdrawal_leaves_what_stood_without_the_entry(work_done, data):
    wrong = data.draw(st.sampled_from(work_done))
    gone = work("withdrawn", 300, replaces=wrong.id)
    rest = [one for one in work_done if one.id != wrong.id]
    assert held(record(*work_done, gone)) == held(record(*rest))


@settings(max_examples=tried(50), deadline=None)
@given(st.lists(any_work, max_size=8))
def test_only_proven_circuits_are_more_than_water(work_done):
    for one in held(record(*work_done), EVE).values():
        assert one.why
        if one.state is not LayupState.PROVEN:
            assert one.ice_point_c == 0.0
        assert one.burst_point_c <= one.ice_point_c


def test_the_season_turns_in_july():
    read = work("inspected", 0, "water-box", ice_point_c=-30.0)
    one = record(read)
    assert held(one, datetime(2027, 6, 30, 12, tzinfo=UTC))["water-box"].state is LayupState.PROVEN
    assert held(one, datetime(2027, 7, 2, 12, tzinfo=UTC))["water-box"].state is LayupState.UNKNOWN


def test_an_outboard_that_stands_upright_has_emptied_its_powerhead_unless_ice_or_a_block_is_in_it():
    stood = work("stood", 24, posture=Posture.UPRIGHT)
    done = held(record(stood, profile="outboard"))
    assert (done["powerhead"].state, done["powerhead"].basis) == (LayupState.PROVEN, Basis.DRAINED)
    assert done["powerhead"].confidence is Confidence.MEDIUM
    assert {done[name].state for name in ("gearcase", "propeller-hub")} == {LayupState.UNKNOWN}
    run = work("run-on-water", 30)
    assert held(record(stood, run, profile="outboard"))["powerhead"].state is LayupState.VOID
    tilted = work("stood", 24, posture=Posture.TILTED)
    assert held(record(tilted, profile="outboard"))["powerhead"].state is LayupState.UNKNOWN
    iced = (Iced(circuit="powerhead", at=NOON),)
    assert held(record(stood, profile="outboard", iced=iced))["powerhead"].ice_point_c == 0.0
    none = work("antifreeze-run-through", 0, "powerhead", outflow=Outflow.NONE)
    assert held(record(none, stood, profile="outboard"))["powerhead"].blocked
    # A drive's passages are no powerhead: they are probed.
    drive = held(record(stood, profile="sterndrive-raw-water"))["drive-passages"]
    assert drive.state is LayupState.UNKNOWN
