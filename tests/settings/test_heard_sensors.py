"""Sensors that nobody took in yet, as the page lists them."""

import json
from datetime import UTC, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from monitor.intake.sensors import UNKNOWN_SENSOR
from monitor.settings.heard_sensors import heard_unknown
from monitor.store.aside import AsideRow

AT = datetime(2026, 11, 30, 22, 21, tzinfo=UTC)
SENSOR = "urn:dev:ops:post"


def row(digest, celsius, read_at, arrived_at=AT):
    pack = [{"n": f"{SENSOR}:temperature", "u": "Cel", "v": celsius, "t": read_at.timestamp()}]
    payload = json.dumps(pack).encode()
    return AsideRow(digest, "mill/post", UNKNOWN_SENSOR, payload, arrived_at, arrived_at, 1)


@given(st.permutations(range(6)))
def test_of_a_backlog_that_came_at_once_the_latest_reading_is_shown(order):
    rows = [row(f"{n}", -float(n), AT - timedelta(minutes=60 - 10 * n)) for n in order]
    (heard,) = heard_unknown(rows, [], [], "mill")
    assert dict(heard.values) == {"temperature": -5.0}
    assert heard.read_at == AT - timedelta(minutes=10)


def test_what_came_later_is_shown_whatever_its_own_time():
    late = row("a", -1.0, AT - timedelta(minutes=50), AT)
    early = row("b", -2.0, AT - timedelta(minutes=10), AT - timedelta(minutes=1))
    (heard,) = heard_unknown([late, early], [], [], "mill")
    assert dict(heard.values) == {"temperature": -1.0}
