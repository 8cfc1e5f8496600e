"""The head that leaves with a message: always that of the links that are there."""

from datetime import timedelta

import pytest
from sqlalchemy import create_engine

from monitor.craft.merkle import head_of
from monitor.store.entering import enter
from monitor.store.taking_in import take_in
from monitor.yard.message import Message, MessageKind
from tests.craft.scene import EVE, library, record, work


def message(key):
    return Message(
        key=key,
        person="maren",
        channel="mail",
        address="maren@kettlemoss.example",
        kind=MessageKind.REPORT,
        subject="The week",
        text="All is well.",
        created_at=EVE + timedelta(minutes=len(key)),
    )


def head_that_leaves(store, key):
    with store.transaction() as tx:
        tx.outbox.add([message(key)])
    with store.snapshot() as tx:
        there = head_of(one.hash for one in tx.layup.chain.links_since())
        newest = tx.outbox.newest_messages(1)[0][0].record_head
    assert newest == (str(there) if there.count else "")
    return newest


def enter_work(tx, hour):
    enter(tx.layup, [work("flushed", hour)], library(), EVE, "test")


def write_and_fail(store):
    with store.transaction() as tx:
        enter_work(tx, 1)
        tx.outbox.add([message("dddd")])
        _ = 1 / 0


def test_it_grows_with_the_record_and_nothing_that_was_undone_is_in_it(store, url):
    assert head_that_leaves(store, "a") == ""
    with store.transaction() as tx:
        take_in(tx.layup, [record()], library(), EVE)
        tx.outbox.add([message("bb")])
    first = head_that_leaves(store, "ccc")
    assert first.startswith("2-")  # the craft's row and its stay
    with pytest.raises(ZeroDivisionError):
        write_and_fail(store)
    assert head_that_leaves(store, "eeeee") == first
    with store.transaction() as tx:
        enter_work(tx, 2)
    assert head_that_leaves(store, "ffffff").startswith("3-")
    engine = create_engine(url)
    with engine.begin() as connection:
        connection.exec_driver_sql("DELETE FROM record_links WHERE position = 2")
    engine.dispose()
    assert head_that_leaves(store, "ggggggg") == first
