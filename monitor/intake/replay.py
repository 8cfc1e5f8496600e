"""What was kept aside, tried again: a sensor, a label or a mapping may have become known since."""

from datetime import datetime
from typing import NamedTuple

from monitor.clock import to_ms
from monitor.intake.decode import DecodedReading, Decoder
from monitor.intake.follow import enter_readings
from monitor.intake.inbox import ArrivedMessage
from monitor.store.store import Store

_AT_ONCE = 1000  # messages in one transaction: what arrives meanwhile waits


class Replayed(NamedTuple):
    """What trying again has brought."""

    readings: int
    messages: int  # that are aside no more


def replay_aside(
    store: Store, decoder: Decoder, since: datetime | None = None, later_s: float = 0.0
) -> Replayed:
    """Take in what can now be read of the messages kept aside, and forget those read in full.

    Messages are judged by the time at which they came. What has no time of its own stays aside:
    nobody knows when it was sent. Of a stretch in which our own clock was wrong only the messages
    ``since`` its begin are tried, as having come ``later_s`` seconds later.
    """
    readings = messages = 0
    after = None
    while True:
        with store.snapshot() as tx:
            rows = tx.aside.oldest_of_use(_AT_ONCE, after)
        if not rows:
            return Replayed(readings, messages)
        after = rows[-1]
        taken: list[DecodedReading] = []
        done: list[str] = []
        for row in rows:
            if since is not None and row.last_at < since:
                continue
            came_ms = to_ms(row.last_at) + round(1000 * later_s)
            message = ArrivedMessage(row.topic, row.payload, came_ms, False, 0, 0, 0)
            found, reason = decoder.decode_message(message)
            taken += found
            if found and not reason:
                done.append(row.digest)
        if taken:
            with store.transaction(can_wait=True) as tx:
                readings += enter_readings(tx, taken, after.last_at).new
                tx.aside.drop_messages(done)
            messages += len(done)
