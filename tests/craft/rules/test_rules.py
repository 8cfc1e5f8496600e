"""Each rule of the trade: a record that breaks it, and one like it that does not."""

from dataclasses import dataclass, replace
from datetime import UTC, timedelta

import pytest

from monitor.craft.circuit_events import Iced
from monitor.craft.layup import (
    Act,
    FlowOrder,
    Liquid,
    OilAppearance,
    Outflow,
    Posture,
    Product,
    Seen,
)
from monitor.craft.plan.shelf import USUAL_SHELF
from monitor.craft.profile import CircuitKind
from monitor.craft.record import CraftRecord, layup_plan
from monitor.craft.rules.case import Breach, Case
from monitor.craft.rules.examine import RULES, examine
from monitor.craft.rules.mending import step_that_mends
from monitor.wording import Wording
from tests.craft.scene import EVE, NOON, PINK, SHELTERS, STRONG, TWO_STROKE, library, record, work

RUN = {"product": STRONG, "quantity_l": 6.0, "outflow": Outflow.FULL_COLOUR}
READ = {"ice_point_c": -30.0, "scale": Liquid.PROPYLENE, "zeroed_on": NOON.date()}
THROUGH = work("antifreeze-run-through", 0, *TWO_STROKE, **RUN, **READ)
LAST_YEAR = NOON.replace(year=2025)
V8 = {"profile": "sterndrive-raw-water"}
OUTBOARD = {"profile": "outboard"}
TWIN = {"profile": "jet-boat-twin"}
TOW = {"profile": "tow-boat"}
WARM = {"places": ("stove-barn", "lee-rack")}
GREEN = Product(name="green", liquid=Liquid.ETHYLENE, strength=0.5)
RATED = Product(name="rated", liquid=Liquid.PROPYLENE, strength=0.25, label_burst_c=-46.0)
UPRIGHT = work("drained", 0, "propeller-hub", dry=True, posture=Posture.UPRIGHT)
FOGGED = work("fogged-plug-holes", 2)
DRIPS = Seen(id="drips", part="hoses", words="one still drips")
ICED = (Iced(circuit="water-box", at=NOON + timedelta(days=3)),)


@dataclass(frozen=True)
class Pair:
    rule: str
    broken: CraftRecord
    kept: CraftRecord


def block_run(**said):
    return record(work("antifreeze-run-through", 0, "block", **RUN, **READ, **said), **V8)


