"""A reading proves nothing for a circuit into which water came, and no antifreeze since."""

from datetime import datetime

import pytest

from monitor.craft.layup import Act, Liquid, Outflow
from monitor.craft.protection import Basis, LayupState
from monitor.craft.reasons import Lack
from tests.craft.scene import NOON, STRONG, ZONE, held, record, work

READ = {"ice_point_c": -30.0, "scale": Liquid.PROPYLENE, "zeroed_on": NOON.date()}
SEEN = {"product": STRONG, "outflow": Outflow.FULL_COLOUR, "quantity_l": 12.0}


def box(*entries, circuit="water-box", **more):
    return held(record(*entries, **more))[circuit]


@pytest.mark.parametrize(
    "water",
    [
        work("run-on-water", 0),
        work("fuel-run-through", 0),
        work("flushed", 0),
        work("flushed", 0, outflow=Outflow.CLEAR_WATER),
        work("fogged-running", 0),
        work("commissioned", 0),
        work("brought-back", 0, used_away=True),
        work("inspected", 0, "water-box", dry=False),
        work("drained", 0, "water-box", dry=False),
        work("circuit-opened", 0, "water-box"),
        work("run-on-water", at=datetime(2026, 6, 20, 12, tzinfo=ZONE)),
    ],
    ids=lambda one: f"{one.act} {one.at:%B}",
)
def test_a_reading_after_water_and_no_pour_since_proves_nothing(water):
    read = work("inspected", 1, "water-box", **READ)
    one = box(water, read)
    assert one.state is not LayupState.PROVEN
    assert any(Lack.NO_POUR_SINCE_WATER in why.lacks for why in one.reasons)
    assert "no antifreeze is on record" in one.why
    pour = work("antifreeze-poured", 0.5, "water-box", **SEEN)
    assert box(water, pour, read).basis is Basis.MEASURED


def test_a_pour_before_the_water_explains_no_reading_after_it_in_a_later_season_either():
    last = datetime(2025, 11, 1, 12, tzinfo=ZONE)
    pour = work("antifreeze-poured", 0, "water-box", at=last, **SEEN)
    spring = work("commissioned", at=datetime(2026, 5, 1, 12, tzinfo=ZONE))
    read = work("inspected", 1, "water-box", **READ)
    assert box(pour, spring, read).state is not LayupState.PROVEN


def test_a_run_that_passed_unnamed_explains_a_reading():
    water = work("run-on-water", 0)
    run = work(Act.ANTIFREEZE_RUN_THROUGH, 0.5, "water-box", **SEEN)
    read = work("inspected", 1, "hoses", **{**READ, "ice_point_c": -20.0})
    assert box(water, run, circuit="hoses").state is not LayupState.PROVEN
    assert box(water, run, read, circuit="hoses").ice_point_c == -20.0


def test_a_coolant_loop_is_filled_without_an_entry_and_only_read():
    opened = work("circuit-opened", 0, "coolant")
    read = work("inspected", 1, "coolant", ice_point_c=-37.0, scale=Liquid.ETHYLENE)
    assert box(opened, read, circuit="coolant", profile="pwc-four-stroke").ice_point_c == -37.0
