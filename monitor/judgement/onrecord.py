"""What a craft's own record asks for: undone work, a move out of the heat, snow, a torn cover."""

from monitor.craft.stored import StoredCraft
from monitor.craft.unsettled import Kind, Unsettled
from monitor.judgement.speech import Speech, sentence
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
from monitor.yard.space import Space

LAY_UP, COVER, WRAP = "lay-up", "cover", "snow load"  # parts of a craft that a record speaks of
_FEW = 3

_STANDING = {
    Kind.UNDONE: Standing.VOIDED,
    Kind.OUT_OF_HEAT: Standing.OUT_OF_HEAT,
    Kind.SNOW: Standing.SNOWED,
    Kind.TORN: Standing.TORN,
}
_PART = {
    Kind.UNDONE: LAY_UP,
    Kind.OUT_OF_HEAT: LAY_UP,
    Kind.SNOW: WRAP,
    Kind.TORN: COVER,
}
_WEIGHT = {
    Kind.UNDONE: (Urgency.EXPECTED, Severity.MODERATE, Certainty.OBSERVED),
    Kind.OUT_OF_HEAT: (Urgency.IMMEDIATE, Severity.SEVERE, Certainty.OBSERVED),
    Kind.SNOW: (Urgency.EXPECTED, Severity.MODERATE, Certainty.POSSIBLE),
    Kind.TORN: (Urgency.EXPECTED, Severity.MINOR, Certainty.OBSERVED),
}
_CAUTIONS = {
    Kind.UNDONE: (Caution.CARBON_MONOXIDE, Caution.FUEL_VAPOUR, Caution.GLYCOL),
    Kind.OUT_OF_HEAT: (Caution.GLYCOL, Caution.FUEL_VAPOUR),
    Kind.SNOW: (Caution.SNOW_LOAD,),
    Kind.TORN: (Caution.SNOW_LOAD,),
}


def judge_record(craft: StoredCraft, space: Space, speech: Speech) -> list[Assessment]:
    """Judge what the record of one craft leaves open.

    Parameters
    ----------
    craft : StoredCraft
    space : Space
        Where it stands.
    speech : Speech

    Returns
    -------
    list of Assessment
        One for each open matter; a record that is in order is not judged at all. A person's
        entry has no margin. It is taken at its word, and says whose word it is.
    """
    return [
        _assessment(each, craft, space, speech)
        # Of two that concern one part the later in `Kind` is the graver.
        for each in {_PART[one.kind]: one for one in craft.unsettled}.values()
    ]


def _assessment(matter: Unsettled, craft: StoredCraft, space: Space, speech: Speech) -> Assessment:
    urgency, severity, certainty = _WEIGHT[matter.kind]
    return Assessment(
        subject=Subject(craft.space, craft.id, _PART[matter.kind]),
        hazard=Hazard.RECORD,
        standing=_STANDING[matter.kind],
        at=speech.now,
        basis=_basis(matter, craft, space, speech),
        act=_act(matter, craft, space),
        urgency=urgency,
        severity=severity,
        certainty=certainty,
        cautions=_CAUTIONS[matter.kind],
    )


def _basis(matter: Unsettled, craft: StoredCraft, space: Space, speech: Speech) -> str:
    day = speech.date(matter.at)
    by = f" by {matter.by}" if matter.by else ""
    if matter.kind is Kind.SNOW:
        # Wet old snow has 300 to 500 kg a cubic metre (alpine practice).
        return (
            f"Snow or ice was seen to lie on {craft.name} in {space.name} on {day}{by}, and nobody"
            " has entered that it was cleared. How much it weighs is not measured: ten centimetres"
            " of wet snow are 30 to 50 kg on each square metre."
        )
    if matter.kind is Kind.TORN:
        return (
            f"The cover was found torn on {day}{by}, and nobody has entered that one was fitted"
            " since. Rain and snow get in."
        )
    names = [one.name for one in craft.circuits if one.id in matter.circuits]
    more = f" and {len(names) - _FEW} more" if len(names) > _FEW else ""
    why = craft.protection[matter.circuits[0]].why.rstrip(". ")
    return sentence(f"{', '.join(names[:_FEW])}{more}: {why}; judged as plain water since {day}.")


def _act(matter: Unsettled, craft: StoredCraft, space: Space) -> str:
    if matter.kind is Kind.OUT_OF_HEAT:
        return (
            f"Move {craft.name} back into the warm, or drain and treat it in {space.name} before"
            " frost. If the move was entered by mistake, enter one back to where it stands with"
            " `laidup layup move`, and then that it is kept warm."
        )
    if matter.kind is Kind.SNOW:
        return "Clear it from the ground, look at frame and cover, and enter that it is cleared."
    if matter.kind is Kind.TORN:
        return (
            "Dry what got wet, fit a cover within a day, look into bilge, lockers and hub, and"
            " enter that it is fitted."
        )
    if matter.act is None:
        return (
            "It is back in the warm: look for damage, and then lay it up, or enter that it is left"
            " untreated on purpose and kept warm."
        )
    # To lay it up again an engine may be run, and what was undone may have frozen meanwhile.
    return (
        "Lay these circuits up again and read a sample; where ice may have been in them since,"
        " thaw and look first, and do not start. If they are in work, enter that work has begun,"
        " and that it has ended."
    )
