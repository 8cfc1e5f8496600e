"""When a channel that does not take a message is in trouble, and when it only asks to wait."""

from datetime import timedelta

import pytest

from monitor.delivery.channels.mail import MailChannel
from monitor.delivery.channels.mail_refusals import asks_to_wait
from monitor.delivery.post import Post
from monitor.delivery.waiting import HandOvers
from monitor.yard.message import DeliveryOutcome, Receipt
from tests.delivery.scene import Box, mail_settings, message

GREYLISTED = Receipt(
    outcome=DeliveryOutcome.PUT_OFF, detail="450 4.7.1 come again", asks_to_wait=True
)
BROKEN = Receipt(outcome=DeliveryOutcome.PUT_OFF, detail="no connection")
TAKEN = Receipt(outcome=DeliveryOutcome.TAKEN, detail="250 kept")


class Tries:
    """A channel's hand-overs on seconds of the test's own."""

    def __init__(self) -> None:
        self.now_s = 0.0  # a machine that has only started, too
        self.hand_overs = HandOvers(lambda: self.now_s)

    def end_with(self, receipt: Receipt, at_s: float) -> str:
        self.now_s = at_s
        self.hand_overs.begin_hand_over()
        self.hand_overs.end_hand_over(receipt)
        return self.hand_overs.trouble


def test_a_server_that_asks_to_come_again_is_in_no_trouble_for_ten_minutes():
    tries = Tries()
    assert tries.end_with(GREYLISTED, 0.0) == ""
    assert tries.end_with(GREYLISTED, 300.0) == ""
    assert tries.end_with(TAKEN, 420.0) == ""


def test_a_server_that_asks_to_wait_without_end_is_told_of():
    tries = Tries()
    for at_s in (0.0, 300.0, 599.0):
        assert tries.end_with(GREYLISTED, at_s) == ""
    tries.now_s = 601.0  # without another try
    assert tries.hand_overs.trouble == GREYLISTED.detail


def test_what_was_taken_in_between_begins_the_wait_anew():
    tries = Tries()
    tries.end_with(GREYLISTED, 0.0)
    tries.end_with(TAKEN, 590.0)
    assert tries.end_with(GREYLISTED, 700.0) == ""


def test_a_server_that_breaks_while_it_is_waited_for_is_told_of_at_once():
    tries = Tries()
    tries.end_with(GREYLISTED, 0.0)
    assert tries.end_with(BROKEN, 60.0) == BROKEN.detail
    # Nor does one that breaks and asks by turns get a new ten minutes each time.
    assert tries.end_with(GREYLISTED, 610.0) == GREYLISTED.detail


@pytest.mark.parametrize(
    ("code", "answer", "waits"),
    [
        (450, b"4.7.1 greylisted", True),  # RFC 6647, section 5
        (451, b"4.7.1 please try again", True),
        (450, b"4.2.0 greylisted, see later", True),
        (451, b"try again later", True),
        (451, b"4.3.0 local error", False),
        (452, b"4.2.2 mailbox full", False),
        (421, b"4.3.2 shutting down", False),
        (550, b"5.7.1 refused by policy", False),
        (354, b"go on", False),
    ],
)
def test_only_a_server_that_works_and_wants_a_second_try_asks_to_wait(code, answer, waits):
    assert asks_to_wait(code, answer) is waits


@pytest.mark.parametrize(
    ("answer", "troubles"),
    [
        ("451 4.7.1 greylisted, come again in 300 seconds", []),
        ("451 4.3.0 no room in the queue", ["mail"]),
    ],
)
def test_a_mail_that_is_greylisted_leaves_later_and_nobody_is_warned(
    tmp_path, mail_server, answer, troubles
):
    box, mail_server.refusal = Box(tmp_path), answer
    box.add(message())
    post = Post(box.store, {"mail": MailChannel(mail_settings(mail_server.port))}, box.clock)
    assert post.run_once().put_off == 1
    assert list(post.channel_troubles()) == troubles
    mail_server.refusal = None
    box.clock.advance_to(box.clock.now() + timedelta(minutes=5))
    assert post.run_once().taken == 1
    assert post.channel_troubles() == {}
    assert len(mail_server.messages) == 1
