"""Who made a craft safe: the last work since its alarm, else its move, else the weather."""

from dataclasses import replace
from datetime import timedelta

from monitor.craft.layup import Act
from monitor.craft.plan.start import PlanStart
from monitor.yard.alarm import Alarm, AlarmState, Priority
from monitor.yard.alarm_facts import HeadlineFacts
from monitor.yard.assessment import Certainty, Severity, Urgency
from monitor.yard.watch import what_made_safe
from tests.alarms.scene import craft
from tests.craft.scene import NOON, library, work

WREN = craft("K1", "Wren", "row")


def alarm(cleared_hours):
    return Alarm(
        id="a1",
        cause="frost",
        space="row",
        craft="K1",
        part="head-passages",
        state=AlarmState.RETURNED,
        priority=Priority.HIGH,
        raised_at=NOON,
        changed_at=NOON + timedelta(hours=cleared_hours),
        cleared_at=NOON + timedelta(hours=cleared_hours),
        urgency=Urgency.EXPECTED,
        severity=Severity.SEVERE,
        certainty=Certainty.LIKELY,
        headline=HeadlineFacts(subject="Wren"),
    )


def with_work(*entries):
    start = PlanStart(craft="K1", profile=library()["outboard"], held={}, entries=entries)
    return replace(WREN, plan_start=start)


def test_the_last_work_since_the_alarm_is_named():
    drained = work(Act.DRAINED, 2.0, by="vera", craft="K1")
    earlier = work(Act.DRAINED, -5.0, by="sam", craft="K1")
    said = what_made_safe(alarm(3.0), with_work(earlier, drained))
    assert (said.name, said.at, said.by) == ("Wren", drained.at, "vera")


def test_work_of_the_alarms_own_minute_counts_though_its_hour_is_written_to_the_minute():
    drained = work(Act.DRAINED, -40.0 / 3600.0, by="vera", craft="K1")
    assert what_made_safe(alarm(3.0), with_work(drained)).by == "vera"


def test_a_craft_that_was_moved_is_safe_since_then():
    moved = replace(WREN, since=NOON + timedelta(hours=1))
    said = what_made_safe(alarm(1.5), moved)
    assert (said.at, said.by) == (moved.since, "")


def test_where_nobody_did_anything_the_weather_ended_it():
    said = what_made_safe(alarm(20.0), with_work(work(Act.DRAINED, -5.0, by="sam", craft="K1")))
    assert (said.at, said.by) == (NOON + timedelta(hours=20), "")


def test_a_craft_that_has_left_is_called_by_its_id():
    assert what_made_safe(alarm(2.0), None).name == "K1"
