"""Which season records go out by themselves: once, when the yard's care of a winter is over."""

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from monitor.craft.layup import Act
from monitor.reports.season.records_due import GOES_FOR, DueRecord, care_over_at, records_due
from tests.craft.scene import library, record, work
from tests.reports.season import winter
from tests.reports.season.test_record_letter import letter_to

ZONE = ZoneInfo("America/Chicago")
YEAR = 2026
APRIL = datetime(2027, 4, 20, 15, tzinfo=ZONE)
JULY = datetime(2027, 7, 1, tzinfo=ZONE)
LATER = datetime(2027, 8, 2, tzinfo=ZONE)
READY = work(Act.COMMISSIONED, at=APRIL - timedelta(hours=5))


@pytest.mark.parametrize(
    ("entries", "over_at"),
    [
        ([work(Act.HANDED_OVER, at=APRIL)], APRIL),
        ([READY, work(Act.TAKEN_OUT, at=APRIL)], APRIL),
        ([work(Act.TAKEN_OUT, at=APRIL)], JULY),  # for a weekend's work, or for good: nobody knows
        ([work(Act.SOLD, at=APRIL)], JULY),
        ([READY], JULY),
        ([], JULY),
        (
            [work(Act.HANDED_OVER, at=APRIL), work(Act.BROUGHT_BACK, at=APRIL + timedelta(days=3))],
            JULY,
        ),
        ([work(Act.ENTERED_IN_ERROR, at=APRIL)], None),
        # Before the winter: a visit to the workshop is no season.
        ([work(Act.HANDED_OVER, at=datetime(2026, 10, 20, 18, tzinfo=ZONE))], None),
    ],
)
def test_care_is_over_when_the_craft_is_handed_over_and_else_with_the_season(entries, over_at):
    one = record(*entries)
    assert care_over_at(one, winter.yard(), YEAR, LATER) == over_at
    if over_at == JULY:
        assert care_over_at(one, winter.yard(), YEAR, JULY - timedelta(days=1)) is None


def test_a_record_is_due_from_the_morning_after_until_it_is_in_the_outbox(tmp_path):
    store = winter.open_store(tmp_path)
    winter.put_craft(store, work(Act.HANDED_OVER, at=APRIL, craft="k1"))
    winter.put_craft(store, craft="k2", owner="")  # nobody to write to
    with store.transaction() as tx:  # a word on how it goes in winter is not the record
        tx.outbox.add([letter_to(store)])

    def due(now):
        with store.snapshot() as tx:
            return records_due(tx, winter.yard(), library(), now)

    assert due(APRIL + timedelta(hours=3)) == [], "its day is not closed yet"
    morning = APRIL + timedelta(hours=18)
    assert due(morning) == due(APRIL + timedelta(days=30)) == [DueRecord("k1", YEAR)]
    assert due(APRIL + GOES_FOR + timedelta(hours=1)) == [], "that is old news"
    with store.transaction() as tx:
        assert tx.outbox.add([letter_to(store, now=morning)]) == 1, "the whole, beside the word"
    assert due(morning) == due(LATER) == []
    store.close()


def test_a_craft_that_came_back_for_the_winter_has_the_whole_told_too(tmp_path):
    out, back = (datetime(2026, 11, day, 15, tzinfo=ZONE) for day in (20, 23))
    store = winter.open_store(tmp_path)
    gone = work(Act.HANDED_OVER, at=out, craft="k1")
    winter.put_craft(store, gone)

    def mail_due(now):
        with store.snapshot() as tx:
            due = records_due(tx, winter.yard(), library(), now)
        with store.transaction() as tx:
            return sum(tx.outbox.add([letter_to(store, now=now)]) for _ in due)

    morning = timedelta(hours=18)
    assert mail_due(out + morning) == 1
    with store.transaction() as tx:
        for act, at in ((Act.BROUGHT_BACK, back), (Act.HANDED_OVER, APRIL)):
            tx.layup.append_entries([work(act, at=at, craft="k1")], at)
    assert [mail_due(APRIL + morning + timedelta(days=n)) for n in range(2)] == [1, 0]
    may = datetime(2027, 5, 9, tzinfo=ZONE)
    with store.transaction() as tx:  # the winter is over, and the mail that left has told all of it
        tx.layup.append_entries([work(Act.BROUGHT_BACK, at=may, craft="k1")], may)
    assert mail_due(JULY + timedelta(hours=11)) == 0
    store.close()
