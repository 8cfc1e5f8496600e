"""Whether messages get through: a path that fails is itself a cause of alarm."""

from datetime import datetime, timedelta

from monitor.store.outbox_reports import Trouble
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
from monitor.yard.facts import PathFacts
from monitor.yard.space import Yard

_WAITS = timedelta(minutes=10)  # tried, and still not through
_REFUSED = timedelta(hours=24)  # an address that was refused within this is still wrong


def failed_paths(tx: Transaction, yard: Yard, now: datetime) -> list[Assessment]:
    """Judge the paths by what became of messages: one judgement a path that fails.

    The subject is the yard itself, the part the channel, or the channel and a person whose
    address is refused. A path that works is not judged at all.
    """
    trouble = tx.outbox.channel_trouble(now - _WAITS, now - _REFUSED)
    return [_assessment(each, yard, now) for each in trouble]


def path_part(channel: str, person: str = "") -> str:
    """The part that an alarm of a path is of: a channel, or the person whom it refuses."""
    return f"{channel} to {person}" if person else channel


def parts_of_channel(channel: str, yard: Yard) -> frozenset[str]:
    """Every part that an alarm of this channel's paths may be of."""
    people = (path_part(channel, person.id) for person in yard.people)
    return frozenset({path_part(channel), *people})


def _assessment(trouble: Trouble, yard: Yard, now: datetime) -> Assessment:
    return Assessment(
        subject=Subject(yard.id, "", path_part(trouble.channel, trouble.person)),
        hazard=Hazard.SILENCE,
        standing=Standing.LOST,
        at=now,
        facts=PathFacts(
            channel=trouble.channel,
            person=trouble.person,
            messages=trouble.messages,
            since=trouble.since,
            answer=trouble.detail,
        ),
        calls_for_act=bool(trouble.person),
        urgency=Urgency.IMMEDIATE,
        severity=Severity.SEVERE,
        certainty=Certainty.OBSERVED,
    )
