"""A broker that throws messages away is noticed, also over restarts of either side."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import pytest

from monitor.intake.drops import DropWatch
from monitor.store.store import Store
from monitor.yard.health import IntakeFault, IntakeFaultKind

NOW = datetime(2026, 1, 10, 3, tzinfo=UTC)


@pytest.fixture
def store(store_url: str) -> Iterator[Store]:
    opened = Store(store_url, "kettlemoss")
    yield opened
    opened.close()


def heard(watch: DropWatch, count: bytes, hour: int) -> None:
    watch.read_count(count)
    watch.store_growth(NOW + timedelta(hours=hour))


def fault(store: Store) -> IntakeFault | None:
    with store.snapshot() as tx:
        return tx.intake_faults.standing_faults().get(IntakeFaultKind.BROKER_DROPS)


def test_what_was_dropped_before_laidup_first_came_is_not_its_own(store):
    watch = DropWatch(store)
    heard(watch, b"2078", 0)
    assert fault(store) is None
    heard(watch, b"2080", 1)
    assert fault(store).amount == 2


def test_growth_while_laidup_was_away_is_noticed_by_the_next_start(store):
    heard(DropWatch(store), b"0", 0)
    heard(DropWatch(store), b"2078", 5)
    found = fault(store)
    assert (found.amount, found.since) == (2078, NOW + timedelta(hours=5))


def test_a_broker_that_counts_anew_has_dropped_all_that_it_counts(store):
    watch = DropWatch(store)
    for hour, count in enumerate((b"100", b"0", b"7")):
        heard(watch, count, hour)
    assert fault(store).amount == 7


def test_drops_that_go_on_are_one_fault_and_a_day_without_ends_it(store):
    watch = DropWatch(store)
    for hour, count in ((0, b"0"), (1, b"10"), (20, b"15")):
        heard(watch, count, hour)
    assert (fault(store).amount, fault(store).since) == (15, NOW + timedelta(hours=1))
    heard(watch, b"16", 50)
    assert (fault(store).amount, fault(store).since) == (1, NOW + timedelta(hours=50))


@pytest.mark.parametrize("said", [b"", b"-3", b"many", b"\xff", b"9" * 400])
def test_what_is_no_count_says_nothing(store, said):
    heard(DropWatch(store), said, 0)
    with store.snapshot() as tx:
        assert tx.intake_faults.broker_counter() is None
