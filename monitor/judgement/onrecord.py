"""What a craft's own record asks for: undone work, a move out of the heat, snow, a torn cover."""

from datetime import datetime

from monitor.craft.stored import StoredCraft
from monitor.craft.unsettled import Kind, Unsettled
from monitor.yard.assessment import (
    Assessment,
    Caution,
    Certainty,
    Hazard,
    Severity,
    Standing,
    Subject,
    Urgency,
)
from monitor.yard.facts import RecordFacts

# Parts of a craft that a record speaks of.
LAY_UP, COVER, WRAP, WHOLE = "lay-up", "cover", "snow load", "record"

_STANDING = {
    Kind.UNDONE: Standing.VOIDED,
    Kind.OUT_OF_HEAT: Standing.OUT_OF_HEAT,
    Kind.SNOW: Standing.SNOWED,
    Kind.TORN: Standing.TORN,
    Kind.UNREADABLE: Standing.UNREADABLE,
}
_PART = {
    Kind.UNDONE: LAY_UP,
    Kind.OUT_OF_HEAT: LAY_UP,
    Kind.SNOW: WRAP,
    Kind.TORN: COVER,
    Kind.UNREADABLE: WHOLE,
}
_WEIGHT = {
    Kind.UNDONE: (Urgency.EXPECTED, Severity.MODERATE, Certainty.OBSERVED),
    Kind.OUT_OF_HEAT: (Urgency.IMMEDIATE, Severity.SEVERE, Certainty.OBSERVED),
    Kind.SNOW: (Urgency.EXPECTED, Severity.MODERATE, Certainty.POSSIBLE),
    Kind.TORN: (Urgency.EXPECTED, Severity.MINOR, Certainty.OBSERVED),
    Kind.UNREADABLE: (Urgency.EXPECTED, Severity.SEVERE, Certainty.OBSERVED),
}
_CAUTIONS = {
    Kind.UNDONE: (Caution.CARBON_MONOXIDE, Caution.FUEL_VAPOUR, Caution.GLYCOL),
    Kind.OUT_OF_HEAT: (Caution.GLYCOL, Caution.FUEL_VAPOUR),
    Kind.SNOW: (Caution.SNOW_LOAD,),
    Kind.TORN: (Caution.SNOW_LOAD,),
    Kind.UNREADABLE: (),
}


def judge_record(craft: StoredCraft, now: datetime) -> list[Assessment]:
    """Judge what the record of one craft leaves open.

    Parameters
    ----------
    craft : StoredCraft
    now : datetime

    Returns
    -------
    list of Assessment
        One for each open matter; a record that is in order is not judged at all. A person's
        entry has no margin. It is taken at its word, and says whose word it is.
    """
    return [
        _assessment(each, craft, now)
        # Of two that concern one part the later in `Kind` is the graver.
        for each in {_PART[one.kind]: one for one in craft.unsettled}.values()
    ]


def _assessment(matter: Unsettled, craft: StoredCraft, now: datetime) -> Assessment:
    urgency, severity, certainty = _WEIGHT[matter.kind]
    return Assessment(
        subject=Subject(craft.space, craft.id, _PART[matter.kind]),
        hazard=Hazard.RECORD,
        standing=_STANDING[matter.kind],
        at=now,
        facts=RecordFacts(
            matter=matter.kind,
            entered_at=matter.at,
            entered_by=matter.by,
            act=matter.act,
            circuits=matter.circuits,
            unreadable=matter.words,
        ),
        calls_for_act=True,
        urgency=urgency,
        severity=severity,
        certainty=certainty,
        cautions=_CAUTIONS[matter.kind],
    )
