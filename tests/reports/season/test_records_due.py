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


@pytest.fixture
def store(tmp_path):
    made = winter.open_store(tmp_path)
    yield made
    made.close()


def mail_due(store, now):
    """Put in what is due, as the job does; tells which mail each takes the place of."""
    with store.snapshot() as tx:
        due = records_due(tx, winter.yard(), library(), now)
    with store.transaction() as tx:
        new = [tx.outbox.add([letter_to(store, now=now, replaces=one.replaces)]) for one in due]
    assert all(new), "what is due and adds nothing would be made again each day"
    return [one.replaces for one in due]


def enter(store, *entries, at):
    with store.transaction() as tx:
        tx.layup.append_entries(entries, at)


def test_a_hand_over_entered_behind_the_mail_is_told_once_in_its_place(store):
    winter.put_craft(store, craft="k1")
    summer = JULY + timedelta(days=1, hours=11)  # the season's last day is closed
    assert mail_due(store, summer) == [None], "the season's end"
    gone = work(Act.HANDED_OVER, at=APRIL, craft="k1")
    enter(store, gone, at=summer + timedelta(days=3))
    days = [summer + timedelta(days=3, hours=n) for n in (1, 24, 48)]
    assert [mail_due(store, each) for each in days] == [[summer], [], []]
    # It turns out to have been a day earlier, and then not: each change is told once, too.
    earlier = work(Act.HANDED_OVER, at=APRIL - timedelta(days=1), craft="k1", replaces=gone.id)
    back = work(Act.HANDED_OVER, at=APRIL, craft="k1", replaces=earlier.id)
    for n, entry in ((10, earlier), (20, back)):
        enter(store, entry, at=summer + timedelta(days=n))
        said = [mail_due(store, summer + timedelta(days=n, hours=h)) for h in (1, 25)]
        assert [len(each) for each in said] == [1, 0]


def test_a_hand_over_that_was_an_error_leaves_the_whole_record_to_come(store):
    gone = work(Act.HANDED_OVER, at=APRIL, craft="k1")
    winter.put_craft(store, gone)
    morning = APRIL + timedelta(hours=18)
    assert mail_due(store, morning) == [None]
    enter(store, work(Act.WITHDRAWN, at=APRIL, craft="k1", replaces=gone.id), at=morning)
    assert mail_due(store, morning + timedelta(days=5)) == [], "it is still here"
    really = APRIL + timedelta(days=9)
    enter(store, work(Act.HANDED_OVER, at=really, craft="k1"), at=really)
    days = [really + timedelta(hours=18 + 24 * n) for n in range(3)]
    assert [mail_due(store, each) for each in days] == [[morning], [], []]


def test_other_work_entered_behind_the_mail_sends_no_record_again(store):
    winter.put_craft(store, work(Act.HANDED_OVER, at=APRIL, craft="k1"))
    morning = APRIL + timedelta(hours=18)
    assert mail_due(store, morning) == [None]
    enter(store, work(Act.DRAINED, at=APRIL - timedelta(days=9), craft="k1"), at=morning)
    # And what comes to pass later is no error of the mail.
    may = datetime(2027, 5, 9, tzinfo=ZONE)
    enter(store, work(Act.BROUGHT_BACK, at=may, craft="k1"), at=may)
    assert mail_due(store, may + timedelta(days=1)) == []
    assert mail_due(store, JULY + timedelta(days=1, hours=11)) == []


def test_a_clock_that_was_a_season_ahead_takes_nobodys_record_away(store):
    winter.put_craft(store, craft="k1")
    ahead = JULY + timedelta(days=1, hours=11)
    assert mail_due(store, ahead) == [None], "set ahead by half a year, in January"
    enter(store, work(Act.HANDED_OVER, at=APRIL, craft="k1"), at=APRIL)
    days = [APRIL + timedelta(hours=18 + 24 * n) for n in (0, 1, 50)]
    assert [mail_due(store, each) for each in days] == [[ahead], [], []]
    assert mail_due(store, ahead + timedelta(days=1)) == []


def test_a_craft_that_came_back_for_the_winter_has_the_whole_told_too(store):
    out, back = (datetime(2026, 11, day, 15, tzinfo=ZONE) for day in (20, 23))
    winter.put_craft(store, work(Act.HANDED_OVER, at=out, craft="k1"))
    morning = timedelta(hours=18)
    assert mail_due(store, out + morning) == [None]
    for act, at in ((Act.BROUGHT_BACK, back), (Act.HANDED_OVER, APRIL)):
        enter(store, work(act, at=at, craft="k1"), at=at)
    days = [APRIL + morning + timedelta(days=n) for n in range(2)]
    assert [mail_due(store, each) for each in days] == [[out + morning], []]
    may = datetime(2027, 5, 9, tzinfo=ZONE)
    # The winter is over, and the mail that left has told all of it.
    enter(store, work(Act.BROUGHT_BACK, at=may, craft="k1"), at=may)
    assert mail_due(store, JULY + timedelta(days=1, hours=11)) == []
