"""How a message writes names, temperatures and times for one person."""

import math
import unicodedata
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from monitor.craft.stored import StoredCraft
from monitor.units import TemperatureUnit, difference_text, temperature_text
from monitor.yard.assessment import Assessment, Hazard
from monitor.yard.space import Person, Yard
from monitor.yard.typeset import typeset

_NEAR = timedelta(hours=20)  # so long a bare "06:48" can only mean the next one


@dataclass(frozen=True, slots=True, kw_only=True)
class Wording:
    """Writes quantities for one reader at one moment."""

    zone: ZoneInfo
    unit: TemperatureUnit
    now: datetime

    @classmethod
    def of(cls, yard: Yard, now: datetime, person: Person | None = None) -> "Wording":
        """A person's own wording, or the yard's."""
        unit = yard.temperature_unit
        if person is not None and person.temperature_unit is not None:
            unit = person.temperature_unit
        return cls(zone=yard.zone, unit=unit, now=now)

    def temperature(self, value_c: float) -> str:
        """Write ``−4.0 °C``."""
        return typeset(temperature_text(value_c, self.unit))

    def difference(self, value_k: float) -> str:
        """Write a difference without its sign."""
        return typeset(difference_text(abs(value_k), self.unit))

    def clock(self, at: datetime) -> str:
        """Write the yard's time: ``23:28``, ``Sun 08:54``, ``20 Nov 08:54``."""
        local, away = at.astimezone(self.zone), at - self.now
        today = local.date() == self.now.astimezone(self.zone).date()
        hour = f"{local:%H:%M %Z}" if _comes_twice(local) else f"{local:%H:%M}"
        if today or timedelta(0) <= away <= _NEAR:
            return hour
        if abs(away) < timedelta(days=6):
            return f"{local:%a} {hour}"
        return f"{local.day} {local:%b} {hour}"

    def moment(self, at: datetime) -> str:
        """Write the yard's time in full: ``Saturday 14 November, 16:00 CST``."""
        local = at.astimezone(self.zone)
        return f"{local:%A} {local.day} {local:%B}, {local:%H:%M %Z}"

    def room(self, seen: Assessment) -> str:
        """Say the margin in words that need no sign; empty where there is none to state."""
        margin_k = seen.margin_k
        if not math.isfinite(margin_k):
            return ""
        if seen.hazard is Hazard.DAMP:
            side = "above" if margin_k >= 0 else "below"
            return f"{self.difference(margin_k)} {side} it"
        return f"{self.difference(margin_k)} {'to spare' if margin_k >= 0 else 'short'}"


def _comes_twice(local: datetime) -> bool:
    """Whether this hour comes twice, in the night in which clocks go back."""
    return local.replace(fold=0).utcoffset() != local.replace(fold=1).utcoffset()


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
