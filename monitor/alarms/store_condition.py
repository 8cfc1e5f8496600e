"""Whether the store can go on: room on its disk, a sound file, a whole record."""

from datetime import datetime, timedelta
from math import isinf

from monitor.yard.assessment import (
    Assessment,
    Certainty,
    Hazard,
    Severity,
    Standing,
    Subject,
    Urgency,
)
from monitor.yard.facts import DamageFacts, RewrittenFacts, RoomFacts
from monitor.yard.space import Yard
from monitor.yard.store_condition import StoreCondition


def judge_store(condition: StoreCondition, yard: Yard, now: datetime) -> list[Assessment]:
    """Judge a store by what was last measured: one judgement a fault; what is right has none."""
    judged = []
    if condition.little_room:
        judged.append(_room(condition, yard, now))
    if condition.damage:
        damage = DamageFacts(says=condition.damage)
        judged.append(_fault("store", Standing.DAMAGED, damage, Urgency.IMMEDIATE, yard, now))
    if condition.rewritten:
        rewritten = RewrittenFacts(says=condition.rewritten)
        judged.append(
            _fault("lay-up record", Standing.REWRITTEN, rewritten, Urgency.EXPECTED, yard, now)
        )
    return judged


def _room(condition: StoreCondition, yard: Yard, now: datetime) -> Assessment:
    full, days = condition.full, condition.days_left
    return Assessment(
        subject=Subject(yard.id, "", "disk"),
        hazard=Hazard.DISK,
        standing=Standing.FULL if full else Standing.FILLING,
        at=now,
        facts=RoomFacts(
            free_bytes=condition.free_bytes or 0,
            full_at=None if full or isinf(days) or days > 365 else now + timedelta(days=days),
            given_up_bytes=condition.reserve_given_up,
            kept_bytes=condition.reserve_bytes or 0,
        ),
        calls_for_act=True,
        urgency=Urgency.IMMEDIATE if full else Urgency.EXPECTED,
        severity=Severity.SEVERE if full else Severity.MODERATE,
        certainty=Certainty.OBSERVED,
    )


def _fault(
    part: str,
    standing: Standing,
    facts: DamageFacts | RewrittenFacts,
    urgency: Urgency,
    yard: Yard,
    now: datetime,
) -> Assessment:
    return Assessment(
        subject=Subject(yard.id, "", part),
        hazard=Hazard.STORE,
        standing=standing,
        at=now,
        facts=facts,
        calls_for_act=True,
        urgency=urgency,
        severity=Severity.SEVERE,
        certainty=Certainty.OBSERVED,
    )
