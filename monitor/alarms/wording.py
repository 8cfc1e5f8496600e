"""How a message writes names: one printable line, whatever was typed into them."""

import unicodedata

from monitor.craft.stored import StoredCraft
from monitor.yard.space import Yard


def plain(name: str, limit: int = 80) -> str:
    """A name as one line of printable text, whatever was typed into it.

    Control characters and marks that turn the writing direction could forge a header, a line of
    the message or its order; they become spaces.
    """
    kept = name
    if not name.isprintable():  # most names are, and this is quick
        kept = "".join(" " if unicodedata.category(char) in _FORGERS else char for char in name)
    line = " ".join(kept.split())
    return line if len(line) <= limit else f"{line[: limit - 1]}…"


_FORGERS = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}


def part_name(craft: StoredCraft | None, part: str) -> str:
    """What people call a part of a craft."""
    if craft is not None:
        for circuit in craft.circuits:
            if circuit.id == part:
                return plain(circuit.name)
        for surface in craft.surfaces:
            if surface.id == part:
                return plain(surface.name)
    # A sensor's name is often a long URN; its last field is what stands on its label.
    return plain(part.rsplit(":", 1)[-1] if part.startswith("urn:") else part)


def space_name(yard: Yard, space_id: str) -> str:
    """What people call a space, or the yard; its id where the yard has none such any more."""
    if space_id == yard.id:
        return plain(yard.name)
    try:
        return plain(yard.space(space_id).name)
    except KeyError:
        return plain(space_id)
