"""Times as people write them, on a yard's own clock."""

from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.settings.written_times import day_of, parse_past_time

ZONE = ZoneInfo("America/Chicago")
NOW = datetime(2026, 11, 14, 16, 20, tzinfo=ZONE)  # a Saturday


@pytest.mark.parametrize(
    ("text", "read"),
    [
        ("today 14:30", "2026-11-14T14:30"),
        ("14:30", "2026-11-14T14:30"),
        ("2:30 pm", "2026-11-14T14:30"),
        ("9am", "2026-11-14T09:00"),
        ("12 am", "2026-11-14T00:00"),
        ("yesterday", "2026-11-13T12:00"),
        ("yesterday at 08:05", "2026-11-13T08:05"),
        ("8:05 yesterday", "2026-11-13T08:05"),
        ("20 Oct", "2026-10-20T12:00"),
        ("Oct 20, 14:30", "2026-10-20T14:30"),
        ("20th October 2025 9:00", "2025-10-20T09:00"),
        ("24 Dec", "2025-12-24T12:00"),  # the last one: this year's is still to come
        ("Tue 20 Oct 9:15", "2026-10-20T09:15"),
        ("Mon 9:15", "2026-11-09T09:15"),
        ("saturday 9:15", "2026-11-14T09:15"),
        ("2026-11-02T14:30", "2026-11-02T14:30"),
        ("2026-11-02 14:30", "2026-11-02T14:30"),
        ("2026-11-02", "2026-11-02T12:00"),
        ("now", "2026-11-14T16:20"),
        ("10/13/2026", "2026-10-13T12:00"),  # no month has the number 13
        ("13.10.2026 9:15", "2026-10-13T09:15"),
        ("11/11/2025", "2025-11-11T12:00"),
        ("21/10", "2026-10-21T12:00"),  # no month has the number 21
        ("10/21", "2026-10-21T12:00"),
        ("22.10. 14:30", "2026-10-22T14:30"),
        ("22.10.", "2026-10-22T12:00"),
    ],
)
def test_a_moment_is_read_as_people_write_it(text, read):
    assert parse_past_time(text, NOW) == datetime.fromisoformat(read).replace(tzinfo=ZONE)


def test_now_is_the_minute_and_not_behind_work_of_that_minute_told_later():
    late = NOW + timedelta(seconds=41)
    assert parse_past_time("now", late) == parse_past_time("16:20", late) == NOW
    assert parse_past_time("14 Nov", NOW.replace(hour=9, second=41)) == NOW.replace(hour=9)


def test_a_time_with_its_offset_keeps_it():
    at = parse_past_time("2026-11-02T14:30+01:00", NOW)
    assert at.isoformat() == "2026-11-02T14:30:00+01:00"


def test_a_day_of_summer_time_is_read_on_the_clock_of_summer():
    assert parse_past_time("20 Oct 14:30", NOW).isoformat() == "2026-10-20T14:30:00-05:00"


@pytest.mark.parametrize(
    "text",
    [
        "10/11",
        "10.11.2026",
        "10/13/26",
        "1.2.",
        "10.30",  # may be a time
        "10-30",
        "10/32",
        "13/13/2026",
        "0/5/2026",
        "10",
        "31 Feb",
        "25:00",
        "13 pm",
        "next monday",
        "Mon 20 Oct",
        "soon",
        "",
        "Oct",
    ],
)
def test_what_is_no_time_or_could_be_two_is_refused_with_a_way_to_write_it(text):
    with pytest.raises(ValueError, match="write"):
        parse_past_time(text, NOW)


def test_a_day_is_read_in_the_same_words():
    assert day_of("2 Nov", NOW) == date(2026, 11, 2)
    assert day_of("2026-11-02", NOW) == date(2026, 11, 2)
    assert day_of("yesterday", NOW) == date(2026, 11, 13)


def test_a_day_alone_is_never_later_than_now():
    early = NOW.replace(hour=9)
    assert parse_past_time("today", early) == early
    assert parse_past_time("today", NOW) == NOW.replace(hour=12, minute=0)


@pytest.mark.parametrize("text", ["12 Nov 2031", "1 Jan 2030", "15 Nov 2026", "12 Dec 2031 9:00"])
def test_a_day_to_come_is_refused_and_not_taken_for_now(text):
    for read in (parse_past_time, day_of):
        with pytest.raises(ValueError, match="still to come"):
            read(text, NOW)


@given(st.integers(0, 300 * 24 * 60))
def test_a_day_and_time_in_words_come_back_as_they_were(minutes):
    at = (NOW - timedelta(minutes=minutes)).replace(fold=0)
    assert parse_past_time(f"{at:%d %b %H:%M}", NOW) == at


@given(st.text(alphabet="0123456789 :.,/-amptodyscnv", max_size=20))
def test_no_text_is_read_as_a_time_to_come_of_another_day(text):
    try:
        at = parse_past_time(text, NOW)
    except ValueError:
        return
    assert text[:4].isdigit() or at.date() <= NOW.date()
