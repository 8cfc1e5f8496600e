"""Whether messages get through: a path that fails is itself a cause of alarm."""

from datetime import datetime, timedelta

from monitor.store.outbox import Trouble
from monitor.store.store import Transaction
from monitor.yard.assessment import (
    Assessment,
    Certainty,
    Hazard,
    Severity,
    Standing,
    Subject,
    Urgency,
)
from monitor.yard.space import Yard

_WAITS = timedelta(minutes=10)  # tried, and still not through
_REFUSED = timedelta(hours=24)  # an address that was refused within this is still wrong


def failed_paths(tx: Transaction, yard: Yard, now: datetime) -> list[Assessment]:
    """Judge the paths by what became of messages: one judgement a path that fails.

    The subject is the yard itself, the part the channel, or the channel and a person whose
    address is refused. A path that works is not judged at all.
    """
    trouble = tx.outbox.trouble(now - _WAITS, now - _REFUSED)
    return [_assessment(each, yard, now) for each in trouble]


def _assessment(trouble: Trouble, yard: Yard, now: datetime) -> Assessment:
    since = trouble.since.astimezone(yard.zone)
    count = f"{trouble.messages} message{'' if trouble.messages == 1 else 's'}"
    if trouble.person:
        part = f"{trouble.channel} to {trouble.person}"
        what = f"{count} to {trouble.person} by {trouble.channel} will not be tried again"
        act = f"Put the address of {trouble.person} right, and tell them by telephone."
    else:
        part = trouble.channel
        what = f"{count} by {trouble.channel} could not be handed over"
        act = ""
    return Assessment(
        subject=Subject(yard.id, "", part),
        hazard=Hazard.SILENCE,
        standing=Standing.LOST,
        at=now,
        basis=f"{what}, the oldest of {since:%a %H:%M}. Last answer: {trouble.detail}.",
        act=act,
        urgency=Urgency.IMMEDIATE,
        severity=Severity.SEVERE,
        certainty=Certainty.OBSERVED,
    )
