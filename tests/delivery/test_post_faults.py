"""Clocks that are set, disks that are full, processes that die: every message still leaves."""

import subprocess
import sys
from datetime import timedelta

import pytest

from monitor.delivery.channel_post import LEASE
from monitor.delivery.post import Post
from monitor.delivery.process_name import name_of
from monitor.errors import StoreError
from monitor.store.claims import Claimant
from monitor.yard.message import DeliveryOutcome
from tests.delivery.scene import AT, Box, Recorder, message
from tests.set_clock import SetClock

TAKEN, PUT_OFF = DeliveryOutcome.TAKEN, DeliveryOutcome.PUT_OFF
AHEAD = [timedelta(minutes=20), timedelta(days=1), timedelta(days=900)]


def attempts(box, key):
    with box.store.snapshot() as tx:
        return tx.outbox.attempts_on(key)


class TestAClockThatIsSet:
    """What waits goes by time that has passed, whatever the wall clock shows."""

    @pytest.mark.parametrize("ahead", AHEAD)
    def test_put_off_while_it_ran_ahead_a_message_is_tried_after_its_wait(self, tmp_path, ahead):
        box, channel = Box(tmp_path), Recorder(PUT_OFF)
        clock = SetClock(AT)
        clock.move(ahead)
        box.add(message(created_at=clock.now()))
        post = Post(box.store, {"mail": channel}, clock)
        post.run_once()
        clock.move(-ahead)
        clock.run_on(timedelta(seconds=40))
        assert post.run_once().taken == 1

    @pytest.mark.parametrize("ahead", [timedelta(hours=2), timedelta(days=1)])
    def test_a_new_process_does_not_believe_a_time_that_no_wait_reaches(self, tmp_path, ahead):
        box, channel = Box(tmp_path), Recorder(PUT_OFF)
        clock = SetClock(AT)
        clock.move(ahead)
        box.add(message(created_at=clock.now()))
        Post(box.store, {"mail": channel}, clock).run_once()
        clock.move(-ahead)
        clock.run_on(timedelta(seconds=40))
        assert Post(box.store, {"mail": channel}, clock).run_once().taken == 1

    def test_a_claim_from_an_impossible_future_holds_nothing(self, tmp_path):
        box, channel = Box(tmp_path), Recorder()
        box.add(message())
        with box.store.transaction() as tx:
            tx.outbox.claim_due(AT + timedelta(days=1), LEASE)
        assert Post(box.store, {"mail": channel}, box.clock).run_once().taken == 1

    def test_a_clock_that_leaps_ahead_gives_nothing_up(self, tmp_path):
        box, channel = Box(tmp_path), Recorder(*[PUT_OFF] * 3)
        clock = SetClock(AT)
        box.add(message())
        post = Post(box.store, {"mail": channel}, clock)
        post.run_once()
        clock.move(timedelta(days=30))
        for _ in range(3):
            clock.run_on(timedelta(minutes=5))
            post.run_once()
        assert box.counts() == {"taken": 1}


class TestAStoreThatTakesNothing:
    """A full disk: what is due leaves by what this process remembers."""

    @pytest.fixture
    def full(self, tmp_path):
        box = Box(tmp_path)
        box.add(*(message(f"frost/{n}/maren/1") for n in range(3)))
        return box, FullDisk(box.store)

    def test_what_is_due_leaves_once_and_its_receipt_is_written_later(self, full):
        box, store = full
        channel = Recorder()
        post = Post(store, {"mail": channel}, box.clock)
        for _ in range(3):
            post.run_once()
            box.clock.advance_to(box.clock.now() + timedelta(minutes=10))
        assert len(channel.sent) == len(set(channel.sent)) == 3
        assert box.counts() == {"waiting": 3}
        store.full = False
        post.run_once()
        assert box.counts() == {"taken": 3}
        assert [one.outcome for one in attempts(box, "frost/0/maren/1")] == [TAKEN]
        assert len(channel.sent) == 3

    def test_what_is_put_off_waits_its_time_and_keeps_every_try(self, full):
        box, store = full
        channel = Recorder(PUT_OFF, PUT_OFF)
        post = Post(store, {"mail": channel}, box.clock)
        post.run_once()
        post.run_once()
        assert channel.sent == ["frost/0/maren/1", "frost/1/maren/1"]
        box.clock.advance_to(box.clock.now() + timedelta(seconds=40))
        post.run_once()
        assert sorted(channel.sent[2:]) == [f"frost/{n}/maren/1" for n in range(3)]
        store.full = False
        post.run_once()
        assert [one.outcome for one in attempts(box, "frost/0/maren/1")] == [PUT_OFF, TAKEN]

    def test_a_disk_that_fills_between_claim_and_receipt_doubles_nothing(self, full):
        box, store = full
        store.full = False

        class Filling(Recorder):
            def send(self, message):
                store.full = True
                return super().send(message)

        channel = Filling()
        post = Post(store, {"mail": channel}, box.clock)
        for _ in range(3):
            post.run_once()
            box.clock.advance_to(box.clock.now() + LEASE)
        assert len(channel.sent) == len(set(channel.sent)) == 3

    def test_who_works_here_is_told_first_where_the_store_takes_no_claim(self, tmp_path):
        box, channel = Box(tmp_path), Recorder()
        box.add(*(message(f"frost/1/{who}/1", person=who) for who in ("anders", "maren", "zoe")))
        Post(FullDisk(box.store), {"mail": channel}, box.clock, staff=["maren"]).run_once()
        assert channel.sent[0] == "frost/1/maren/1"


class FullDisk:
    """A real store that can be told to take nothing, as one does whose disk is full."""

    def __init__(self, store):
        self._store = store
        self.snapshot = store.snapshot
        self.full = True

    def transaction(self):
        if self.full:
            raise StoreError("laidup.db: it takes nothing: database or disk is full")
        return self._store.transaction()


@pytest.fixture(params=["sqlite", "postgresql"])
def box(request, tmp_path):
    """An outbox in each database."""
    if request.param == "sqlite":
        return Box(tmp_path)
    return Box(tmp_path, str(request.getfixturevalue("postgres")))


class TestClaimsOfTheDead:
    """A new start frees what its predecessor had in hand, and nobody else's."""

    def test_what_a_killed_process_had_in_hand_leaves_at_once(self, box):
        channel = Recorder()
        box.add(message())
        claim = (
            "import sys\n"
            "from datetime import datetime\n"
            "from monitor.delivery.channel_post import LEASE\n"
            "from monitor.delivery.process_name import own_name\n"
            "from monitor.store.claims import Claimant\n"
            "from monitor.store.store import Store\n"
            "with Store(sys.argv[1], 'kettlemoss').transaction() as tx:\n"
            "    at = datetime.fromisoformat(sys.argv[2])\n"
            "    assert tx.outbox.claim_due(at, LEASE, claimant=Claimant(name=own_name() + '/0'))\n"
        )
        subprocess.run([sys.executable, "-c", claim, box.url, AT.isoformat()], check=True)
        assert Post(box.store, {"mail": channel}, box.clock).run_once().taken == 1

    def test_a_live_process_keeps_its_claims(self, box):
        channel = Recorder()
        box.add(message())
        with subprocess.Popen([sys.executable, "-c", "input()"], stdin=subprocess.PIPE) as other:
            with box.store.transaction() as tx:
                tx.outbox.claim_due(AT, LEASE, claimant=Claimant(name=name_of(other.pid)))
            assert Post(box.store, {"mail": channel}, box.clock).run_once().taken == 0
            other.kill()
            other.wait()
        assert Post(box.store, {"mail": channel}, box.clock).run_once().taken == 1
