"""How people call what is judged: spaces, craft and their parts, by one yard's own names."""

import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from monitor.craft.protection import Protection
from monitor.craft.stored import StoredCraft
from monitor.yard.alarm import AlarmState
from monitor.yard.space import Sensor, SpaceKind, Yard
from monitor.yard.standing import Hazard

if TYPE_CHECKING:
    from monitor.yard.assessment import Assessment

# Control characters and marks that turn the writing direction could forge a header, a line of a
# message or its order.
_FORGERS = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}

SPACE_KIND = {
    SpaceKind.HEATED: "heated",
    SpaceKind.COLD: "cold building",
    SpaceKind.WRAPPED: "wrapped row",
    SpaceKind.OPEN: "open rack",
    SpaceKind.BENCH: "battery bench",
}
ALARM_STATE = {
    AlarmState.NORMAL: "over",
    AlarmState.UNACKNOWLEDGED: "not answered yet",
    AlarmState.ACKNOWLEDGED: "acknowledged",
    AlarmState.RETURNED: "over, but nobody has taken note",
    AlarmState.SHELVED: "shelved",
    AlarmState.SUPPRESSED: "not told on purpose",
    AlarmState.OUT_OF_SERVICE: "out of service",
}


# Around what reads from right to left, so that it turns nothing beside it (UAX 9, 2.4.3 to 2.4.5).
_FIRST_STRONG_ISOLATE, _POP_ISOLATE = "\u2068", "\u2069"
_RIGHT_TO_LEFT = {"R", "AL"}


def plain(name: str, limit: int = 80) -> str:
    """A name as one line of printable text, whatever was typed into it.

    One in which anything reads from right to left stands in marks that isolate it: between two
    such names in a list a comma would change sides, and a number behind one would jump before it.
    """
    printable = name
    if not name.isprintable():  # most names are, and this is quick
        printable = "".join(" " if unicodedata.category(c) in _FORGERS else c for c in name)
    line = " ".join(printable.split())
    line = line if len(line) <= limit else f"{line[: limit - 1]}…"
    if line.isascii() or not any(unicodedata.bidirectional(c) in _RIGHT_TO_LEFT for c in line):
        return line
    return f"{_FIRST_STRONG_ISOLATE}{line}{_POP_ISOLATE}"


def plain_line(sentence: str, limit: int) -> str:
    """A sentence as one line of printable text; marks that isolate a name in it stay.

    `plain` would take them for a name's own, and turn a sentence that begins with a name from right
    to left. Each mark that is opened is closed, also where the line is cut.
    """
    line, open_marks = [], 0
    for sign in sentence:
        if sign == _FIRST_STRONG_ISOLATE:
            open_marks += 1
        elif sign == _POP_ISOLATE:
            if not open_marks:
                continue
            open_marks -= 1
        elif unicodedata.category(sign) in _FORGERS:
            line.append(" ")
            continue
        line.append(sign)
    said = " ".join("".join(line).split())
    if len(said) > limit:
        said = f"{said[: limit - 1]}…"
        open_marks = said.count(_FIRST_STRONG_ISOLATE) - said.count(_POP_ISOLATE)
    return said + _POP_ISOLATE * open_marks


def part_name(craft: StoredCraft | None, part: str) -> str:
    """What people call a part of a craft."""
    if craft is not None:
        for circuit in craft.circuits:
            if circuit.id == part:
                return plain(circuit.name)
        for surface in craft.surfaces:
            if surface.id == part:
                return plain(surface.name)
    return sensor_label(part)


def sensor_label(name: str) -> str:
    """What stands on a sensor's label: the last field of its name, which is often a long URN."""
    return plain(name.rpartition(":")[2])


def judged_part_name(seen: "Assessment", craft: StoredCraft | None) -> str:
    """What people call the circuit, surface, battery or sensor that was judged."""
    if craft is None:
        return sensor_label(seen.subject.part)
    if seen.hazard is Hazard.BATTERY:
        return "battery"
    parts = craft.surfaces if seen.hazard is Hazard.DAMP else craft.circuits
    names = {part.id: part.name for part in parts}
    return names.get(seen.subject.part) or sensor_label(seen.subject.part)


def space_name(yard: Yard, space_id: str) -> str:
    """What people call a space, or the yard; its id where the yard has none such any more."""
    if space_id == yard.id:
        return plain(yard.name)
    try:
        return plain(yard.space(space_id).name)
    except KeyError:
        return plain(space_id)


NAME_IN_TEXT = 24  # signs of a craft's name, at most, in a text on a phone


def place_name(space: str, berth: str, gap: str = " ") -> str:
    """Where a craft stands: ``Long Shed 3``, and ``Rack 6, berth 5`` where the space has a number.

    Parameters
    ----------
    space : str
        What people call the space.
    berth : str
        Empty where the craft has none.
    gap : str, optional
        Before the berth; a space that does not break keeps both on one line.
    """
    if not berth:
        return plain(space)
    between = f", berth{gap}" if space[-1:].isdigit() else gap
    return f"{plain(space)}{between}{plain(berth)}"


@dataclass(frozen=True, slots=True)
class Names:
    """Looks names up for sentences: of one yard, and of the craft in its care."""

    yard: Yard
    craft: Mapping[str, StoredCraft] = field(default_factory=dict)

    @classmethod
    def of(cls, yard: Yard, craft: Iterable[StoredCraft]) -> "Names":
        """Names of a yard and of some craft in it."""
        return cls(yard, {each.id: each for each in craft})

    def space(self, space_id: str) -> str:
        """What people call a space."""
        return space_name(self.yard, space_id)

    def space_kind(self, space_id: str) -> SpaceKind | None:
        """What kind of space it is; None where the yard has none such any more."""
        return next((each.kind for each in self.yard.spaces if each.id == space_id), None)

    def craft_name(self, craft_id: str) -> str:
        """What people call a craft; its id where it is no longer in the yard's care."""
        known = self.craft.get(craft_id)
        return plain(craft_id if known is None else known.name)

    def part(self, craft_id: str, part: str) -> str:
        """What people call a circuit, a surface or a sensor."""
        return part_name(self.craft.get(craft_id), part)

    def protection(self, craft_id: str, circuit: str) -> Protection | None:
        """What the record says of a circuit now; None where it is not in the yard's care."""
        known = self.craft.get(craft_id)
        return None if known is None else known.protection.get(circuit)

    def sensor_title(self, name: str) -> str:
        """A sensor by where it hangs: its space, and the yard's note or else its label."""
        known = self.sensor(name)
        if known is None:
            return f"the sensor {sensor_label(name)}"
        return f"the sensor of {self.space(known.space)} ({self.sensor_place(name)})"

    def sensor_place(self, name: str) -> str:
        """Where a sensor hangs, as the yard's file notes it; else what stands on its label."""
        known = self.sensor(name)
        return (plain(known.note) if known is not None else "") or sensor_label(name)

    def sensor(self, name: str) -> Sensor | None:
        """A sensor of the yard by its name; None where it has none such any more."""
        return next((each for each in self.yard.sensors if each.name == name), None)
