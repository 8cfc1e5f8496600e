"""What laidup finds wrong with its own paths, intake, store and files: causes of alarm like others.

One judgement a fault; what is right has none. The subject is the yard itself and the part says
what is at fault, save where the fault is of one craft.
"""

from collections.abc import Mapping
from datetime import datetime, timedelta
from math import isinf

from monitor.craft.stored import StoredCraft
from monitor.store.outbox_reports import Trouble
from monitor.store.transaction import Transaction
from monitor.yard.assessment import (
    Assessment,
    Certainty,
    Hazard,
    Severity,
    Standing,
    Subject,
    Urgency,
)
from monitor.yard.facts import (
    DamageFacts,
    DropFacts,
    Facts,
    ForeignFacts,
    NotTakenInFacts,
    OwnClockFacts,
    PathFacts,
    RewrittenFacts,
    RoomFacts,
)
from monitor.yard.health import IntakeFault, IntakeFaultKind, StoreCondition
from monitor.yard.space import Yard

_STILL_WAITING_AFTER = timedelta(minutes=10)  # tried, and still not through
_REFUSED_WITHIN = timedelta(hours=24)  # an address that was refused within this is still wrong
_FAR_DAYS = 365  # a disk that lasts longer has no date to tell


def judge_own_faults(
    tx: Transaction,
    yard: Yard,
    craft: Mapping[str, StoredCraft],
    condition: StoreCondition,
    refused_files: Mapping[str, str],
    now: datetime,
) -> list[Assessment]:
    """Judge all that laidup itself depends on.

    Parameters
    ----------
    tx : Transaction
    yard : Yard
    craft : mapping of craft id to StoredCraft
        Every craft in care.
    condition : StoreCondition
        As last measured.
    refused_files : mapping of craft id to str
        Why what a craft file says of a craft was not taken in.
    now : datetime
    """
    troubles = tx.outbox.channel_trouble(now - _STILL_WAITING_AFTER, now - _REFUSED_WITHIN)
    faults = tx.intake_faults.standing_faults().values()
    return [
        *(_judge_path(each, yard, now) for each in troubles),
        *(_judge_intake_fault(each, yard, now) for each in faults if each.is_current(now)),
        *_judge_store(condition, yard, now),
        *_judge_refused_files(refused_files, craft, yard, now),
    ]


def path_part(channel: str, person: str = "") -> str:
    """The part that an alarm of a path is of: a channel, or the person whom it refuses."""
    return f"{channel} to {person}" if person else channel


def parts_of_channel(channel: str, yard: Yard) -> frozenset[str]:
    """Every part that an alarm of this channel's paths may be of."""
    people = (path_part(channel, person.id) for person in yard.people)
    return frozenset({path_part(channel), *people})


def _judge_path(trouble: Trouble, yard: Yard, now: datetime) -> Assessment:
    """Judge a way to people by what became of messages: the channel, or one refused address."""
    return _own_fault(
        Subject(yard.id, "", path_part(trouble.channel, trouble.person)),
        Hazard.SILENCE,
        Standing.LOST,
        PathFacts(
            channel=trouble.channel,
            person=trouble.person,
            messages=trouble.messages,
            since=trouble.since,
            answer=trouble.detail,
        ),
        now,
        calls_for_act=bool(trouble.person),
        urgency=Urgency.IMMEDIATE,
    )


def _judge_intake_fault(fault: IntakeFault, yard: Yard, now: datetime) -> Assessment:
    """Judge this machine's clock, a broker that drops messages, or who sends as another."""
    subject = Subject(yard.id, "", str(fault.kind))
    if fault.kind is IntakeFaultKind.BROKER_DROPS:
        return _own_fault(
            subject,
            Hazard.BROKER,
            Standing.DROPPED,
            DropFacts(messages=round(fault.amount), since=fault.since),
            now,
            severity=Severity.MODERATE,
        )
    if fault.kind is IntakeFaultKind.FOREIGN_TOPIC:
        return _own_fault(
            subject,
            Hazard.SENDER,
            Standing.FOREIGN,
            ForeignFacts(messages=round(fault.amount), since=fault.since),
            now,
            severity=Severity.MODERATE,
        )
    return _own_fault(
        subject,
        Hazard.OWN_CLOCK,
        Standing.CLOCK_WRONG,
        OwnClockFacts(ahead_s=fault.amount, since=fault.since),
        now,
        urgency=Urgency.IMMEDIATE,
    )


def _judge_store(condition: StoreCondition, yard: Yard, now: datetime) -> list[Assessment]:
    """Judge room on the disk, the store's file and the record in it."""
    judged = []
    if condition.little_room:
        judged.append(_judge_room(condition, yard, now))
    if condition.damage:
        judged.append(
            _own_fault(
                Subject(yard.id, "", "store"),
                Hazard.STORE,
                Standing.DAMAGED,
                DamageFacts(says=condition.damage),
                now,
                urgency=Urgency.IMMEDIATE,
            )
        )
    if condition.rewritten:
        judged.append(
            _own_fault(
                Subject(yard.id, "", "lay-up record"),
                Hazard.STORE,
                Standing.REWRITTEN,
                RewrittenFacts(says=condition.rewritten),
                now,
            )
        )
    return judged


def _judge_room(condition: StoreCondition, yard: Yard, now: datetime) -> Assessment:
    full, days = condition.full, condition.days_left
    dated = not (full or isinf(days) or days > _FAR_DAYS)
    return _own_fault(
        Subject(yard.id, "", "disk"),
        Hazard.DISK,
        Standing.FULL if full else Standing.FILLING,
        RoomFacts(
            free_bytes=condition.free_bytes or 0,
            full_at=now + timedelta(days=days) if dated else None,
            given_up_bytes=condition.reserve_given_up,
            kept_bytes=condition.reserve_bytes or 0,
        ),
        now,
        urgency=Urgency.IMMEDIATE if full else Urgency.EXPECTED,
        severity=Severity.SEVERE if full else Severity.MODERATE,
    )


def _judge_refused_files(
    refused: Mapping[str, str], craft: Mapping[str, StoredCraft], yard: Yard, now: datetime
) -> list[Assessment]:
    """Judge what craft files say and the record refused, by craft id, with the reason in words.

    Of a craft that is not in care the yard itself is told: alarms of such craft are closed.
    """
    return [
        _own_fault(
            Subject(craft[key].space, key, "craft file")
            if key in craft
            else Subject(yard.id, "", f"craft file, {key}"),
            Hazard.RECORD,
            Standing.NOT_TAKEN_IN,
            NotTakenInFacts(says=says),
            now,
        )
        for key, says in refused.items()
    ]


def _own_fault(
    subject: Subject,
    hazard: Hazard,
    standing: Standing,
    facts: Facts,
    now: datetime,
    *,
    calls_for_act: bool = True,
    urgency: Urgency = Urgency.EXPECTED,
    severity: Severity = Severity.SEVERE,
) -> Assessment:
    return Assessment(
        subject=subject,
        hazard=hazard,
        standing=standing,
        at=now,
        facts=facts,
        calls_for_act=calls_for_act,
        urgency=urgency,
        severity=severity,
        certainty=Certainty.OBSERVED,
    )
