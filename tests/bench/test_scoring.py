"""The scorer's own sums: a wrong score would be believed."""

from datetime import UTC, datetime, timedelta
from itertools import pairwise
from math import isnan

import pytest

from monitor.yard.assessment import Hazard
from simulator.winter import live, make
from tests.bench.scoring.command import _BEGIN
from tests.bench.scoring.table import rows
from tests.bench.scoring.verdicts import Score, joined, lead, score
from tests.bench.scoring.watch import Held, watch

NOON = datetime(2025, 12, 1, 12, tzinfo=UTC)


def held(begin_h, end_h):
    begin, end = (NOON + timedelta(hours=each) for each in (begin_h, end_h))
    return Held("frost", "shed", "C01", "block", begin, end)


def test_alarms_with_little_between_them_are_one():
    spells = joined([held(20, 30), held(0, 5), held(7, 9)])
    assert spells == [
        (NOON, NOON + timedelta(hours=9)),
        (NOON + timedelta(hours=20), NOON + timedelta(hours=30)),
    ]


@pytest.mark.parametrize(("at_h", "lead_h"), [(8, 8.0), (25, 5.0)])
def test_the_lead_is_from_the_alarm_that_stands_when_it_happens(at_h, lead_h):
    assert lead(joined([held(0, 9), held(20, 30)]), NOON + timedelta(hours=at_h)) == lead_h


@pytest.mark.parametrize("at_h", [-1, 15, 31])
def test_an_alarm_that_is_over_or_still_to_come_warned_of_nothing(at_h):
    assert isnan(lead(joined([held(0, 9), held(20, 30)]), NOON + timedelta(hours=at_h)))


def test_a_day_goes_through_store_and_rounds_and_comes_out_as_a_table():
    end = _BEGIN + timedelta(days=1)
    winter = make(7, craft=2, start=_BEGIN, end=end)
    (lived,) = live([winter])
    heard = watch(winter, lived, timedelta(hours=6), forecasts=True)
    assert heard.rounds >= 4
    said = heard.said[Hazard.AIR, "rack", ""]
    assert all(before.at < after.at for before, after in pairwise(said))
    # What was read of the rack is what was judged on: within a sensor's bias of the truth's lows.
    low_c = min(each.now_c for each in said)
    truth = next(each for each in lived.truth["spaces"] if each["space"] == "rack")
    assert low_c > min(night["low_c"] for night in truth["nights"]) - 1.0
    total = Score()
    score(winter, lived, heard, total)
    table = dict((what, how) for what, how, _ in rows(total))
    assert total.winters == 1
    assert any(what.startswith("messages a week, operator") for what in table)
