"""A public forecast too old to plan by."""

from datetime import timedelta

import pytest

from monitor.clock import ReadingsClock
from monitor.judgement.round import Round
from monitor.judgement.watch.silence import judge_forecast
from monitor.store.migrate import migrate
from monitor.store.store import Store
from monitor.yard.assessment import Hazard, Standing
from monitor.yard.forecast import ForecastAsking
from tests.judgement import scene

NOW = scene.local(14, 20)
YARD = scene.yard_of(scene.SHED)


def asking(age_h=None, failures=0):
    confirmed = None if age_h is None else NOW - timedelta(hours=age_h)
    problem = "no answer in 10 s" if failures else ""
    return ForecastAsking(source="agency", confirmed=confirmed, failures=failures, problem=problem)


@pytest.mark.parametrize(
    ("state", "standing"),
    [
        (asking(1.0), Standing.STEADY),
        (asking(11.9, failures=9), Standing.STEADY),  # an outage, and what is at hand still serves
        (asking(12.1, failures=9), Standing.STALE),
        (asking(), Standing.STEADY),  # nothing was asked yet
        (asking(failures=2), Standing.STEADY),
        (asking(failures=6), Standing.STALE),
    ],
)
def test_twelve_hours_are_too_old_and_so_is_none_after_many_tries(state, standing):
    found = judge_forecast(state, YARD, NOW)
    assert found.standing is standing
    assert found.calls_for_act is (standing is Standing.STALE)


def test_a_round_judges_it_only_where_the_yard_has_configured_one(tmp_path):
    url = f"sqlite:///{tmp_path / 'laidup.db'}"
    migrate(url)
    store = Store(url, "kettlemoss")
    with store.transaction() as tx:
        tx.forecasts.set_asking(asking(20.0, failures=3))

    def told(**more):
        Round(store, YARD, ReadingsClock(NOW), **more).run([])
        with store.snapshot() as tx:
            latest = tx.assessments.latest_judgements()
        return [each.standing for each in latest if each.hazard is Hazard.FORECAST]

    assert told() == []
    assert told(forecast="agency") == [Standing.STALE]
    store.close()
