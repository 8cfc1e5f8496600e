"""What one snapshot has read is not read again until it changes, whoever changes it."""

from contextlib import ExitStack
from dataclasses import replace
from datetime import timedelta

import pytest
from sqlalchemy import event

from monitor.store.store import Store
from monitor.yard.alarm import AlarmEvent, AlarmState
from monitor.yard.alarm_facts import FinishedLine
from tests.reports import kettlemoss as yard_of
from tests.store.test_forecasts import ISSUED, issue

FROST, SILENCE, *_ = yard_of.alarms()
NOW = yard_of.KETTLEMOSS_NOW
TAKEN = AlarmEvent(
    alarm=FROST.id,
    at=NOW,
    before=AlarmState.UNACKNOWLEDGED,
    after=AlarmState.ACKNOWLEDGED,
    by="ines",
    why=FinishedLine(text="taken on"),
)


@pytest.fixture
def watched(store):
    """A store with two open alarms, and a list of the statements that it has sent."""
    with store.transaction() as tx:
        tx.alarms.put([FROST, SILENCE])
    sent: list[str] = []
    event.listen(
        store._reading, "before_cursor_execute", lambda _c, _k, said, *_: sent.append(said)
    )
    return store, sent


def read_alarms(store):
    with store.snapshot() as tx:
        return (
            tx.alarms.open_alarms(),
            tx.alarms.cleared_since(NOW - timedelta(hours=18)),
            tx.alarms.taken_on(NOW - timedelta(hours=1)),
        )


def take_on(store):
    with store.transaction() as tx:
        tx.alarms.put([replace(FROST, state=AlarmState.ACKNOWLEDGED, changed_at=NOW)])
        tx.alarms.record_changes([TAKEN])


def move_facts(store):
    with store.transaction() as tx:
        tx.alarms.put_facts([replace(FROST, headline=FinishedLine(text="from 17:10 on"))])


def clear(store):
    with store.transaction() as tx:
        tx.alarms.put([replace(FROST, state=AlarmState.NORMAL, cleared_at=NOW)])
        tx.alarms.record_changes([replace(TAKEN, after=AlarmState.NORMAL, by="laidup")])


def test_what_has_not_changed_is_not_read_again(watched):
    store, sent = watched
    first = read_alarms(store)
    sent.clear()
    assert read_alarms(store) == first
    assert [one.split()[0] for one in sent if not one.startswith(("BEGIN", "ROLLBACK"))] == [
        "SELECT"
    ]


@pytest.mark.parametrize("change", [take_on, move_facts, clear])
def test_a_change_of_this_process_is_read_at_once(watched, change):
    store, _ = watched
    before = read_alarms(store)
    change(store)
    found = read_alarms(store)
    assert found != before
    with store.transaction() as tx:  # which reads all of it from the database
        assert found[0] == tx.alarms.open_alarms()
        assert found[1] == tx.alarms.cleared_since(NOW - timedelta(hours=18))
        assert found[2] == tx.alarms.taken_on(NOW - timedelta(hours=1))


def test_the_count_of_changes_is_that_of_the_events_whoever_appends_them(watched, url):
    store, sent = watched
    take_on(store)
    with ExitStack() as closing:
        other = Store(url, "kettlemoss")
        closing.callback(other.close)
        clear(other)
        take_on(other)
    sent.clear()
    with store.snapshot() as tx:
        counted = tx.alarms.count_changes(), tx.reads.marks.alarm_changes
        # A season's events are not gone through, by whatever index.
        assert not [one for one in sent if "alarm_events" in one]
        assert counted == (3, 3)
        assert len(tx.alarms.history_of(FROST.id)) == 3


@pytest.mark.parametrize("change", [take_on, clear])
def test_an_act_of_another_process_is_read_at_once(watched, url, change):
    store, _ = watched
    before = read_alarms(store)
    with ExitStack() as closing:
        other = Store(url, "kettlemoss")
        closing.callback(other.close)
        change(other)
    found = read_alarms(store)
    assert found != before
    with store.transaction() as tx:
        assert found[0] == tx.alarms.open_alarms()


def test_a_snapshot_from_before_a_change_leaves_nothing_old_to_later_ones(watched):
    store, _ = watched
    with store.snapshot() as early:
        assert early.reads.marks.alarm_changes == 0  # from here on it sees this state
        move_facts(store)
        assert early.alarms.open_alarms()[-1].headline == FROST.headline
    with store.snapshot() as later:
        said = [one.headline for one in later.alarms.open_alarms()]
    assert FinishedLine(text="from 17:10 on") in said


def test_what_was_cleared_longer_ago_than_is_asked_for_is_left_out(watched):
    store, _ = watched
    clear(store)
    with store.snapshot() as tx:
        assert len(tx.alarms.cleared_since(NOW - timedelta(hours=1))) == 1
        assert tx.alarms.cleared_since(NOW + timedelta(hours=1)) == []
    with store.snapshot() as tx:
        assert len(tx.alarms.cleared_since(NOW - timedelta(days=9))) == 1


def test_a_new_forecast_is_told_and_one_that_is_still_to_come_is_not(store):
    twelve_h = timedelta(hours=12)

    def newest(at):
        with store.snapshot() as tx:
            return tx.forecasts.newest_known(at - twelve_h, at)

    assert newest(ISSUED + twelve_h) is None
    for hours in (0, 6):
        with store.transaction(can_wait=True) as tx:
            tx.forecasts.keep_issue(issue(hours))
        found = newest(ISSUED + twelve_h)
        assert found.issued == ISSUED + timedelta(hours=hours)
    assert newest(ISSUED + timedelta(hours=3)).issued == ISSUED
    assert newest(ISSUED + timedelta(days=2)) is None


def test_the_mark_of_a_page_moves_with_all_that_it_shows(store):
    marks = [store.change_mark()]
    with store.transaction() as tx:
        tx.assessments.replace_judgements(yard_of.assessments())
    marks.append(store.change_mark())
    with store.transaction() as tx:
        tx.alarms.put([FROST])
    marks.append(store.change_mark())
    with store.transaction(can_wait=True) as tx:
        tx.forecasts.keep_issue(issue())
    marks.append(store.change_mark())
    with store.transaction() as tx:
        tx.layup.breaks.put(["K1"], {"K1": "its last link is gone"}, NOW)
    marks.append(store.change_mark())
    with store.transaction() as tx:
        tx.layup.breaks.put(["K1"], {"K1": "its first link is gone"}, NOW)
    marks.append(store.change_mark())
    assert len(set(marks)) == len(marks)
    assert store.change_mark() == marks[-1]
