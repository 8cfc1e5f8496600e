"""Circuits as people write them: by id, by their own name, by side, several in a row."""

import re
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from monitor.craft.act_table import circuits_within_reach
from monitor.craft.acts import is_gear_oil
from monitor.craft.layup import Act
from monitor.craft.profile import Profile
from monitor.errors import BadValueError

ALL_CIRCUITS = "all"  # in place of a circuit: every one that the act can say something of

_PARTED = re.compile(r"[,;+&]")
_BETWEEN = "and"


def circuits_named(said: str | Iterable[Any], profile: Profile) -> list[Any]:
    """Circuits that a text names; a word that is none of the craft's is left as it stands.

    Parameters
    ----------
    said : str or iterable
        ``raw pump, block``, or such texts one by one.
    profile : Profile
        Of the craft: a name means the circuit that has it.
    """
    names = _names_of(profile)
    texts = [said] if isinstance(said, str) else said
    found = [
        name
        for text in texts
        for name in (_named_in(text, names) if isinstance(text, str) else [text])
    ]
    return list(dict.fromkeys(found)) if all(isinstance(one, str) for one in found) else found


def said_of_craft(said: Mapping[str, Any], profile: Profile) -> dict[str, Any]:
    """What was said of a step, by column, with its circuits by id.

    Words that tell whose oil was changed name the circuit besides: oil of a gearcase is no oil of
    the engine, of which no circuit is told.

    Raises
    ------
    BadValueError
        If the words ask for a circuit that the craft has not, or has several of.
    """
    if said.get("circuits"):
        return {**said, "circuits": circuits_named(said["circuits"], profile)}
    if not is_gear_oil(said.get("act")):
        return dict(said)
    housings = circuits_within_reach(Act.OIL_CHANGED, profile)
    if len(housings) == 1:
        return {**said, "circuits": list(housings)}
    if housings:
        problem = f"{profile.name} has {len(housings)} housings with oil of their own"
        raise BadValueError(problem, f"name those that it was: {', '.join(housings)}")
    raise BadValueError(
        f"{profile.name} has no gearcase on file",
        "oil-changed alone is the engine's own oil; tell that of a gearbox as a note",
    )


def plain_name(text: str) -> str:
    """A name without capitals, hyphens and double spaces, as people mix them up."""
    return " ".join(text.lower().replace("-", " ").replace("_", " ").replace(",", " ").split())


def _names_of(profile: Profile) -> dict[str, str]:
    """What a text may say, without capitals and hyphens, and the word that stands for it."""
    names: dict[str, str] = {}
    for one in profile.circuits:
        names.setdefault(plain_name(one.circuit.name), one.circuit.id)
    names.update((plain_name(one.circuit.id), one.circuit.id) for one in profile.circuits)
    names.update((plain_name(one), one) for one in (ALL_CIRCUITS, *profile.engine_names))
    return names


def _named_in(text: str, names: Mapping[str, str]) -> Iterator[str]:
    whole = names.get(plain_name(text))
    if whole is not None:
        yield whole
        return
    for part in _PARTED.split(text.lower()):
        words = part.split()
        while words:
            for length in range(len(words), 0, -1):
                name = names.get(plain_name(" ".join(words[:length])))
                if name is not None:
                    yield name
                    words = words[length:]
                    break
            else:
                if words[0] != _BETWEEN:
                    yield words[0]
                words = words[1:]
