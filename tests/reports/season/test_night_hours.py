"""Nights added up all at once against each night by itself."""

import math
from datetime import UTC, datetime, timedelta

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from monitor.reports.season.figures import Kept
from monitor.reports.season.night_hours import NightRows, NightSpan, night_spans, nights_stood
from monitor.reports.season.space_hours import Hours
from tests.reports.season.winter import yard

_SINCE = datetime(2026, 10, 20, 14, tzinfo=UTC)


@st.composite
def nights_with_air(draw):
    """Nights of 0 to 25 hours in a row, and air with hours that are not known."""
    lengths = draw(st.lists(st.sampled_from([0, 1, 11, 23, 24, 24, 24, 25]), max_size=12))
    degrees = st.one_of(st.just(math.nan), st.integers(-30, 20).map(float))
    values = draw(st.lists(degrees, min_size=sum(lengths) + 3, max_size=sum(lengths) + 3))
    spans, first = [], draw(st.integers(0, 3))
    for n, length in enumerate(lengths):
        spans.append(
            NightSpan(
                evening=(_SINCE + timedelta(days=n)).date(),
                since=_SINCE + timedelta(days=n),
                until=_SINCE + timedelta(days=n + 1),
                hours=slice(first, first + length),
            )
        )
        first += length
    return spans, np.array(values)


@given(nights_with_air())
def test_each_night_has_the_figures_that_it_has_alone(case):
    spans, air = case
    rows = NightRows(spans)
    lows_all, lows = rows.lows_all_known(air), rows.lows_known(air)
    sums, where = rows.sum_hours(np.nan_to_num(air)), rows.where_lowest(air)
    for n, span in enumerate(spans):
        part = air[span.hours].tolist()
        known = [one for one in part if not math.isnan(one)]
        assert sums[n] == math.fsum(known)
        assert lows[n] == min(known) if known else math.isnan(lows[n])
        all_known = known and len(known) == len(part)
        assert lows_all[n] == min(known) if all_known else math.isnan(lows_all[n])
        first = span.hours.start + part.index(min(known)) if known else -1
        assert where[n] == first


def test_nights_at_the_change_of_the_clock_are_an_hour_longer_and_shorter():
    # Chicago: back on 1 November 2026 at 02:00, forward on 14 March 2027 (IANA tz database).
    since, until = datetime(2026, 10, 20, tzinfo=UTC), datetime(2027, 3, 20, tzinfo=UTC)
    spans = night_spans(Hours.hours_between(since, until), yard(), since, until)
    odd = {
        one.evening.isoformat(): one.hours.stop - one.hours.start
        for one in spans[1:]
        if one.hours.stop - one.hours.start != 24
    }
    assert odd == {"2026-10-31": 25, "2027-03-13": 23}


@st.composite
def stays_in_a_row(draw):
    """Stays one after the other, some with time outside the yard between them."""
    found, at = [], _SINCE + timedelta(minutes=draw(st.integers(-3000, 3000)))
    for n, (length, away) in enumerate(
        draw(st.lists(st.tuples(st.integers(1, 6000), st.sampled_from([0, 0, 7, 900])), max_size=6))
    ):
        until = at + timedelta(minutes=length)
        found.append(Kept(space=f"s{n % 2}", berth="", since=at, until=until, by=""))
        at = until + timedelta(minutes=away)
    return found


@given(stays_in_a_row())
def test_a_night_counts_where_the_craft_stood_for_half_of_its_minutes(kept):
    # Counted minute by minute, as the season record's page says: half of a night at least.
    nights = [_SINCE + timedelta(days=n) for n in range(8)]
    rows = NightRows(
        [
            NightSpan(
                evening=one.date(), since=one, until=one + timedelta(days=1), hours=slice(0, 0)
            )
            for one in nights
        ]
    )
    expected = []
    for n, begins in enumerate(nights):
        minutes = [begins + timedelta(minutes=m) for m in range(1440)]
        stood = [s.space for m in minutes for s in kept if s.since <= m < s.until]
        if len(stood) >= 720:
            expected.append((n, stood[-1], len(stood) / 60))
    told = [
        (n, one.space, 24.0 if one.stood_h is None else one.stood_h)
        for one in nights_stood(rows, kept)
        for n in one.nights
    ]
    assert [one[:2] for one in told] == [one[:2] for one in expected]
    assert np.allclose([one[2] for one in told], [one[2] for one in expected])
