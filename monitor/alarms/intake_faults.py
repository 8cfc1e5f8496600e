"""Whether readings come in whole and at true times: what intake has found is a cause of alarm."""

from datetime import datetime, timedelta

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
from monitor.yard.facts import DropFacts, OwnClockFacts
from monitor.yard.intake_fault import IntakeFault, IntakeFaultKind
from monitor.yard.space import Yard

DROPS_TOLD_FOR = timedelta(hours=24)  # after the last one that was counted


def judge_intake_faults(tx: Transaction, yard: Yard, now: datetime) -> list[Assessment]:
    """Judge this machine's clock and the broker: one judgement a fault; what is right has none."""
    return [
        _assessment(fault, yard, now)
        for fault in tx.intake_faults.standing_faults().values()
        if fault.kind is not IntakeFaultKind.BROKER_DROPS or now - fault.last_at < DROPS_TOLD_FOR
    ]


def _assessment(fault: IntakeFault, yard: Yard, now: datetime) -> Assessment:
    drops = fault.kind is IntakeFaultKind.BROKER_DROPS
    return Assessment(
        subject=Subject(yard.id, "", str(fault.kind)),
        hazard=Hazard.BROKER if drops else Hazard.OWN_CLOCK,
        standing=Standing.DROPPED if drops else Standing.CLOCK_WRONG,
        at=now,
        facts=(
            DropFacts(messages=round(fault.amount), since=fault.since)
            if drops
            else OwnClockFacts(ahead_s=fault.amount, since=fault.since)
        ),
        calls_for_act=True,
        urgency=Urgency.EXPECTED if drops else Urgency.IMMEDIATE,
        severity=Severity.MODERATE if drops else Severity.SEVERE,
        certainty=Certainty.OBSERVED,
    )