PAIRS = [
    Pair(
        "repair-after-lay-up",
        record(THROUGH, work("repaired", 24)),
        record(work("repaired", -24), THROUGH),
    ),
    Pair(
        "stabiliser-after-last-run",
        record(work("fuel-run-through", 0), work("fuel-stabilised", 1)),
        record(work("fuel-stabilised", 0), work("fuel-run-through", 1)),
    ),
    Pair(  # each engine for itself
        "stabiliser-after-last-run",
        record(work("fuel-stabilised", 0), work("fuel-run-through", 1, "port-hoses"), **TWIN),
        record(
            work("fuel-stabilised", 0),
            work("fuel-run-through", 1, "port-hoses"),
            work("fuel-drained", 2, "starboard-hoses"),
            **TWIN,
        ),
    ),
    Pair(
        "water-order",
        record(work("fuel-run-through", 0, flow_order=FlowOrder.WATER_FIRST)),
        record(work("fuel-run-through", 0, flow_order=FlowOrder.ENGINE_FIRST)),
    ),
    Pair(  # the reverse where a rubber impeller must not run dry
        "water-order",
        record(work("fuel-run-through", 0, flow_order=FlowOrder.ENGINE_FIRST), **OUTBOARD),
        record(work("fuel-run-through", 0, flow_order=FlowOrder.WATER_FIRST), **OUTBOARD),
    ),
    Pair("cold-thermostat", block_run(engine_hot=False), block_run(engine_hot=True)),
    Pair("fog-not-last", record(FOGGED, work("run-on-water", 3)), record(THROUGH, FOGGED)),
    Pair(  # each engine for itself
        "fog-not-last",
        record(work("fogged-plug-holes", 0), work("run-on-water", 3, "port-hoses"), **TWIN),
        record(
            work("fogged-plug-holes", 0, "port-hoses"),
            work("run-on-water", 3, "starboard-hoses"),
            **TWIN,
        ),
    ),
    Pair(
        "passage-blocked",
        record(work("antifreeze-poured", 0, "hoses", product=STRONG, outflow=Outflow.NONE)),
        record(
            work("antifreeze-poured", 0, "hoses", product=STRONG, outflow=Outflow.NONE),
            work("drained", 1, "hoses", dry=True),
        ),
    ),
    Pair(
        "water-in-oil",
        record(work("oil-changed", 0, "pump-housing", oil=OilAppearance.MILKY)),
        record(
            work("oil-changed", 0, "pump-housing", oil=OilAppearance.MILKY),
            work("inspected", 24, "pump-housing", oil=OilAppearance.CLEAR),
        ),
    ),
    Pair(
        "water-in-engine-oil",
        record(work("oil-changed", 0, oil=OilAppearance.MILKY), **V8),
        record(
            work("oil-changed", 0, oil=OilAppearance.MILKY),
            work("oil-changed", 2, oil=OilAppearance.CLEAR),
            **V8,
        ),
    ),
    Pair(
        "battery-unfed",
        record(work("battery-left-aboard", 0), work("battery-off-maintainer", 5)),
        record(work("battery-left-aboard", 0), work("battery-on-maintainer", 1)),
    ),
    Pair(
        "reading-beats-product",
        record(work("antifreeze-poured", 0, "hoses", product=PINK, ice_point_c=-25.0)),
        record(work("antifreeze-poured", 0, "hoses", product=PINK, ice_point_c=-12.0)),
    ),
    Pair(
        "burst-rating-as-ice-point",
        record(work("antifreeze-poured", 0, "hoses", product=RATED, ice_point_c=-46.0)),
        record(work("antifreeze-poured", 0, "hoses", product=RATED, ice_point_c=-9.0)),
    ),
    Pair(
        "reading-not-readable",
        record(
            work(
                "antifreeze-poured",
                0,
                "hoses",
                product=PINK,
                ice_point_c=-12.0,
                scale=Liquid.ETHYLENE,
            )
        ),
        record(
            work(
                "antifreeze-poured",
                0,
                "hoses",
                product=PINK,
                ice_point_c=-12.0,
                scale=Liquid.PROPYLENE,
            )
        ),
    ),
    Pair(
        "reading-without-flow",
        record(work("antifreeze-poured", 0, "hoses", outflow=Outflow.NONE, ice_point_c=-12.0)),
        record(work("antifreeze-poured", 0, "hoses", outflow=Outflow.SEEN, ice_point_c=-12.0)),
    ),
    Pair(
        "run-without-battery",
        record(work("battery-removed", 0, space="bench"), work("run-on-water", 24)),
        record(work("run-on-water", 0), work("battery-removed", 24, space="bench")),
    ),
    Pair(
        "finding-in-doubt",
        record(work("drained", 0, "hoses", dry=True, findings=(DRIPS,))),
        record(
            work("drained", 0, "hoses", dry=True, findings=(DRIPS,)),
            work("inspected", 24, "hoses", dry=True),
        ),
    ),
    Pair(
        "claim-without-meaning",
        record(work("drained", 0, "water-box", dry=True)),
        record(work("drained", 0, "hoses", dry=True)),
    ),
    Pair(
        "warm-in-the-cold",
        record(work("kept-warm", 0), places=("long-shed",)),
        record(work("kept-warm", 0), places=("stove-barn",)),
    ),
    Pair(
        "ethylene-in-plumbing",
        record(work("antifreeze-run-through", 0, "shower", product=GREEN), **TOW),
        record(work("antifreeze-run-through", 0, "shower", product=STRONG), **TOW),
    ),
    Pair(
        "circuit-missing",
        record(work("drained", 0, "powerhead", dry=True, posture=Posture.UPRIGHT), **OUTBOARD),
        record(
            UPRIGHT, work("drained", 0, "powerhead"), work("oil-changed", 0, "gearcase"), **OUTBOARD
        ),
    ),
    Pair(
        "reading-missing",
        record(work("antifreeze-run-through", 0, *TWO_STROKE, **RUN)),
        record(THROUGH),
    ),
    Pair(
        "outflow-not-noted",
        record(work("antifreeze-poured", 0, "hoses", product=STRONG)),
        record(work("antifreeze-poured", 0, "hoses", product=STRONG, outflow=Outflow.SEEN)),
    ),
    Pair(
        "fuel-not-seen",
        record(work("fuel-run-through", 0)),
        record(work("fuel-run-through", 0, treated_fuel_seen=True)),
    ),
    Pair(  # each engine for itself
        "fuel-not-seen",
        record(
            work("fuel-run-through", 0, "port-hoses", treated_fuel_seen=True),
            work("fuel-run-through", 1, "starboard-hoses"),
            **TWIN,
        ),
        record(
            work("fuel-run-through", 0, "port-hoses", treated_fuel_seen=True),
            work("fuel-run-through", 1, "starboard-hoses", treated_fuel_seen=True),
            **TWIN,
        ),
    ),
    Pair("run-after-lay-up", record(THROUGH, work("run-on-water", 24)), record(THROUGH)),
    Pair(
        "circuit-opened",
        record(THROUGH, work("circuit-opened", 24, "hoses")),
        record(
            THROUGH, work("circuit-opened", 24, "hoses"), work("drained", 25, "hoses", dry=True)
        ),
    ),
    Pair(
        "port-left-open",
        record(THROUGH, work("port-left-open", 24, "cylinder-passages")),
        record(THROUGH, work("port-left-open", -24, "cylinder-passages")),
    ),
    Pair("commissioned", record(THROUGH, work("commissioned", 24)), record(THROUGH)),
    Pair(
        "cover-torn",
        record(UPRIGHT, work("cover-torn", 24), **OUTBOARD),
        record(work("cover-torn", -24), UPRIGHT, **OUTBOARD),
    ),
    Pair(
        "cover-off",
        record(UPRIGHT, work("cover-off", 24), **OUTBOARD),
        record(work("cover-off", -24), UPRIGHT, **OUTBOARD),
    ),
    Pair(
        "stands-wrong",
        record(UPRIGHT, work("stood", 24, posture=Posture.TILTED), **OUTBOARD),
        record(UPRIGHT, work("stood", 24, posture=Posture.UPRIGHT), **OUTBOARD),
    ),
    Pair(
        "moved-into-cold",
        record(work("kept-warm", 0), **WARM),
        record(
            work("kept-warm", 0),
            THROUGH,
            work("oil-changed", 1, "pump-housing", oil=OilAppearance.CLEAR),
            **WARM,
        ),
    ),
    # Common practice, no source: how long stabiliser, fog film, desiccant and a zero keep.
    Pair(
        "stabiliser-old",
        record(work("fuel-stabilised", 0, at=EVE - timedelta(days=370))),
        record(work("fuel-stabilised", 0, at=EVE - timedelta(days=360))),
    ),
    Pair(
        "fog-old",
        record(work("fogged-plug-holes", 0, at=EVE - timedelta(days=190))),
        record(work("fogged-plug-holes", 0, at=EVE - timedelta(days=170))),
    ),
    Pair(
        "desiccant-old",
        record(work("desiccant-placed", 0, at=EVE - timedelta(days=70))),
        record(
            work("desiccant-placed", 0, at=EVE - timedelta(days=70)),
            work("desiccant-placed", 0, at=EVE - timedelta(days=5)),
        ),
    ),
    Pair(
        "refractometer-unchecked",
        record(
            work(
                "inspected",
                0,
                "hoses",
                ice_point_c=-20.0,
                zeroed_on=NOON.date() - timedelta(days=60),
            )
        ),
        record(
            work(
                "inspected",
                0,
                "hoses",
                ice_point_c=-20.0,
                zeroed_on=NOON.date() - timedelta(days=6),
            )
        ),
    ),
    Pair(
        "last-season",
        record(work("drained", 0, "hoses", at=LAST_YEAR, dry=True)),
        record(
            work("drained", 0, "hoses", at=LAST_YEAR, dry=True),
            work("inspected", 0, "hoses", dry=True),
        ),
    ),
    Pair(
        "reading-stale",
        record(THROUGH, iced=ICED),
        record(THROUGH, work("inspected", 120, "water-box", ice_point_c=-29.0), iced=ICED),
    ),
]
WANTED = {
    "fuel-stabilised": "fuel-stabilised",
    "fuel-tank-emptied": "fuel-tank-emptied",
    "fogged-plug-holes": "fogged-plug-holes",
    "battery-removed": "battery-removed",
    "cover-fitted": "cover-fitted",
    "rodent-care": "rodent-care",
    "sprayed-down": "sprayed-down",
}


