"""The scorer's own sums: a wrong score would be believed."""

import json
from contextlib import contextmanager
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
from tests.bench.scoring.wire import in_bulk, over_mqtt, stream

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


class _Witness:
    """Keeps all that was judged and raised in each round, for comparison."""

    def __init__(self, way, store):
        self._way, self._store = way, store
        self.rounds = []
        self.until = None

    def bring(self, now):
        self.until = now
        with self._store.snapshot() as tx:
            begin = now - timedelta(days=200)
            alarms = [
                (each, tx.alarms.history_of(each.id))
                for each in tx.alarms.raised_between(begin, now)
            ]
            self.rounds.append(
                (tx.assessments.latest_judgements(), alarms, tx.yard_readings.count_readings())
            )
        return self._way.bring(now)


def test_three_days_over_mqtt_are_judged_as_in_bulk_and_every_reading_is_heard():
    winter = make(8, craft=4, start=_BEGIN, end=_BEGIN + timedelta(days=3))
    told = stream(winter)
    witnessed, lines = [], []
    for opened in (in_bulk, over_mqtt):

        @contextmanager
        def way(store, yard, clock, opened=opened):
            with opened(told, store, yard, clock) as line:
                lines.append(line)
                witnessed.append(_Witness(line, store))
                yield witnessed[-1]

        watch(winter, told.lived, timedelta(hours=3), forecasts=True, way=way)
    bulk, mqtt = witnessed
    assert len(bulk.rounds) == len(mqtt.rounds) > 20
    for (judged, raised, count), (judged_m, raised_m, count_m) in zip(
        bulk.rounds, mqtt.rounds, strict=True
    ):
        assert count == count_m
        # As text: a figure that is not known is NaN, which is not equal to itself.
        assert list(map(repr, judged)) == list(map(repr, judged_m))
        assert list(map(repr, raised)) == list(map(repr, raised_m))
    assert mqtt.rounds[-1][1], "no alarm in three days: nothing was compared"
    line = lines[1]
    sent = sum(len(json.loads(payload)) for at, _, payload in told.packs if at <= mqtt.until)
    assert line.heard == line.published == sent > 10_000
    assert line.aside == 0
