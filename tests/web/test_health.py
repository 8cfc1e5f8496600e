from dataclasses import replace
from datetime import timedelta

import pytest
from fastapi.testclient import TestClient

from monitor.clock import ReadingsClock
from monitor.web.app import create_app
from monitor.yard.assessment import Hazard
from monitor.yard.health import HealthAccount
from tests.reports import kettlemoss as yard_of
from tests.web.test_app import client

# Last readings stand at 15:50, the round of judgements at 16:00.
NOW = yard_of.KETTLEMOSS_NOW


def health(store, now=NOW, yard=None):
    answer = client(store, now=now, yard=yard).get("/health")
    return answer.status_code, answer.json()


def test_a_silent_sensor_is_a_warning_and_names_it(store):
    status, found = health(store)
    assert (status, found["status"]) == (200, "warn")
    assert "north-row" in found["checks"]["sensors"]["says"]


def test_all_well_passes(store):
    judged = [a for a in yard_of.assessments() if a.hazard is not Hazard.SILENCE]
    with store.transaction() as tx:
        tx.assessments.replace_judgements(judged)
    status, found = health(store)
    assert (status, found["status"]) == (200, "pass")
    assert found["checks"]["readings"]["latest_at"] == "2026-11-14T21:50:00Z"  # 15:50 CST


def test_a_process_that_lives_but_hears_nothing_fails_and_says_which_it_is(store):
    status, found = health(store, NOW + timedelta(hours=3))
    assert (status, found["status"]) == (503, "fail")
    assert found["checks"]["process"]["status"] == "pass"
    assert found["checks"]["readings"]["status"] == "fail"
    assert found["checks"]["judgement"]["status"] == "fail"


@pytest.mark.parametrize(("minutes", "status"), [(15, "pass"), (21, "fail")])
def test_readings_are_old_after_three_intervals(store, minutes, status):
    # The yard's sensors speak every ten minutes: thirty without a word is too long.
    _, found = health(store, NOW + timedelta(minutes=minutes - 1))
    assert found["checks"]["readings"]["status"] == status


def test_sensors_that_name_their_channels_themselves_are_heard(store):
    sensors = tuple(replace(sensor, labels={}) for sensor in yard_of.yard().sensors)
    _, found = health(store, yard=replace(yard_of.yard(), sensors=sensors))
    assert found["checks"]["readings"]["status"] == "pass"


def test_an_empty_store_fails(empty_store):
    assert health(empty_store)[0] == 503


def test_a_watcher_may_ask_for_the_head_alone(store):
    assert client(store).head("/health").status_code == 200


def test_the_daemons_health_is_told_from_memory_alone():
    account = HealthAccount(at=NOW, newest_reading_at=NOW, judged_at=NOW)
    app = create_app(NoStore(), yard_of.yard(), ReadingsClock(NOW), list, health=lambda: account)
    answer = TestClient(app).get("/health")
    assert (answer.status_code, answer.json()["status"]) == (200, "pass")


class NoStore:
    """Whoever asks it fails."""

    def __getattr__(self, name):
        raise AssertionError(f"the store was asked for its {name}")
