"""What was said of each night stays as it was said; what the night came to is entered later."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from monitor.yard.forecast import SaidNight

EVENING = date(2026, 11, 13)
SAID = SaidNight(
    space="lee-rack",
    evening=EVENING,
    said_at=datetime(2026, 11, 13, 23, 1, tzinfo=UTC),
    air_c=4.25,
    cold_c=-3.5,
    expected_c=-0.25,
    warm_c=2.0,
    below_zero=0.625,
)


def test_what_was_said_comes_back_as_it_was(store):
    with store.transaction() as tx:
        assert tx.said_nights.add([SAID, replace(SAID, space="long-shed", below_zero=None)]) == 2
    with store.snapshot() as tx:
        first, second = tx.said_nights.nights_since(EVENING)
    assert first == replace(SAID, air_c=pytest.approx(4.25), below_zero=pytest.approx(0.625))
    assert (second.space, second.below_zero, second.low_c) == ("long-shed", None, None)


def test_the_first_word_of_a_night_stays(store):
    for expected in (-0.25, 1.5):
        with store.transaction() as tx:
            tx.said_nights.add([replace(SAID, expected_c=expected)])
    with store.snapshot() as tx:
        (kept,) = tx.said_nights.nights_since(EVENING)
    assert kept.expected_c == pytest.approx(-0.25)


def test_a_low_is_entered_and_may_be_put_right(store):
    with store.transaction() as tx:
        tx.said_nights.add([SAID, replace(SAID, evening=EVENING + timedelta(days=1))])
        tx.said_nights.settle_nights([("lee-rack", EVENING, -1.5)])
        tx.said_nights.settle_nights([("lee-rack", EVENING, -1.75), ("elsewhere", EVENING, 9.0)])
    with store.snapshot() as tx:
        first, second = tx.said_nights.nights_since(EVENING)
        assert tx.said_nights.nights_since(EVENING + timedelta(days=1)) == [second]
    assert first.low_c == pytest.approx(-1.75)
    assert second.low_c is None


def test_quantiles_that_do_not_rise_are_refused():
    with pytest.raises(ValueError, match="must rise"):
        replace(SAID, warm_c=-4.0)
