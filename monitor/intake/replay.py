"""What was kept aside, tried again: a sensor, a label or a mapping may have become known since."""

from typing import NamedTuple

from monitor.clock import to_ms
from monitor.intake.decode import Decoder
from monitor.intake.follow import enter
from monitor.intake.inbox import Message
from monitor.store.store import Store

_AT_ONCE = 10_000


class Replayed(NamedTuple):
    """What trying again has brought."""

    readings: int
    messages: int  # that are aside no more


def replay(store: Store, decoder: Decoder) -> Replayed:
    """Take in what can now be read of the messages kept aside, and forget those read in full.

    Messages are judged by the time at which they came. What has no time of its own stays aside:
    nobody knows when it was sent.
    """
    with store.snapshot() as tx:
        rows = tx.aside.newest(_AT_ONCE)
    taken = []
    done = []
    for row in reversed(rows):
        message = Message(row.topic, row.payload, to_ms(row.last_at), False, 0, 0, 0)
        readings, reason = decoder.decode(message)
        taken += readings
        if readings and not reason:
            done.append(row.digest)
    if not taken:
        return Replayed(0, 0)
    with store.transaction() as tx:
        new = enter(tx, taken)
        for first in range(0, len(done), 500):
            tx.aside.drop(done[first : first + 500])
    return Replayed(new, len(done))
