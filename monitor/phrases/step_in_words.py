"""One step of a plan as its reader calls things: its circuits, its dose, the reading to reach."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from monitor.craft.plan.step import JobStep, Note
from monitor.craft.profile import Profile
from monitor.craft.stored import StoredCraft
from monitor.phrases.supplies import product_words
from monitor.wording import Wording, listed

_FEW = 2  # circuits that are named in a short act; of more only the first is


@dataclass(frozen=True, slots=True)
class CircuitNames:
    """What people call the circuits of one craft, and which of them one flow runs through."""

    names: Mapping[str, str] = field(default_factory=dict)  # by id
    materials: Mapping[str, str] = field(default_factory=dict)
    when_draining: Mapping[str, str] = field(default_factory=dict)  # what to mind then
    before_use: Mapping[str, str] = field(default_factory=dict)  # and in spring
    flows: tuple[tuple[str, ...], ...] = ()  # of raw water, one an engine, with circuits' ids
    engines: tuple[str, ...] = ()  # ``port``, ``starboard``: one a flow, empty where none is known

    @classmethod
    def of_profile(cls, profile: Profile) -> "CircuitNames":
        """Those of a type of craft."""
        return cls(
            names={one.circuit.id: one.circuit.name for one in profile.circuits},
            materials={one.circuit.id: one.circuit.material for one in profile.circuits},
            when_draining={one.circuit.id: one.when_draining for one in profile.circuits},
            before_use={one.circuit.id: one.before_use for one in profile.circuits},
            flows=profile.engine_paths,
            engines=profile.engine_names,
        )

    @classmethod
    def of_craft(cls, craft: StoredCraft | None) -> "CircuitNames":
        """Those of one craft; none where it is no longer in the yard's care."""
        if craft is None:
            return cls()
        if craft.plan_start is not None:
            return cls.of_profile(craft.plan_start.profile)
        return cls(names={one.id: one.name for one in craft.circuits})

    def circuit_name(self, circuit: str) -> str:
        """A circuit within a sentence; by its id where no name is known."""
        name = self.names.get(circuit, circuit)
        return name[:1].lower() + name[1:] if name[1:2].islower() else name


@dataclass(frozen=True, slots=True)
class StepInWords:
    """One step, what the craft's circuits are called, and how its reader reads."""

    step: JobStep
    circuits: CircuitNames
    words: Wording

    @property
    def names(self) -> str:
        """Its circuits by name: ``the head and the hull loop``."""
        return f"the {self.bare_names}"

    @property
    def bare_names(self) -> str:
        """The same for a title, without the article."""
        return listed([self.circuits.circuit_name(one) for one in self.step.circuits])

    @property
    def path(self) -> str:
        """What antifreeze or water runs through, named as a whole where it is one."""
        for flow in self.circuits.flows:
            if len(flow) > _FEW and set(flow) == set(self.step.circuits):
                return f"{self.engine}'s raw-water side"
        return self.names

    @property
    def engine(self) -> str:
        """Which engine the step is on: ``the engine``, ``the port engine``, ``each engine``."""
        if len(self.circuits.flows) < 2:
            return "the engine"
        if self.on_each_engine:
            return "each engine"
        flow = self._flows_reached[0]
        if self.circuits.engines:
            return f"the {self.circuits.engines[self.circuits.flows.index(flow)]} engine"
        return f"the engine of the {self.circuits.circuit_name(flow[0])}"

    @property
    def on_each_engine(self) -> bool:
        """Whether it is on no one of several engines."""
        return len(self.circuits.flows) > 1 and len(self._flows_reached) != 1

    @property
    def _flows_reached(self) -> list[tuple[str, ...]]:
        return [flow for flow in self.circuits.flows if set(flow) & set(self.step.circuits)]

    @property
    def drain_tips(self) -> str:
        """What its profile says of draining these circuits, as sentences behind the step's own."""
        return self._tips(self.circuits.when_draining)

    @property
    def spring_tips(self) -> str:
        """What its profile says of making these circuits ready again, in the same way."""
        return self._tips(self.circuits.before_use)

    def _tips(self, known: Mapping[str, str]) -> str:
        tips = dict.fromkeys(known.get(name, "") for name in self.step.circuits)
        return "".join(f" {capitalize_first(tip)}." for tip in tips if tip)

    @property
    def material(self) -> str:
        """What its first circuit is made of."""
        return self.circuits.materials[self.step.circuits[0]]

    @property
    def short(self) -> str:
        """The circuits in few words: a whole path by its name, of many the first."""
        rest = len(self.step.circuits) - 1
        if self.path != self.names or rest < 1:
            return self.path
        return f"the {self.circuits.circuit_name(self.step.circuits[0])} and {rest} more"

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
    def scale(self) -> str:
        """On which scale a sample is read; empty where the record names its glycol."""
        unnamed = Note.GLYCOL_UNNAMED in self.step.notes
        return " on the propylene scale, as nobody named its glycol" if unnamed else ""

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
        """In which order the flow and the engine are turned on and off."""
        flow = "water" if self.step.product is None else "flow"
        if Note.ENGINE_FIRST in self.step.notes:
            return f"engine on, {flow} on; {flow} off, engine off"
        if Note.WATER_FIRST in self.step.notes:
            return f"{flow} on, engine on; engine off, {flow} off"
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


def capitalize_first(text: str) -> str:
    """A text with a capital at its beginning, the rest as it is."""
    return text[:1].upper() + text[1:]
