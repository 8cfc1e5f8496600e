"""What one circuit can really stand, and how we know."""

from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum
from math import inf

from monitor.craft.layup import Liquid
from monitor.craft.reasons import Reason
from monitor.errors import BadValueError


class LayupState(StrEnum):
    """What the lay-up record adds up to for one circuit. All but PROVEN is judged as water."""

    PROVEN = "proven"  # shown by evidence
    UNPROVEN = "unproven"  # said, not shown
    HEAT_ONLY = "heat-only"  # safe only while the space is warm
    VOID = "void"  # undone by a later event
    UNKNOWN = "unknown"  # nothing on record


class Basis(StrEnum):
    """Where the ice point comes from, strongest first."""

    DRAINED = "drained and seen dry"
    MEASURED = "measured with a refractometer"
    COMPUTED = "computed from the mix"
    LABEL = "stated on the label"
    NONE = "none"
    UNKNOWN = "unknown"


class Confidence(StrEnum):
    """How far the basis carries."""

    HIGH = "high"  # seen dry, or read from a sample on its scale, with the zero checked before
    # Computed, with liquid seen at the outlet; read without scale or zero; or stood so that it
    # empties itself, and nobody probed.
    MEDIUM = "medium"
    LOW = "low"  # a label, something added unseen, or a reading that has been through ice since
    NONE = "none"


@dataclass(frozen=True, slots=True, kw_only=True)
class Protection:
    """What one circuit can stand, and how we know.

    Invariants: damage never comes before first ice. Drained and seen dry: both points are
    -inf, so no sum needs a special case. No basis, or an unknown one, counts as plain water;
    so does every state but PROVEN.
    """

    circuit: str
    state: LayupState
    ice_point_c: float  # first crystals
    burst_point_c: float  # damage
    basis: Basis
    why: str  # the sentence that explains it: who did what, when, seen how
    reasons: tuple[Reason, ...] = field(default=(), compare=False)  # what ``why`` puts into words
    liquid: str = "water"  # what is taken to stand in the circuit, in words
    glycol: Liquid | None = None  # NOT_KNOWN: one that nobody named, or two; None: it has none
    glycol_mass_fraction: float | None = None  # None: no glycol, or nobody knows
    confidence: Confidence = Confidence.NONE
    # Not proven, and below its ice point at that time: presume damage until it is inspected.
    suspect_since: datetime | None = None
    blocked: bool = False  # nothing came out: it may not let antifreeze through
    inspected_at: datetime | None = None  # last time that a person looked, which ends suspicion
    sampled_at: datetime | None = None  # when what stands in it was last read off a sample
    went_in: frozenset[Liquid] = frozenset()  # kinds of product since it was last empty
    # Before its last pour it had been drained or opened, so that it may have held less water than
    # stays after ordinary draining.
    held_less: bool = False
    # Ethylene glycol, or what nobody named, in a circuit that people drink from or wash with.
    poison: Liquid | None = None

    def __post_init__(self) -> None:
        points = f"{self.circuit}: ice point {self.ice_point_c} °C, burst {self.burst_point_c} °C"
        if not self.burst_point_c <= self.ice_point_c:  # refuses NaN too
            raise BadValueError(f"{points}: burst must be the lower", "were they swapped?")
        if (self.basis is Basis.DRAINED) != (self.ice_point_c == -inf):
            raise ValueError(f"{points}: only a circuit seen dry has none, not {self.basis}")
        water = self.basis in {Basis.NONE, Basis.UNKNOWN} or self.state is not LayupState.PROVEN
        if water and self.ice_point_c < 0.0:
            raise ValueError(f"{points}: {self.state}, {self.basis}: judge it as water, 0 °C")


def plain_water(circuit: str, state: LayupState, why: str) -> Protection:
    """Protection of a circuit that must be judged as plain water, freezing at 0 °C."""
    basis = Basis.UNKNOWN if state is LayupState.UNKNOWN else Basis.NONE
    return Protection(
        circuit=circuit, state=state, ice_point_c=0.0, burst_point_c=0.0, basis=basis, why=why
    )
