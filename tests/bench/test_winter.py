"""Two days of the winter drill: two faults, and nothing and nobody is missed."""

from dataclasses import replace

from tests.bench.winter.drill import drill
from tests.bench.winter.faults import Fault, daemon_away, mail_away
from tests.bench.winter.places import sqlite_place
from tests.bench.winter.verdict import compare, not_arrived

AWAY = Fault(name="daemon killed -9, away", hours=6, strike=daemon_away)
MUTE = Fault(name="mail server away", hours=8, strike=mail_away)


def test_two_days_with_faults_lose_no_reading_and_no_letter(tmp_path):
    with sqlite_place() as calm, sqlite_place() as place:
        came = drill(
            tmp_path, calm, place, days=2, seed=3, faults=(AWAY, MUTE), rest_h=3, first_h=4
        )
    assert came.failures() == []
    assert [one.fault.name for one in came.struck][:2] == [AWAY.name, MUTE.name]
    assert came.starts == 1 + sum(one.fault is AWAY for one in came.struck)
    assert came.calm.readings == came.disturbed.readings == 2 * 96 * (6 * 2 + 3 * 3)
    assert came.due > 0
    # What is held of it can fail: a letter, an alarm and a person less are each missed.
    cut = replace(came.disturbed, arrived=came.disturbed.arrived[1:])
    assert not_arrived(cut)
    assert compare(came.calm, replace(came.disturbed, arrived=[]))[1]
    assert compare(came.calm, replace(came.disturbed, alarms=[]))[1]