def broken(one: CraftRecord) -> set[str]:
    return {breach.rule for breach in examine(one, SHELTERS, EVE)}


@pytest.mark.parametrize("pair", PAIRS, ids=lambda pair: pair.rule)
def test_a_rule_finds_the_record_that_breaks_it_and_leaves_the_one_that_does_not(pair):
    assert pair.rule in broken(pair.broken)
    assert pair.rule not in broken(pair.kept)


@pytest.mark.parametrize("act", WANTED)
def test_work_that_belongs_to_a_lay_up_is_missed_until_it_is_entered(act):
    before, after = record(THROUGH), record(THROUGH, work(act, 1))

    def missing(one: CraftRecord) -> list[str]:
        return [
            breach.why
            for breach in examine(one, SHELTERS, EVE)
            if breach.rule == "work-missing" and act in breach.why
        ]

    assert missing(before)
    assert not missing(after)


def test_bowls_that_were_emptied_leave_the_tank_without_stabiliser():
    left = [one.why for one in breaches(record(work("fuel-drained", 0)), "work-missing")]
    assert any("fuel-stabilised or fuel-tank-emptied" in why for why in left)


def breaches(one: CraftRecord, rule: str) -> list[Breach]:
    return [breach for breach in examine(one, SHELTERS, EVE) if breach.rule == rule]


