"""Days are closed: their trees hold what the store held, whatever came late or was killed."""

import json
from base64 import urlsafe_b64encode
from datetime import UTC, date, datetime, timedelta
from hashlib import sha256

import pytest
import rfc8785
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from monitor.clock import to_ms
from monitor.craft.links import YARD_CHAIN
from monitor.craft.tree_cover import HashedTree
from monitor.errors import StoreError
from monitor.store import closing_days
from monitor.store.closing_days import close_due_days
from monitor.store.store import Store
from monitor.store.verifying import verify_record
from monitor.store.verifying_days import verify_days
from monitor.yard.day_leaves import group_leaf, raw_digest
from monitor.yard.reading import Channel, Flag, Reading
from tests.tried import tried

BEGIN = datetime(2026, 11, 4, tzinfo=UTC)
DAY = timedelta(days=1)
AIR, DAMP = Channel.TEMPERATURE, Channel.HUMIDITY


def reading(at, value, channel=AIR, sensor="post", flag=Flag.PASS):
    return Reading(
        sensor=sensor, channel=channel, at_ms=to_ms(at), value=value, raw=value, flag=flag
    )


def put(store, *new):
    with store.transaction() as tx:
        tx.reading_writer.add(new)


def links_of_days(store):
    with store.snapshot() as tx:
        return [json.loads(one.body)["day"] for one in tx.layup.chain.chain_of(YARD_CHAIN)]


def hours_told(store, since=date(2026, 11, 1), until=date(2026, 12, 31)):
    """Leaves of sensors by day, each with its sensor before it."""
    found = {}
    with store.snapshot() as tx:
        for day, groups in tx.day_trees.folded_groups(since, until).items():
            for one in groups:
                of = json.loads(one.about)
                if of[0] == "hour":
                    for leaf in tx.day_trees.group_leaves(day, [one.n])[one.n]:
                        found.setdefault(day, []).append((of[1], *leaf))
    return found


def test_a_day_is_closed_once_it_is_over_and_its_readings_have_had_their_time(store):
    three = BEGIN + timedelta(hours=3)
    put(store, reading(three, -4.12), reading(three + timedelta(minutes=1), -4.1))
    assert close_due_days(store, BEGIN + DAY + timedelta(minutes=89)) == 0
    assert close_due_days(store, BEGIN + DAY + timedelta(minutes=90)) == 1
    assert close_due_days(store, BEGIN + DAY + timedelta(hours=20)) == 0
    (said,) = links_of_days(store)
    ((sensor, hour, _, figures),) = hours_told(store)["2026-11-04"]
    # By hand: steps of 0.01 °C; 4 November 2026 is 20,761 days after 1 January 1970.
    assert (sensor, hour, figures) == ("post", 20_761 * 24 + 3, [2, -412, -410, -411])
    assert (said["day"], said["groups"]) == ("2026-11-04", 1)


def test_the_link_holds_the_root_over_the_groups_of_the_day(store):
    for n, sensor in enumerate(("a", "b", "c")):
        put(store, *(reading(BEGIN + timedelta(hours=h), h - n, sensor=sensor) for h in range(5)))
    close_due_days(store, BEGIN + 2 * DAY)
    (said,) = links_of_days(store)
    with store.snapshot() as tx:
        groups = tx.day_trees.folded_groups(BEGIN.date(), BEGIN.date())["2026-11-04"]
        leaves = {one.n: tx.day_trees.group_leaves("2026-11-04", [one.n])[one.n] for one in groups}
    for one in groups:  # as a stranger would: of the leaves, by the library's canonical form
        own = [rfc8785.dumps([*json.loads(one.about), *leaf]) for leaf in leaves[one.n]]
        assert (one.size, one.root) == (5, HashedTree(own).root)
    tree = HashedTree([group_leaf(json.loads(one.about), one.size, one.root) for one in groups])
    assert (said["groups"], said["root"]) == (3, tree.root)


def test_a_late_reading_makes_a_further_leaf_in_the_day_in_which_it_arrived(store):
    put(store, reading(BEGIN, 1.0), reading(BEGIN + DAY, 1.0))
    close_due_days(store, BEGIN + DAY + timedelta(hours=2))
    before = links_of_days(store)
    put(store, reading(BEGIN + timedelta(minutes=5), 3.0))
    close_due_days(store, BEGIN + 2 * DAY + timedelta(hours=2))
    told = hours_told(store)
    first = to_ms(BEGIN) // 3_600_000
    assert [one[1] for one in told["2026-11-04"]] == [first]
    assert [(one[1], one[3]) for one in told["2026-11-05"]] == [
        (first, [2, 100, 300, 200]),
        (first + 24, [1, 100, 100, 100]),
    ]
    assert links_of_days(store)[0] == before[0]


def test_a_repeat_of_what_a_closed_day_holds_makes_no_leaf(store):
    put(store, reading(BEGIN, 1.0), reading(BEGIN + DAY, 1.0))
    close_due_days(store, BEGIN + DAY + timedelta(hours=2))
    put(store, reading(BEGIN, 1.0))
    close_due_days(store, BEGIN + 2 * DAY + timedelta(hours=2))
    assert len(hours_told(store)["2026-11-05"]) == 1
    with store.snapshot() as tx:
        assert tx.late_hours.noted_hours(10) == []


