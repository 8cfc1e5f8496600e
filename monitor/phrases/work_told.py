"""The record of a craft in words: what was done by whom, and what its circuits hold by it."""

from collections.abc import Mapping, Sequence
from math import inf
from typing import Any

from monitor.craft.acts import ACTS
from monitor.craft.craft_stays import Stay
from monitor.craft.entry_words import evidence_words, time_words
from monitor.craft.layup import LayupEntry
from monitor.craft.profile import Profile
from monitor.craft.protection import Protection
from monitor.phrases.names import plain, space_name
from monitor.wording import Wording, listed
from monitor.yard.space import Yard


def act_line(entry: LayupEntry, profile: Profile) -> str:
    """What was done to which circuits: ``Drained: block and heads``."""
    names = {one.circuit.id: one.circuit.name for one in profile.circuits}
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