@pytest.mark.parametrize("act", ["fogged-plug-holes", "fuel-drained"])
@pytest.mark.parametrize(("done", "missed"), [("port", "starboard"), ("starboard", "port")])
def test_work_on_one_engine_of_two_is_missed_of_the_other(act, done, missed):
    def missing(*entries):
        found = breaches(record(*entries, **TWIN), "work-missing")
        return [one for one in found if act in one.why]

    one_engine = missing(work(act, 0, f"{done}-hoses"))
    assert one_engine
    assert {one.part for one in one_engine} == {missed}
    assert all(f"not on record for the {missed} engine" in one.why for one in one_engine)
    assert not missing(work(act, 0, f"{done}-hoses"), work(act, 1, f"{missed}-hoses"))
    assert not missing(work(act, 0))
    assert {one.part for one in missing()} == {""}


def test_antifreeze_through_the_plumbing_brings_no_treated_fuel_to_the_engine():
    craft = {"profile": "cuddy"}
    profile = library()["cuddy"]
    pipe = next(one.circuit.id for one in profile.circuits if one.kind is CircuitKind.PLUMBING)
    through = work("antifreeze-run-through", 0, pipe)
    wants = [one for one in profile.wants if Act.ANTIFREEZE_RUN_THROUGH in one.acts]
    found = {one.why for one in breaches(record(through, **craft), "work-missing")}
    assert all(any(want.reason in why for why in found) for want in wants)


