"""Lists page by page: put together they are the whole, also while more comes in."""

from contextlib import closing
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.clock import from_ms
from monitor.store.archive_folder import month_bounds
from monitor.store.archiving import archive_months
from monitor.store.closing_days import close_due_days
from monitor.yard.reading import Channel, Flag, Reading
from tests.reports import kettlemoss
from tests.reports.kettlemoss import open_store
from tests.tried import tried
from tests.web.api.conftest import ApiScene

SENSOR = "urn:dev:ops:kettlemoss-lee-rack"
BEGIN = datetime(2026, 11, 10, tzinfo=UTC)
BEGIN_MS = round(BEGIN.timestamp() * 1000)
MINUTES = st.sets(st.integers(0, 300), max_size=40)


def put_readings(store, minutes):
    with store.transaction() as tx:
        tx.reading_writer.add(
            Reading(
                sensor=SENSOR,
                channel=Channel.TEMPERATURE,
                at_ms=BEGIN_MS + one * 60_000,
                value=-one / 100,
                raw=-one / 100,
                flag=Flag.PASS,
            )
            for one in sorted(minutes)
        )


def times_of(rows):
    return [datetime.fromisoformat(one["at"]) for one in rows]


@settings(max_examples=tried(12), deadline=None, derandomize=True, database=None)
@given(there=MINUTES, come=st.lists(MINUTES, max_size=4), limit=st.integers(1, 15))
def test_pages_put_together_are_the_whole_list_while_readings_arrive(there, come, limit):
    with TemporaryDirectory() as folder:
        store = open_store(Path(folder))
        api = ApiScene(store)
        put_readings(store, {0} | there)
        told, arriving, expected = [], list(come), {0} | there
        for page in api.pages(
            "/api/readings",
            "readings",
            sensor=SENSOR,
            channel="temperature",
            since=BEGIN.isoformat(),
            until=(BEGIN + timedelta(hours=6)).isoformat(),
            limit=limit,
        ):
            told += times_of(page)
            if arriving and len(page) == limit:
                new = arriving.pop()
                put_readings(store, new)
                # Of what comes late, what lies ahead of the last page is told, and no other.
                expected |= {one for one in new if BEGIN + timedelta(minutes=one) > told[-1]}
        # A page that was full and had nothing behind it was the last: what came then is not told.
        assert len(told) == len(set(told))
        assert told == sorted(told)
        assert {0} | there <= {(one - BEGIN) // timedelta(minutes=1) for one in told} <= expected
        store.close()


@pytest.mark.parametrize("limit", [1, 7, 10_000])
def test_what_came_before_the_last_page_is_all_there(api, limit):
    put_readings(api.store, range(0, 300, 20))
    asked = {
        "sensor": SENSOR,
        "channel": "temperature",
        "since": BEGIN.isoformat(),
        "until": (BEGIN + timedelta(hours=5)).isoformat(),
    }
    whole = [one for page in api.pages("/api/readings", "readings", **asked) for one in page]
    with api.store.snapshot() as tx:
        key = (SENSOR, Channel.TEMPERATURE)
        trace = tx.readings.traces_between([key], BEGIN_MS, BEGIN_MS + 5 * 3_600_000)[key]
    assert times_of(whole) == [from_ms(int(one)) for one in trace.at_ms]
    assert [one["temperature_c"] for one in whole] == pytest.approx(trace.value.tolist())
    pages = api.pages("/api/readings", "readings", **asked, limit=min(limit, 5000))
    assert [one for page in pages for one in page] == whole


@pytest.mark.parametrize("channel", ["temperature", "humidity"])
def test_pages_of_hours_are_the_hours_that_reports_are_made_of(api, channel):
    since, until = BEGIN, BEGIN + timedelta(hours=50)
    told = [
        one
        for page in api.pages(
            "/api/rollups", "hours", sensor=SENSOR, channel=channel, limit=7,
            since=since.isoformat(), until=until.isoformat(),
        )
        for one in page
    ]  # fmt: skip
    with api.store.snapshot() as tx:
        hours = tx.rollups.hours_between([SENSOR], BEGIN_MS, BEGIN_MS + 50 * 3_600_000)
    whole = hours[SENSOR, Channel(channel)]
    assert len(told) == 50
    assert [datetime.fromisoformat(one["hour"]) for one in told] == [
        from_ms(int(one)) for one in whole.hour_ms
    ]
    low = "low_c" if channel == "temperature" else "low_pct"
    assert [one[low] for one in told] == pytest.approx(whole.low.tolist())
    assert {"frost_kh", "wet_min"} & set(told[0]) == (
        {"frost_kh"} if channel == "temperature" else {"wet_min"}
    )


@pytest.mark.parametrize("limit", [1, 2, 3, 500])
def test_pages_of_alarms_hold_each_alarm_once_in_the_order_in_which_they_were_raised(api, limit):
    pages = list(api.pages("/api/alarms", "alarms", state="all", limit=limit))
    told = [(one["raised_at"], one["id"]) for page in pages for one in page]
    assert told == sorted(told)
    assert {one for _, one in told} == {one.id for one in kettlemoss.alarms()}
    assert all(len(page) == limit for page in pages[:-1])


def test_pages_of_craft_hold_each_once(api):
    pages = list(api.pages("/api/craft", "craft", limit=5))
    assert [len(page) for page in pages] == [5, 5, 2]
    told = [one["craft"] for page in pages for one in page]
    assert told == sorted({one.id for one in api.craft.read_now()})


@pytest.mark.parametrize("limit", [1, 4, 1000])
def test_pages_of_series_hold_each_once_in_order(api, limit):
    [whole] = api.pages("/api/series", "series")
    pages = list(api.pages("/api/series", "series", limit=limit))
    assert [one for page in pages for one in page] == whole
    assert all(len(page) == limit for page in pages[:-1])
    with api.store.snapshot() as tx:
        known = set(tx.series.known_series())
    told = [(one["sensor"], one["channel"]) for one in whole]
    assert told == sorted(told)
    assert set(told) == known
    assert len(told) == len(known) > 4


@pytest.mark.parametrize("limit", [1, 2, 500])
def test_pages_of_a_record_are_the_record_also_while_work_is_entered(api, limit):
    path = "/api/craft/k2/layup"
    there = api.get(path).json()
    assert len(there) > 2
    told, answer = [], api.get(path, params={"limit": limit})
    entered = False
    while True:
        assert answer.status_code == 200
        told += answer.json()
        if not entered:
            at = api.clock.now().isoformat()
            run = {"act": "cover-fitted", "by": "Ines Aldaz", "at": at}
            assert api.web.post(path, json=run, headers=api.mechanic).status_code == 201
            entered = True
        if (link := answer.headers.get("link")) is None:
            break
        answer = api.get(path + link.partition(">; ")[0].removeprefix("<"))
    ids = [one["id"] for one in told]
    assert len(ids) == len(set(ids))
    assert [one for one in ids if one in {each["id"] for each in there}] == [
        one["id"] for one in there
    ]
    assert len(api.get(path).json()) == len(there) + 1


def test_a_cursor_that_no_link_named_is_refused_with_the_remedy(api):
    answer = api.get("/api/craft/k2/layup", params={"cursor": "made-up"})
    assert answer.status_code == 422
    [fault] = answer.json()["faults"]
    assert (fault["key"], fault["value"]) == ("query.cursor", "made-up")
    assert "Link to the next page" in fault["remedy"]


@pytest.mark.parametrize("limit", [1, 2, 500])
def test_pages_of_a_craft_s_alarms_hold_each_once(api, limit):
    first = kettlemoss.alarms()[0]
    raised = [first.raised_at + timedelta(hours=n // 2) for n in range(5)]  # some at one time
    expected = {f"more-{n}" for n in range(5)}
    with api.store.transaction() as tx:
        tx.alarms.put(
            replace(first, id=f"more-{n}", craft="k2", part=f"p{n}", raised_at=at)
            for n, at in enumerate(raised)
        )
    pages = list(api.pages("/api/craft/k2/alarms", "alarms", limit=limit))
    told = [(one["raised_at"], one["id"]) for page in pages for one in page]
    assert told == sorted(told)
    assert len(told) == len(expected)
    assert {one for _, one in told} == expected


def test_a_space_s_own_judgement_is_that_of_the_yard_s(api):
    spaces = api.get("/api/assess").json()["spaces"]
    assert len(spaces) == len(api.yard.spaces)
    for one in spaces:
        assert api.get(f"/api/spaces/{one['space']}/assess").json() == one
    unknown = api.get("/api/spaces/no-such-space/assess")
    assert unknown.status_code == 404
    assert "no-such-space" in unknown.json()["title"]


def test_readings_that_are_in_the_archive_alone_come_from_there_or_are_refused_with_the_reason(
    tmp_path,
):
    with closing(open_store(tmp_path)) as store:
        api = ApiScene(store)
        put_readings(store, {0, 5, 70})
        close_due_days(store, datetime(2026, 12, 1, 2, tzinfo=UTC))
        folder = tmp_path / "archive"
        folder.mkdir()
        assert [one.rows for one in archive_months(store, "kettlemoss", folder)] == [3]
        asked = {"sensor": SENSOR, "channel": "temperature", "since": BEGIN.isoformat()}
        asked["until"] = (BEGIN + timedelta(hours=6)).isoformat()
        before = api.get("/api/readings", params=asked).json()
        assert len(before["readings"]) == 3
        november = date(2026, 11, 1)
        with store.transaction() as tx:
            tx.dropped_months.begin_month(november, month_bounds(november)[1], BEGIN)
            (one,) = tx.series.series_of(SENSOR).values()
            assert tx.reading_writer.remove_rows(one, *month_bounds(november)) == 3
        refused = api.get("/api/readings", params=asked)
        assert refused.status_code == 503
        assert refused.headers["content-type"] == "application/problem+json"
        assert refused.json()["title"].startswith("raw readings of that time are in the archive")
        assert str(tmp_path) not in refused.text  # where it is, is the log's matter
        store.use_archive(folder, only_dropped=True)
        assert api.get("/api/readings", params=asked).json() == before
