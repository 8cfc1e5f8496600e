"""The record of a craft in words: what was done by whom, what it holds, what its owner told."""

from collections.abc import Mapping, Sequence
from datetime import date
from math import inf
from typing import Any

from monitor.craft.acts import ACTS
from monitor.craft.craft_stays import Stay
from monitor.craft.entry_words import evidence_words, time_words
from monitor.craft.layup import Act, LayupEntry
from monitor.craft.profile import Profile
from monitor.craft.protection import Protection
from monitor.phrases.names import plain, space_name
from monitor.wording import Wording, listed
from monitor.yard.caution import NOT_LIFE_SAFETY_NOTE
from monitor.yard.space import Yard

_COLLECTS = "collects it on "


def act_line(entry: LayupEntry, profile: Profile) -> str:
    """What was done to which circuits: ``Drained: block and heads``."""
    return act_on_circuits(entry, {one.circuit.id: one.circuit.name for one in profile.circuits})


def act_on_circuits(entry: LayupEntry, names: Mapping[str, str]) -> str:
    """The same, by what people call the circuits."""
    act = ACTS[entry.act].name
    on = listed([plain(names.get(each, each)) for each in entry.circuits])
    return f"{act[:1].upper()}{act[1:]}{f': {on}' if on else ''}"


def done_by(entry: LayupEntry, words: Wording) -> str:
    """Who did it, and when by what they said."""
    return f"{plain(words.person(entry.by))}, {time_words(entry, words)}"


def evidence_line(entry: LayupEntry, words: Wording) -> str:
    """Everything else that was noted of it; empty where nothing was."""
    return "; ".join(evidence_words(entry, words))


def place_line(stay: Stay, yard: Yard) -> str:
    """Where a craft stands: ``Long Shed, berth 3``."""
    berth = f", berth {plain(stay.berth)}" if stay.berth else ""
    return f"{space_name(yard, stay.space)}{berth}"


def changed_fields(before: Mapping[str, Any], after: Mapping[str, Any]) -> Sequence[str]:
    """What of a craft's own row was changed: ``name was Heron, now Crane``."""
    keys = [key for key in {**before, **after} if before.get(key) != after.get(key)]
    return [
        f"{key.replace('_', ' ')} was {before.get(key, 'none')}, now {after.get(key, 'none')}"
        for key in keys
    ]


def contents_words(held: Protection, words: Wording) -> str:
    """What stands in a circuit, as the record adds up."""
    if held.ice_point_c == -inf:
        return "nothing: seen dry"
    glycol = held.glycol_mass_fraction
    strength = f", {glycol * 100:.0f} % glycol" if glycol is not None else ""
    return words.in_reader_units(f"{held.liquid}{strength}")


def limit_words(held: Protection, words: Wording) -> str:
    """Where ice begins in a circuit; a dry one has no such point."""
    return "none" if held.ice_point_c == -inf else words.ice_point(held.ice_point_c)


def basis_words(held: Protection) -> str:
    """How what a circuit holds is known, and how far that carries."""
    return f"{held.state}: {held.basis}" if held.ice_point_c < 0.0 else str(held.state)


def collection_note(on: date) -> str:
    """What the record holds of the day on which an owner collects a craft."""
    return f"{_COLLECTS}{on.isoformat()}"


def collection_day(entry: LayupEntry) -> date | None:
    """The day that `collection_note` wrote; None where an entry holds none."""
    if entry.act is not Act.COLLECTION_TOLD or not entry.note.startswith(_COLLECTS):
        return None
    try:
        return date.fromisoformat(entry.note.removeprefix(_COLLECTS))
    except ValueError:
        return None


def told_subject(entry: LayupEntry, craft: str, owner: str, words: Wording) -> str:
    """The notice in a line: who told what of which craft."""
    day = collection_day(entry)
    if day is not None:
        return f"{owner} collects {craft} on {day:%a} {day.day} {day:%b}"
    return f"{owner} ran {craft}, {words.clock(entry.at)}: lay it up again"


def told_text(entry: LayupEntry, craft: str, owner: str, words: Wording) -> str:
    """The whole notice: what was told, and what to do about it."""
    day = collection_day(entry)
    if day is not None:
        act = (
            f"{owner} says: I collect {craft} on {day:%A} {day.day} {day:%B %Y}. Have it ready;"
            f" `laidup layup spring {entry.craft}` has the steps before the first start."
        )
    else:
        act = (
            f"{owner} ran {craft} at {words.full_time(entry.at)}. Water came in, so what was laid"
            " up before no longer counts. Drain or treat it again before the next frost."
        )
    return f"{act}\n\nIt is on record as told by {owner}.\n\n{NOT_LIFE_SAFETY_NOTE}\n"
