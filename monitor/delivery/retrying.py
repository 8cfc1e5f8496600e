"""How long to wait between two tries, and when a message is too old to help anybody."""

import random
from datetime import timedelta

from monitor.yard.message import MessageKind

FIRST_WAIT = timedelta(seconds=30)
# What a person must act on asks often whether the channel is back; the rest follows it.
_LONGEST_WAIT = {
    MessageKind.ALARM: timedelta(minutes=4),
    MessageKind.UPDATE: timedelta(minutes=4),
    MessageKind.NOTICE: timedelta(minutes=4),
    MessageKind.ALL_CLEAR: timedelta(minutes=30),
    MessageKind.REPORT: timedelta(minutes=30),
    MessageKind.TEST: timedelta(minutes=4),
}
_JITTER = 0.25  # share of the wait, either way: many yards must not knock in step
# After so long a message tells nothing that helps. What a person must do tonight is stale sooner
# than a report.
GIVE_UP = {
    MessageKind.ALARM: timedelta(days=2),
    MessageKind.UPDATE: timedelta(days=2),
    MessageKind.NOTICE: timedelta(days=1),
    MessageKind.ALL_CLEAR: timedelta(days=2),
    MessageKind.REPORT: timedelta(days=5),
    MessageKind.TEST: timedelta(hours=1),
}


def wait_after(
    tries: int, kind: MessageKind, chance: random.Random, first: timedelta = FIRST_WAIT
) -> timedelta:
    """How long to wait after the try number ``tries`` (from 0): doubled each time, jittered."""
    doubled: timedelta = first * (1 << min(tries, 16))
    return min(doubled, _LONGEST_WAIT[kind]) * (1 + chance.uniform(-_JITTER, _JITTER))


def tried_for(tries: int, kind: MessageKind) -> timedelta:
    """Time that so many tries took at least, after the short waits of the first."""
    return max(tries - 6, 0) * _LONGEST_WAIT[kind] * (1 - _JITTER)
