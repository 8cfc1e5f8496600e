"""One step of a plan as its reader calls things: its circuits, its dose, the reading to reach."""

from dataclasses import dataclass

from monitor.craft.plan.step import JobStep, Note
from monitor.craft.profile import CircuitKind, Profile
from monitor.phrases.supplies import product_words
from monitor.wording import Wording, listed

_FEW = 2  # circuits that are named in a short act; of more only the first is


@dataclass(frozen=True, slots=True)
class ToldStep:
    """One step, the craft's type, and how its reader reads."""

    step: JobStep
    profile: Profile
    words: Wording

    @property
    def names(self) -> str:
        """Its circuits by name: ``the head and the hull loop``."""
        return f"the {listed([_circuit_name(self.profile, name) for name in self.step.circuits])}"

    @property
    def path(self) -> str:
        """What antifreeze or water runs through, named as a whole where it is one."""
        paths: dict[str, list[str]] = {}
        for one in self.profile.circuits:
            if one.kind is CircuitKind.RAW and one.flow:
                paths.setdefault(one.flow, []).append(one.circuit.id)
        for names in paths.values():
            if len(names) > _FEW and set(names) == set(self.step.circuits):
                side = (
                    _circuit_name(self.profile, names[0]).split()[0] + " " if len(paths) > 1 else ""
                )
                return f"the {side}engine's raw-water side"
        return self.names

    @property
    def short(self) -> str:
        """The circuits in few words: a whole path by its name, of many the first."""
        rest = len(self.step.circuits) - 1
        if self.path != self.names or rest < 1:
            return self.path
        return f"the {_circuit_name(self.profile, self.step.circuits[0])} and {rest} more"

    @property
    def dose(self) -> str:
        """How much of which product; just ``antifreeze`` where that is open."""
        step = self.step
        if step.quantity_l is None or step.product is None:
            return "antifreeze"
        return f"{self.words.about(step.quantity_l)} of {product_words(step.product)}"

    @property
    def reading(self) -> str:
        """The temperature that a sample has to reach, ``−30.0 °C or colder``; empty without one."""
        reading = self.step.reading_c
        return "" if reading is None else f"{self.words.temperature(reading)} or colder"

    @property
    def sample(self) -> str:
        """The sentence that asks for a sample."""
        return f"Read a sample from the outlet: {self.reading}"

    @property
    def standing(self) -> str:
        """How it has to stand meanwhile; empty where that does not matter."""
        return f", standing {self.step.posture}" if self.step.posture else ""

    @property
    def order(self) -> str:
        """In which order hose and engine are turned on and off."""
        if Note.ENGINE_FIRST in self.step.notes:
            return "engine on, water on; water off, engine off"
        if Note.WATER_FIRST in self.step.notes:
            return "water on, engine on; engine off, water off"
        return "as its manual says"

    @property
    def found(self) -> str:
        """What was found, when and by whom; empty without a finding."""
        finding = self.step.finding
        if finding is None:
            return ""
        day = self.words.day(finding.found_at)
        by = self.words.person(finding.by)
        return f"{finding.seen.part}: {finding.seen.words} (found {day} by {by})"


def _circuit_name(profile: Profile, circuit: str) -> str:
    name = profile.find(circuit).circuit.name
    return name[:1].lower() + name[1:] if name[1:2].islower() else name


def capitalized(text: str) -> str:
    """A text with a capital at its beginning, the rest as it is."""
    return text[:1].upper() + text[1:]
