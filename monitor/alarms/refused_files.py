"""What craft files say of a craft and the record refused is a cause of alarm."""

from collections.abc import Mapping
from datetime import datetime

from monitor.craft.stored import StoredCraft
from monitor.yard.assessment import (
    Assessment,
    Certainty,
    Hazard,
    Severity,
    Standing,
    Subject,
    Urgency,
)
from monitor.yard.facts import NotTakenInFacts
from monitor.yard.space import Yard


def judge_refused_files(
    refused: Mapping[str, str], craft: Mapping[str, StoredCraft], yard: Yard, now: datetime
) -> list[Assessment]:
    """Judge what was refused: one judgement a craft, by its id, with the reason in words.

    Of a craft that is not in care the yard itself is told: alarms of such craft are closed.
    """
    return [
        Assessment(
            subject=Subject(craft[key].space, key, "craft file")
            if key in craft
            else Subject(yard.id, "", f"craft file, {key}"),
            hazard=Hazard.RECORD,
            standing=Standing.NOT_TAKEN_IN,
            at=now,
            facts=NotTakenInFacts(says=says),
            calls_for_act=True,
            urgency=Urgency.EXPECTED,
            severity=Severity.SEVERE,
            certainty=Certainty.OBSERVED,
        )
        for key, says in refused.items()
    ]
