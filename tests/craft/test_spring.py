"""The spring list and the findings that it must not forget."""

from datetime import UTC, datetime, timedelta

import pytest

from monitor.craft.account import Iced
from monitor.craft.findings import findings, open_findings
from monitor.craft.layup import Seen
from monitor.craft.spring import spring_list
from monitor.yard.assessment import Caution
from tests.craft.scene import NOON, SHELTERS, STRONG, record, twelve, work

APRIL = datetime(2027, 4, 20, 15, 0, tzinfo=UTC)
SEAL = Seen(id="k1-seal", part="pump", words="seal weeps")


def titles(one, at=APRIL):
    return [step.title for step in spring_list(one, SHELTERS, at)]


@pytest.mark.parametrize("craft", [f"k{n}" for n in range(1, 13)])
def test_the_start_comes_last_and_outdoors_whatever_the_craft(craft):
    steps = spring_list(twelve()[craft], SHELTERS, APRIL)
    assert [step.title for step in steps[-2:]] == [
        "First start, outdoors",
        "Enter it as commissioned",
    ]
    assert "carbon monoxide" in {str(care) for care in steps[-2].cautions}
    assert {str(care) for step in steps for care in step.cautions} <= {one.value for one in Caution}


def test_antifreeze_is_caught_from_the_circuits_that_hold_it():
    [drain] = [
        step
        for step in spring_list(twelve()["k5"], SHELTERS, APRIL)
        if step.title == "Drain and catch the antifreeze"
    ]
    assert all(name.startswith("starboard") for name in drain.circuits)
    assert [str(care) for care in drain.cautions] == ["glycol"]


def test_coolant_that_stays_in_is_not_drained():
    drained = {
        name
        for step in spring_list(twelve()["k9"], SHELTERS, APRIL)
        for name in step.circuits
        if step.title == "Drain and catch the antifreeze"
    }
    assert "coolant" not in drained
    assert "raw-side" in drained


def test_drained_circuits_are_closed_before_water_comes():
    assert "Close what was opened to drain" in titles(twelve()["k6"])


def test_a_suspect_circuit_is_inspected_before_anything_runs():
    iced = (Iced(circuit="water-box", at=NOON + timedelta(days=3)),)
    steps = titles(record(iced=iced))
    assert steps.index("Inspect exhaust water box") < steps.index("First start, outdoors")


def test_water_first_or_engine_first_as_the_pump_wants_it():
    def start(craft):
        return spring_list(twelve()[craft], SHELTERS, APRIL)[-2].words

    assert "engine on, water on; water off, engine off" in start("k1")
    assert "water on, engine on; engine off, water off" in start("k8")


def test_a_battery_left_aboard_is_looked_at_for_frost_first():
    [step] = [one for one in spring_list(twelve()["k4"], SHELTERS, APRIL) if one.title == "Battery"]
    assert "bulges" in step.words
    assert "frozen battery" in {str(care) for care in step.cautions}


def test_open_findings_stand_on_the_list_and_settled_ones_do_not():
    seen = work("inspected", 0, findings=(SEAL,))
    mended = work("repaired", 48, settles=("k1-seal",))
    assert "Settle finding k1-seal" in titles(record(seen))
    assert "Settle finding k1-seal" not in titles(record(seen, mended))


def test_a_finding_keeps_its_date_and_finder_after_it_is_settled():
    seen = work("inspected", 0, findings=(SEAL,))
    mended = work("repaired", 48, settles=("k1-seal",))
    [one] = findings((seen, mended), APRIL)
    assert (one.found_at, one.by, one.settled_at) == (seen.at, "Ines Aldaz", mended.at)
    assert open_findings((seen, mended), APRIL) == []
    assert open_findings((seen, mended), NOON + timedelta(hours=1)) == [findings((seen,), APRIL)[0]]


def test_commissioned_craft_have_nothing_left_to_drain():
    run = work("antifreeze-run-through", 0, "water-box", product=STRONG, ice_point_c=-30.0)
    one = record(run, work("commissioned", 24 * 160))
    assert "Drain and catch the antifreeze" not in titles(one)
