"""Where no alarm can be kept, the operators are told straight from memory: once, and not others."""

from datetime import timedelta

from monitor.delivery.store_notice import StoreNotice
from monitor.yard.message import DeliveryOutcome, Receipt
from tests.alarms.scene import FOUR, MECHANIC, OPERATOR, OWNERS, yard
from tests.set_clock import SetClock


class Way:
    """A channel that is up or down."""

    def __init__(self):
        self.up = True
        self.messages = []

    def send(self, message):
        if not self.up:
            return Receipt(outcome=DeliveryOutcome.PUT_OFF, detail="421 closed for the night")
        self.messages.append(message)
        return Receipt(outcome=DeliveryOutcome.TAKEN, detail="kept")


def made(failure):
    clock, way = SetClock(FOUR), Way()
    notice = StoreNotice(
        {"mail": way}, yard([OPERATOR, MECHANIC, *OWNERS]), clock, lambda: failure[0]
    )
    return notice, clock, way


def run_for(notice, clock, **span):
    for _ in range(round(timedelta(**span) / timedelta(minutes=1))):
        notice.run_once()
        clock.run_on(timedelta(minutes=1))


def test_the_operator_alone_is_told_why_and_what_to_do_and_half_a_day_later_again():
    notice, clock, way = made(["laidup.db: database disk image is malformed"])
    run_for(notice, clock, hours=11)
    (message,) = way.messages
    assert message.person == OPERATOR.id
    assert "is not watched" in message.subject
    assert "malformed" in message.text
    assert "laidup check" in message.text
    run_for(notice, clock, hours=2)
    assert len(way.messages) == 2
    assert len({one.key for one in way.messages}) == 2


def test_a_store_that_works_is_no_news_and_fails_anew_as_news():
    failure = [""]
    notice, clock, way = made(failure)
    run_for(notice, clock, hours=1)
    assert way.messages == []
    failure[0] = "it takes nothing"
    run_for(notice, clock, hours=1)
    failure[0] = ""
    run_for(notice, clock, hours=1)
    failure[0] = "it takes nothing"
    run_for(notice, clock, hours=1)
    assert len(way.messages) == 2


def test_a_channel_that_is_down_is_tried_until_it_takes_it():
    notice, clock, way = made(["it takes nothing"])
    way.up = False
    run_for(notice, clock, hours=1)
    way.up = True
    run_for(notice, clock, hours=1)
    assert len(way.messages) == 1
