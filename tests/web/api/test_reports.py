"""The weekly report's figures through the API."""

from datetime import UTC, datetime, timedelta

import pytest

from monitor.clock import from_ms
from monitor.yard.reading import Channel
from tests.reports import kettlemoss


def test_a_week_tells_the_coldest_reading_of_each_space_and_when(api):
    told = api.get("/api/reports/weeks/2026-W46").json()
    begin = kettlemoss.MONDAY.astimezone(UTC)
    assert datetime.fromisoformat(told["since"]) == begin
    assert datetime.fromisoformat(told["until"]) == api.clock.now()
    with api.store.snapshot() as tx:
        for one in told["spaces"]:
            key = (f"urn:dev:ops:kettlemoss-{one['space']}", Channel.TEMPERATURE)
            since_ms = round(begin.timestamp() * 1000)
            read = tx.readings.traces_between([key], since_ms, since_ms + 7 * 86_400_000)[key]
            assert one["low_c"] == pytest.approx(read.value.min())
            at = datetime.fromisoformat(one["low_at"])
            then = read.at_ms == round(at.timestamp() * 1000)
            assert read.value[then].tolist() == pytest.approx([one["low_c"]])
            assert at <= from_ms(int(read.at_ms[-1]))
    assert {one["alarm"] for one in told["alarms"]} == {one.id for one in kettlemoss.alarms()}


@pytest.mark.parametrize(
    ("week", "words"),
    [
        ("2026-W54", "there is no such week"),
        ("2025-W53", "there is no such week"),  # ISO 8601: that year has 52
        ("0000-W01", "there is no such week"),
        ("9999-W52", ""),
        ("2027-W10", "it has not begun yet"),
        ("2026-46", ""),
    ],
)
def test_a_week_that_is_none_or_has_not_begun_is_refused(api, week, words):
    answer = api.get(f"/api/reports/weeks/{week}")
    assert answer.status_code == 422
    [fault] = answer.json()["faults"]
    assert (fault["key"], fault["value"]) == ("path.week", week)
    assert words in fault["problem"]


def test_a_week_before_all_readings_says_that_nothing_was_seen(api):
    told = api.get("/api/reports/weeks/2026-W20").json()
    for one in told["spaces"]:
        assert one["low_c"] is None
        assert one["unseen_h"] == timedelta(days=7) / timedelta(hours=1)
