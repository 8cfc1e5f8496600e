"""What is said of what people entered and nobody has put right: undone work, snow, tears."""

from monitor.craft.craft_condition import UnsettledKind
from monitor.phrases.names import Names, plain
from monitor.wording import Wording, listed_first
from monitor.yard.assessment import Assessment, Subject
from monitor.yard.facts import NotTakenInFacts, RecordFacts

_NAMED = 3  # circuits; the rest are counted


def record_basis(facts: RecordFacts, seen: Assessment, names: Names, words: Wording) -> str:
    """What was entered, when, by whom, and that it still stands."""
    if facts.matter is UnsettledKind.UNREADABLE:
        return (
            f"The record of {names.craft_name(seen.subject.craft)} cannot be read:"
            f" {plain(facts.unreadable, limit=400)}. None of its work counts, and every circuit is"
            " judged as plain water."
        )
    day = words.date(facts.entered_at)
    by = f" by {plain(words.person(facts.entered_by))}" if facts.entered_by else ""
    if facts.matter is UnsettledKind.SNOW:
        # Wet old snow has 300 to 500 kg a cubic metre (alpine practice).
        return (
            f"Snow or ice was seen to lie on {names.craft_name(seen.subject.craft)} in"
            f" {names.space(seen.subject.space)} on {day}{by}, and nobody has entered that it was"
            " cleared. How much it weighs is not measured: ten centimetres of wet snow are 30 to"
            " 50 kg on each square metre."
        )
    if facts.matter is UnsettledKind.TORN:
        return (
            f"The cover was found torn on {day}{by}, and nobody has entered that one was fitted"
            " since. Rain and snow get in."
        )
    named = [names.part(seen.subject.craft, each) for each in facts.circuits]
    held = names.protection(seen.subject.craft, facts.circuits[0]) if facts.circuits else None
    why = f": {held.why.rstrip('. ')}" if held is not None else ""
    return f"{listed_first(named, _NAMED)}{why}; judged as plain water since {day}."


def not_taken_in_basis(facts: NotTakenInFacts) -> str:
    """What of a craft file was refused, and what the craft is judged by instead."""
    return (
        f"Not taken in of what the craft files say: {plain(facts.says, limit=400)}"
        " Work on the same circuits waits with it. The craft is judged by what is on record;"
        " without any, it is not watched."
    )


def not_taken_in_act() -> str:
    """What puts a refused craft file right."""
    return (
        "Correct the craft file, try it with `laidup check` and start laidup again. Until then do"
        " not rely on how this craft is judged: work that undoes its lay-up may be missing."
    )


def record_act(facts: RecordFacts, subject: Subject, names: Names) -> str:
    """What puts it right."""
    if facts.matter is UnsettledKind.UNREADABLE:
        return (
            "Put the profile or fitting back, or withdraw or correct the entry that does not fit or"
            f" was changed; `laidup layup list {subject.craft}` shows them. If it may freeze"
            " tonight, drain or treat it as if nothing had been done."
        )
    if facts.matter is UnsettledKind.OUT_OF_HEAT:
        return (
            f"Move {names.craft_name(subject.craft)} back into the warm, or drain and treat it in"
            f" {names.space(subject.space)} before frost. If the move was entered by mistake, enter"
            " one back to where it stands with `laidup layup move`, and then that it is kept warm."
        )
    if facts.matter is UnsettledKind.SNOW:
        return "Clear it from the ground, look at frame and cover, and enter that it is cleared."
    if facts.matter is UnsettledKind.TORN:
        return (
            "Dry what got wet, fit a cover within a day, look into bilge, lockers and hub, and"
            " enter that it is fitted."
        )
    if facts.act is None:
        return (
            "It is back in the warm: look for damage, and then lay it up, or enter that it is left"
            " untreated on purpose and kept warm."
        )
    # To lay it up again an engine may be run, and what was undone may have frozen meanwhile.
    return (
        "Lay up again what was undone and read a sample; where ice may have been since, thaw and"
        " look first, and do not start. If somebody is at work on it, enter that work has begun,"
        " and that it has ended."
    )
