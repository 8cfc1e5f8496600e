"""The twelve craft of fictional Kettlemoss Yard, and what must be said of each on the eve."""

import math
from datetime import UTC, datetime

import pytest

from monitor.craft.protection import Basis, Confidence, LayupState
from monitor.craft.record import stored_craft
from monitor.craft.rules.examine import examine
from monitor.craft.stored import BatteryPlace
from tests.craft.scene import EVE, SHELTERS, TWO_STROKE, held, twelve

# Common practice, no source: what an experienced yard hand would say of each record.
# craft -> circuits that must not be proven, and the state that each is in
UNPROVEN = {
    "k1": {},
    "k2": {"cylinder-passages": "unproven"},
    "k3": {},
    "k4": {},
    "k5": {
        **{f"port-{name}": "unknown" for name in TWO_STROKE},
        "port-pump-housing": "unknown",
    },
    "k6": {},
    "k7": {"gearcase": "unproven", "propeller-hub": "unproven"},
    "k8": {"block": "unproven"},
    "k9": {"washdown-pump": "unknown", "shower": "unknown"},
    "k10": dict.fromkeys([*TWO_STROKE, "pump-housing"], "unknown"),
    "k11": dict.fromkeys(
        [
            "block",
            "manifolds",
            "raw-pump",
            "drive-passages",
            "drive-lube",
            "water-tank",
            "water-heater",
            "taps",
            "head-pump",
            "holding-tank",
        ],
        "void",
    ),
    "k12": dict.fromkeys(TWO_STROKE, "void"),
}


def test_the_file_holds_all_twelve():
    assert list(twelve()) == [f"k{n}" for n in range(1, 13)]


@pytest.mark.parametrize("craft", UNPROVEN)
def test_exactly_the_circuits_without_proof_are_judged_as_water(craft):
    found = {
        name: str(one.state)
        for name, one in held(twelve()[craft]).items()
        if one.state is not LayupState.PROVEN
    }
    assert found == UNPROVEN[craft]


@pytest.mark.parametrize("craft", UNPROVEN)
def test_whatever_is_not_proven_freezes_at_zero_and_says_why(craft):
    for one in held(twelve()[craft]).values():
        assert one.why
        if one.state is not LayupState.PROVEN:
            assert (one.ice_point_c, one.burst_point_c) == (0.0, 0.0)
            assert one.confidence is Confidence.NONE


@pytest.mark.parametrize("craft", ["k1", "k6"])
def test_craft_laid_up_well_break_no_rule(craft):
    assert examine(twelve()[craft], SHELTERS, EVE) == []


# craft, circuit -> ice point as the story tells it [°C], basis
@pytest.mark.parametrize(
    ("craft", "circuit", "ice_c", "basis"),
    [
        ("k1", "cylinder-passages", -30.0, Basis.MEASURED),
        ("k3", "raw-side", -5.0, Basis.MEASURED),
        ("k3", "coolant", -37.0, Basis.MEASURED),
        ("k5", "starboard-water-box", -28.0, Basis.MEASURED),
        ("k6", "powerhead", -math.inf, Basis.DRAINED),
        ("k9", "raw-side", -29.0, Basis.MEASURED),
        ("k9", "coolant", -37.0, Basis.MEASURED),
    ],
)
def test_readings_and_dry_circuits_stand_as_they_were_seen(craft, circuit, ice_c, basis):
    one = held(twelve()[craft])[circuit]
    assert (one.ice_point_c, one.basis) == (ice_c, basis)


def test_a_proven_mix_that_reads_thin_is_proven_thin_not_unproven():
    raw_side = held(twelve()["k3"])["raw-side"]
    assert raw_side.state is LayupState.PROVEN
    # Under 20 % of glycol slush earns no credit: it may burst from its first ice on.
    assert raw_side.burst_point_c == raw_side.ice_point_c == -5.0


def test_the_poured_water_box_is_proven_by_its_mix_and_wants_a_reading():
    box = held(twelve()["k2"])["water-box"]
    assert box.basis is Basis.COMPUTED
    # 12 fl oz of 50 % by mass into 8 fl oz of water: 30.5 %; CoolProp's MPG ices at -13.2 °C there.
    assert box.ice_point_c == pytest.approx(-13.2, abs=0.5)
    rules = {(one.rule, one.part) for one in examine(twelve()["k2"], SHELTERS, EVE)}
    assert ("reading-missing", "water-box") in rules
    assert ("passage-blocked", "cylinder-passages") in rules


def test_pink_at_the_exhaust_of_a_cold_engine_proves_nothing_of_its_block():
    block = held(twelve()["k8"])["block"]
    assert block.state is LayupState.UNPROVEN
    assert "thermostat" in block.why
    assert "cold-thermostat" in {one.rule for one in examine(twelve()["k8"], SHELTERS, EVE)}


def test_the_dead_maintainer_is_told_with_its_voltage():
    sora = stored_craft(twelve()["k4"], SHELTERS, EVE)
    assert sora is not None
    assert sora.battery is not None
    battery = sora.battery
    assert (battery.place, battery.space, battery.maintained, battery.rested_v) == (
        BatteryPlace.ABOARD,
        "north-row",
        False,
        11.9,
    )
    assert "battery-unfed" in {one.rule for one in examine(twelve()["k4"], SHELTERS, EVE)}


def test_batteries_on_the_bench_stand_in_its_air():
    teal = stored_craft(twelve()["k1"], SHELTERS, EVE)
    assert teal is not None
    assert teal.battery is not None
    assert (teal.battery.space, teal.battery.maintained) == ("bench", True)


def test_the_auction_buy_is_unknown_and_only_heat_keeps_it():
    for one in held(twelve()["k10"]).values():
        assert one.basis is Basis.UNKNOWN
        assert "only the heat of Stove Barn keeps it" in one.why


def test_the_cuddy_was_heat_only_until_it_was_moved_out():
    before = held(twelve()["k11"], datetime(2026, 11, 12, 14, 59, tzinfo=UTC))  # a minute before 9
    after = held(twelve()["k11"], datetime(2026, 11, 12, 15, 0, tzinfo=UTC))
    assert {one.state for one in before.values()} == {LayupState.HEAT_ONLY}
    assert {one.state for one in after.values()} == {LayupState.VOID}
    assert "moved-into-cold" in {one.rule for one in examine(twelve()["k11"], SHELTERS, EVE)}


def test_two_minutes_on_the_hose_void_a_good_lay_up():
    ran = datetime(2026, 11, 9, 11, 0, tzinfo=EVE.tzinfo)
    assert (
        held(twelve()["k12"], datetime(2026, 11, 9, 10, 59, tzinfo=EVE.tzinfo))[
            "water-box"
        ].ice_point_c
        == -30.0
    )
    voided = [
        one for one in examine(twelve()["k12"], SHELTERS, EVE) if one.at == ran.astimezone(UTC)
    ]
    assert "run-after-lay-up" in {one.rule for one in voided}


def test_a_probe_in_the_v8_replaces_the_estimate_and_says_so():
    heron = stored_craft(twelve()["k8"], SHELTERS, EVE)
    assert heron is not None
    [block] = [one for one in heron.circuits if one.id == "block"]
    assert (block.lag_low_h, block.lag_high_h) == (12.0, 14.0)
    assert "measured" in block.figures