@pytest.mark.parametrize(("ran", "still"), [("port", "starboard"), ("starboard", "port")])
def test_stabiliser_names_the_engine_that_did_not_run_and_the_step_on_that_engine(ran, still):
    # The one that ran was stabilised anew, so that the plan runs it too.
    one = record(
        work("fuel-stabilised", 0),
        work("fuel-run-through", 1, f"{ran}-hoses"),
        work("antifreeze-poured", 2, f"{still}-hoses", outflow="none"),
        **TWIN,
    )
    [breach] = breaches(one, "stabiliser-after-last-run")
    assert breach.part == still
    step = step_that_mends(breach, one, layup_plan(one, SHELTERS, EVE, -20.0, USUAL_SHELF))
    assert step is not None
    assert not step.circuits or any(name.startswith(still) for name in step.circuits)


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.__name__)
def test_every_rule_has_a_record_that_breaks_it(rule):
    named = {pair.rule for pair in PAIRS} | {"work-missing"}
    found = {
        breach.rule
        for pair in PAIRS
        for breach in rule(
            Case(record=pair.broken, shelters=SHELTERS, at=EVE.astimezone(UTC), words=Wording())
        )
    }
    assert found
    assert found <= named


DAY = {"day_began": NOON - timedelta(hours=12)}
IN_ORDER = [
    ("run-after-lay-up", {}, THROUGH, work("run-on-water", 0)),
    ("stabiliser-after-last-run", {}, work("fuel-run-through", 0), work("fuel-stabilised", 0)),
    ("fog-not-last", {}, work("fogged-plug-holes", 0), work("run-on-water", 0)),
    ("repair-after-lay-up", {}, THROUGH, work("repaired", 0)),
    ("run-without-battery", {}, work("battery-removed", 0, space="bench"), work("flushed", 0)),
    ("cover-off", OUTBOARD, UPRIGHT, work("cover-off", 0)),
]


@pytest.mark.parametrize("hours_told", [True, False], ids=["one hour", "one day"])
@pytest.mark.parametrize(
    ("rule", "craft", "first", "then"), IN_ORDER, ids=[row[0] for row in IN_ORDER]
)
def test_of_work_told_for_one_hour_or_day_a_rule_goes_by_its_order(
    rule, craft, first, then, hours_told
):
    told = [one if hours_told else replace(one, **DAY) for one in (first, then)]
    assert rule in broken(record(*told, **craft))
    assert rule not in broken(record(*reversed(told), **craft))


def test_every_breach_says_what_is_wrong_and_what_to_do():
    for pair in PAIRS:
        for breach in examine(pair.broken, SHELTERS, EVE):
            assert breach.why
            assert breach.remedy.endswith((".", "?"))


def test_work_of_later_breaks_nothing_yet():
    one = record(THROUGH, work("run-on-water", 24))
    assert "run-after-lay-up" not in {
        breach.rule for breach in examine(one, SHELTERS, NOON + timedelta(hours=23))
    }


def test_a_replaced_entry_breaks_nothing():
    slip = work("run-on-water", 24)
    one = record(THROUGH, slip, work("withdrawn", 25, replaces=slip.id))
    assert "run-after-lay-up" not in broken(one)


def test_two_readings_of_one_day_without_a_zero_are_told_apart():
    box = work("inspected", 0, "water-box", ice_point_c=-30.0)
    hoses = work("inspected", 1, "hoses", "cylinder-passages", ice_point_c=-30.0)
    told = [
        one.why
        for one in examine(record(box, hoses), SHELTERS, EVE)
        if one.rule == "refractometer-unchecked"
    ]
    assert len(set(told)) == 2
    assert "of exhaust water box" in told[0]
    assert "of cooling, bailer and flush hoses and 1 more" in told[1]
