"""The yard's figures as OpenMetrics, read back by the library's own parser."""

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from prometheus_client.openmetrics.parser import text_string_to_metric_families

from monitor.clock import ReadingsClock
from monitor.web.metrics import METRICS_PATH, metrics_router
from monitor.web.problems import handle_problems
from monitor.yard.health import HealthAccount
from tests.reports import kettlemoss


@pytest.fixture
def client(store):
    now = kettlemoss.KETTLEMOSS_NOW
    app = FastAPI()
    handle_problems(app)
    app.include_router(
        metrics_router(
            store, kettlemoss.yard(), ReadingsClock(now), lambda: (),
            lambda: HealthAccount(at=now),
        )
    )  # fmt: skip
    return TestClient(app)


def test_the_text_is_openmetrics_and_says_what_the_yard_is_like(client, store):
    answer = client.get(METRICS_PATH)
    assert answer.status_code == 200
    assert answer.headers["content-type"].startswith("application/openmetrics-text; version=1.0.0")
    assert answer.text.endswith("# EOF\n")
    families = {one.name: one for one in text_string_to_metric_families(answer.text)}
    heard = {
        one.labels["sensor"] for one in families["laidup_sensor_heard_timestamp_seconds"].samples
    }
    with store.snapshot() as tx:
        assert heard == {sensor for sensor, _ in tx.yard_readings.latest_readings()} != set()
    lows = {one.labels["space"]: one.value for one in families["laidup_low_celsius"].samples}
    assert lows
    assert all(-60 < low < 60 for low in lows.values())
    assert families["laidup_failing"].samples[0].value == 0
