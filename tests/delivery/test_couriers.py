"""Every channel has a thread of its own: whoever hangs holds up its own messages alone."""

import threading

import pytest

from monitor.clock import SystemClock
from monitor.delivery.couriers import Couriers, courier_name
from monitor.delivery.part_turns import PartTurns
from monitor.delivery.post import Post
from tests.delivery.scene import Box, Recorder, message
from tests.real.need import wait_until


class Hanging:
    """A channel that does not come back until it is let go."""

    def __init__(self):
        self.let_go = threading.Event()
        self.asked = threading.Event()

    def send(self, message):
        self.asked.set()
        self.let_go.wait(60)
        return Recorder().send(message)


@pytest.fixture
def hanging():
    channel = Hanging()
    yield channel
    channel.let_go.set()


def test_a_channel_that_hangs_holds_up_no_later_message_of_another(tmp_path, hanging):
    box, mail, turning = Box(tmp_path), Recorder(), PartTurns({})
    post = Post(box.store, {"webhook": hanging, "mail": mail}, SystemClock())
    couriers = Couriers(post, turning, every_s=0.05)
    couriers.start()
    box.add(message("a/1", channel="webhook"), message("a/2"))
    assert hanging.asked.wait(20)
    for number in range(3):
        box.add(message(f"b/{number}"))
        couriers.wake_all()
        wait_until(lambda want=f"b/{number}": want in mail.sent, 20, "the later mail")
    couriers.stop(timeout=0.2)  # which waits for no hand-over
    assert mail.sent.count("a/2") == 1


def test_a_courier_that_fails_is_named_and_goes_on(tmp_path, monkeypatch):
    box, turning = Box(tmp_path), PartTurns({})
    post = Post(box.store, {"mail": Recorder()}, SystemClock())

    def broken():
        raise OSError("disk on fire")

    monkeypatch.setattr(post.channels["mail"], "send_due", broken)
    couriers = Couriers(post, turning, every_s=0.02)
    couriers.start()
    wait_until(lambda: courier_name("mail") in turning.unwell_parts(), 20, "the failures to count")
    couriers.stop(timeout=5)
    assert "disk on fire" in turning.unwell_parts()["post by mail"]
    assert "post" not in turning.unwell_parts()
