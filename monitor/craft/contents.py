"""What one circuit is taken to hold at one point of its record, and how that is known."""

from dataclasses import dataclass, field
from datetime import datetime
from math import inf

from monitor.craft.layup import Liquid, Posture
from monitor.craft.mixture import burst_point_c, ice_point_c, mass_fraction
from monitor.craft.protection import Basis, Confidence, LayupState, Protection, plain_water


@dataclass(slots=True, kw_only=True)
class Contents:
    """The running account of one circuit; changed by each entry in turn."""

    circuit: str
    state: LayupState = LayupState.UNKNOWN
    basis: Basis = Basis.UNKNOWN
    why: str = "nothing on record"
    liquid: Liquid | None = None  # None: water
    fraction: float = 0.0  # mass fraction of glycol; counts only while proven
    ice_c: float = 0.0
    burst_c: float = 0.0
    confidence: Confidence = Confidence.NONE
    treated_at: datetime | None = None
    posture: Posture | None = None
    suspect_since: datetime | None = None
    inspected_at: datetime | None = None
    sampled_at: datetime | None = None
    notes: list[str] = field(default_factory=list)  # said after the sentence
    blocked: bool = False  # the last that was poured or run into it did not come out

    @property
    def proven(self) -> bool:
        """Whether the record shows what it can stand."""
        return self.state is LayupState.PROVEN

    @property
    def dry(self) -> bool:
        """Whether it was seen dry and nothing came in since."""
        return self.proven and self.basis is Basis.DRAINED

    @property
    def glycol(self) -> float:
        """Mass fraction that further antifreeze may build on: none unless it is proven."""
        return self.fraction if self.proven and not self.dry else 0.0

    def water(self, state: LayupState, why: str, at: datetime, *, blocked: bool = False) -> None:
        """Judge it as plain water from here on."""
        self.state, self.blocked = state, blocked
        self.basis = Basis.UNKNOWN if state is LayupState.UNKNOWN else Basis.NONE
        self.why = why
        self.liquid, self.fraction = None, 0.0
        self.ice_c = self.burst_c = 0.0
        self.confidence = Confidence.NONE
        self.treated_at = at
        self.notes.clear()

    def seen_dry(self, why: str, at: datetime) -> None:
        """It holds nothing that could freeze."""
        self.state, self.basis, self.why = LayupState.PROVEN, Basis.DRAINED, why
        self.blocked = False
        self.liquid, self.fraction = None, 0.0
        self.ice_c = self.burst_c = -inf
        self.confidence = Confidence.HIGH
        self.treated_at = at
        self.notes.clear()

    def read(
        self, liquid: Liquid, ice_c: float, why: str, at: datetime, label_burst_c: float | None
    ) -> None:
        """A refractometer told its ice point."""
        self.sampled_at = at
        fraction = mass_fraction(ice_c, liquid)
        burst = burst_point_c(fraction, liquid, measured=True, label_burst_c=label_burst_c)
        self._holds(
            liquid, fraction, ice_c, min(burst, ice_c), Basis.MEASURED, Confidence.HIGH, why, at
        )

    def reckoned(
        self,
        liquid: Liquid,
        fraction: float,
        basis: Basis,
        confidence: Confidence,
        why: str,
        at: datetime,
        label_burst_c: float | None,
    ) -> None:
        """Its ice point follows from the mix or from the label's strength."""
        ice = ice_point_c(fraction, liquid)
        burst = burst_point_c(fraction, liquid, measured=False, label_burst_c=label_burst_c)
        self._holds(liquid, fraction, ice, min(burst, ice), basis, confidence, why, at)

    def _holds(
        self,
        liquid: Liquid,
        fraction: float,
        ice_c: float,
        burst_c: float,
        basis: Basis,
        confidence: Confidence,
        why: str,
        at: datetime,
    ) -> None:
        self.state, self.basis, self.why = LayupState.PROVEN, basis, why
        self.blocked = False
        self.liquid, self.fraction = liquid, fraction
        self.ice_c, self.burst_c = ice_c, burst_c
        self.confidence = confidence
        self.treated_at = at
        self.notes.clear()

    def protection(self) -> Protection:
        """What it adds up to."""
        why = "; ".join([self.why, *self.notes])
        if not self.proven:
            bare = plain_water(self.circuit, self.state, why)
            return Protection(
                circuit=bare.circuit,
                state=bare.state,
                ice_point_c=bare.ice_point_c,
                burst_point_c=bare.burst_point_c,
                basis=bare.basis,
                why=why,
                blocked=self.blocked,
                suspect_since=self.suspect_since,
                inspected_at=self.inspected_at,
                sampled_at=self.sampled_at,
            )
        glycol = self.liquid in {Liquid.PROPYLENE, Liquid.ETHYLENE} and not self.dry
        return Protection(
            circuit=self.circuit,
            state=self.state,
            ice_point_c=self.ice_c,
            burst_point_c=self.burst_c,
            basis=self.basis,
            why=why,
            liquid="none" if self.dry else f"{self.liquid} glycol and water",
            glycol_mass_fraction=self.fraction if glycol else None,
            confidence=self.confidence,
            suspect_since=self.suspect_since,
            inspected_at=self.inspected_at,
            sampled_at=self.sampled_at,
        )