def test_a_silent_day_has_a_tree_too(store):
    put(store, reading(BEGIN, 1.0))
    assert close_due_days(store, BEGIN + 3 * DAY + timedelta(hours=2)) == 3
    assert [(one["day"], one["groups"]) for one in links_of_days(store)] == [
        ("2026-11-04", 1),
        ("2026-11-05", 0),
        ("2026-11-06", 0),
    ]


def test_a_yard_without_readings_closes_nothing(store):
    assert close_due_days(store, BEGIN) == 0


def test_what_is_flagged_anew_makes_a_further_leaf(store):
    put(store, reading(BEGIN, 1.0), reading(BEGIN + DAY, 1.0))
    close_due_days(store, BEGIN + DAY + timedelta(hours=2))
    with store.transaction() as tx:
        series = tx.series.known_series()["post", AIR]
        tx.reading_writer.amend_flags([(series, to_ms(BEGIN), int(Flag.FAIL))])
    close_due_days(store, BEGIN + 2 * DAY + timedelta(hours=2))
    assert hours_told(store)["2026-11-05"][0][3] == [0, None, None, None]


def test_a_reading_that_comes_while_a_day_is_closed_is_in_that_tree_or_a_later_one(
    store, monkeypatch
):
    put(store, reading(BEGIN, 1.0), reading(BEGIN + DAY, 1.0))
    made = closing_days._groups_of_day

    def late(tx, day, noted):
        groups = made(tx, day, noted)
        if day == BEGIN.date():
            put(store, reading(BEGIN + timedelta(minutes=1), 2.0))
        return groups

    monkeypatch.setattr(closing_days, "_groups_of_day", late)
    close_due_days(store, BEGIN + 2 * DAY + timedelta(hours=2))
    told = hours_told(store)
    assert told["2026-11-04"][0][3] == [1, 100, 100, 100]
    assert told["2026-11-05"][0][3] == [2, 100, 200, 150]


def test_a_day_whose_closing_fails_is_closed_by_the_next_run_as_a_whole(store, monkeypatch):
    put(store, reading(BEGIN, 1.0))

    def fails(*_):
        raise StoreError("the disk is full")

    with monkeypatch.context() as broken:
        broken.setattr("monitor.store.chain.Chain.append_links", fails)
        with pytest.raises(StoreError):
            close_due_days(store, BEGIN + 2 * DAY)
    assert hours_told(store) == {}
    put(store, reading(BEGIN + timedelta(minutes=1), 2.0))
    close_due_days(store, BEGIN + DAY + timedelta(hours=2))
    assert hours_told(store)["2026-11-04"][0][3] == [2, 100, 200, 150]


def test_the_record_with_days_is_whole_and_a_changed_root_is_told(store):
    put(store, reading(BEGIN, 1.0))
    close_due_days(store, BEGIN + 2 * DAY + timedelta(hours=2))
    with store.snapshot() as tx:
        found = verify_record(tx)
    assert (found.whole, found.craft, found.links) == (True, 0, 2)


times = st.integers(0, 3 * 24 * 60 - 1)  # minutes in three days
READINGS = st.lists(
    st.tuples(times, st.integers(-2000, 2000), st.sampled_from([AIR, DAMP]), st.integers(0, 4)),
    min_size=1,
    max_size=12,
    unique_by=lambda one: (one[0], one[2]),
)


@given(READINGS)
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=tried(15))
def test_the_last_leaf_of_each_hour_is_what_the_store_holds_in_whatever_order_it_came(stores, came):
    store = Store(stores.new_url(), "north")
    put(store, reading(BEGIN, 0.0, sensor="first"))
    by_evening = sorted(came, key=lambda one: max(one[3], one[0] // 1440))
    for evening in range(6):  # the last field is the day on which a reading arrives, at the soonest
        now = BEGIN + evening * DAY
        for minute, value, channel, arrives in by_evening:
            if max(arrives, minute // 1440) == evening:
                put(store, reading(BEGIN + timedelta(minutes=minute), value / 100, channel))
        close_due_days(store, now + DAY + timedelta(hours=2))
    last = {}
    for day in sorted(told := hours_told(store)):
        for sensor, hour, digest, *_ in told[day]:
            last[sensor, hour] = digest
    with store.snapshot() as tx:
        series = {c: i for (s, c), i in tx.series.known_series().items() if s == "post"}
        rows = tx.day_trees.hours_of_series(series.values(), 0, 2**45)
        assert verify_days(tx).breaks == ()
    hours = {hour for of_one in rows.values() for hour in of_one}
    for hour in hours:
        read = {c: rows.get(i, {}).get(hour, ()) for c, i in series.items()}
        assert last["post", hour // 3_600_000] == raw_digest(read)
    store.close()


def test_the_digest_of_raw_rows_is_over_their_canonical_form():
    rows = {DAMP: [(5, 8100, None, 1)], AIR: [(5, -412, -400, 1), (9, -410, None, 2)]}
    said = [
        ["humidity", [[5, 8100, None, 1]]],
        ["temperature", [[5, -412, -400, 1], [9, -410, None, 2]]],
    ]
    expected = urlsafe_b64encode(sha256(rfc8785.dumps(said)).digest()).decode()[:43]
    assert raw_digest(rows) == expected
