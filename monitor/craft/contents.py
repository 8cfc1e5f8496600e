"""What one circuit is taken to hold at one point of its record, and how that is known."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime

from monitor.craft.layup import LayupEntry, Liquid, Posture
from monitor.craft.mixture import Mix, weaker_mix
from monitor.craft.profile import CircuitProfile
from monitor.craft.protection import Basis, Confidence, LayupState
from monitor.craft.reasons import Because, Reason

SURENESS = (Confidence.NONE, Confidence.LOW, Confidence.MEDIUM, Confidence.HIGH)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pour:
    """Antifreeze that went in once: every account of it, and what stood there before it.

    Each circuit that it can have reached keeps it, until water comes or it is seen dry.
    """

    accounts: tuple[LayupEntry, ...]  # as they were entered: the first one, then others
    named: frozenset[str]  # circuits that any account names; a run passes others of its path too
    # All that it can have reached, by id: each circuit, its running account, and what stood there.
    reached: Mapping[str, tuple[CircuitProfile, "Contents"]] = field(compare=False, repr=False)
    before: Mapping[str, "Contents"] = field(compare=False, repr=False)
    sampled_since: bool = False  # a sample tells better than any account what came of it

    def is_same(self, other: "Pour") -> bool:
        """Whether it is the same pour, perhaps with fewer accounts."""
        return self.accounts[0] is other.accounts[0]


@dataclass(slots=True, kw_only=True)
class Contents:
    """The running account of one circuit; changed by each entry in turn."""

    circuit: str
    closed: bool = False  # a coolant loop: what stands in it is known by the scale it is read on
    drinking: bool = False  # people drink from it or wash with it
    # What went into such a circuit, ethylene glycol or what nobody named; until clear water came.
    poison: Liquid | None = None
    state: LayupState = LayupState.UNKNOWN
    basis: Basis = Basis.UNKNOWN
    why: Reason = field(default_factory=lambda: Reason(because=Because.NOTHING_ON_RECORD))
    mix: Mix | None = None  # None: water, or dry; never else while it is not proven
    confidence: Confidence = Confidence.NONE
    treated_at: datetime | None = None
    # When antifreeze ran through its flow, while no other work on that flow came after.
    run_through_at: datetime | None = None
    posture: Posture | None = None
    # When it was computed to be ice: without proof of what stands in it, and nobody looked since;
    # and the last time that the mix which is proven was part ice.
    unlooked_ice: tuple[datetime, ...] = ()
    part_ice_at: datetime | None = None
    inspected_at: datetime | None = None
    sampled_at: datetime | None = None
    notes: list[Reason] = field(default_factory=list)  # said after the reason
    blocked: bool = False  # nothing came out, and nobody has cleared it since
    doubt: Reason | None = None  # an open finding of the very work that it rests on
    may_be_empty: bool = False  # drained by somebody who did not note that it was seen dry
    # Drained, blown out or opened, and no water came in, or was found in it, since.
    drained: bool = False
    held_less: bool = False  # when its last pour went in: so much less as was told to be left
    # The warmest reading since anything went in, and the entry that holds it: nothing gets
    # stronger by standing.
    warmest_read: tuple[float, LayupEntry] | None = None
    kinds: frozenset[Liquid] = frozenset()  # of all that went in since it was last empty
    filled: bool = False  # antifreeze went in, or a mix was read, since it was last empty
    pours: list[Pour] = field(default_factory=list)  # since it was last empty or filled with water
    # Mass fraction of the strongest product that went in since water last came, 0 if none did;
    # None: neither water nor antifreeze is on record.
    undiluted: float | None = None
    # Mass fraction that all that went in can have made, had it pushed out all the water that it
    # could; 0 and None as above it.
    strongest: float | None = None
    # Liquid [L] in all circuits of its last pour together, where the water left there was told.
    filled_l: float | None = None

    @property
    def proven(self) -> bool:
        """Whether the record shows what it can stand."""
        return self.state is LayupState.PROVEN

    @property
    def suspect_since(self) -> datetime | None:
        """The first ice that may have done harm and into which nobody has looked."""
        return self.unlooked_ice[0] if self.unlooked_ice else None

    @property
    def no_pour_since_water(self) -> bool:
        """Whether water came in last, and no antifreeze since."""
        return self.undiluted == 0.0

    @property
    def dry(self) -> bool:
        """Whether it was seen dry and nothing came in since."""
        return self.proven and self.basis is Basis.DRAINED

    @property
    def glycol(self) -> float:
        """Mass fraction that further antifreeze may build on: none unless proven, of one kind."""
        return self.mix.fraction if self.mix is not None and len(self.kinds) == 1 else 0.0

    def copy_account(self) -> "Contents":
        """Copy it, so that the copy may change and this one stay."""
        return replace(self, notes=list(self.notes), pours=list(self.pours))

    def judge_as_water(self, state: LayupState, why: Reason, at: datetime) -> None:
        """Judge it as plain water from here on."""
        self.state = state
        self.basis = Basis.UNKNOWN if state is LayupState.UNKNOWN else Basis.NONE
        self.why = why
        self.mix = None
        self.confidence = Confidence.NONE
        self.treated_at = at
        self.doubt = None
        self.may_be_empty = False
        self.notes.clear()
        self.part_ice_at = None

    def let_water_in(self, state: LayupState, why: Reason, at: datetime) -> None:
        """Water came in, or what stood in it ran out: no earlier pour is part of it any more.

        A coolant loop is filled without an entry, so that whatever is read there may be true.
        """
        self.judge_as_water(state, why, at)
        self._drop_pours()
        if not self.closed:
            self.undiluted = self.strongest = 0.0

    def forget_pours(self) -> None:
        """Forget a season's pours, readings and what blocked it: nobody knows of any.

        Water that came after the last of them stays known.
        """
        water_came = self.no_pour_since_water
        self._drop_pours()
        self.kinds = frozenset()
        self.blocked = self.filled = False
        self.undiluted = self.strongest = 0.0 if water_came else None

    def note_pours(self, pours: Iterable[Pour], *, held_less: bool) -> None:
        """Note antifreeze that went in: what was read, and how empty it was, holds no longer.

        They are several where it may have been any of these pours.
        """
        new = [replace(one, sampled_since=False) for one in pours]
        self.pours = [one for one in self.pours if not any(one.is_same(each) for each in new)] + new
        self.held_less = held_less
        self.drained = False
        self.warmest_read = None

    def holds_pour(self, pour: Pour) -> bool:
        """Whether a pour is still part of what stands in it."""
        return any(one.is_same(pour) for one in self.pours)

    def note_kinds(self, kinds: frozenset[Liquid]) -> None:
        """Note which glycols are in it now, whatever was seen of it."""
        self.kinds = kinds
        harmful = [one for one in (Liquid.ETHYLENE, Liquid.NOT_KNOWN) if one in kinds]
        if self.drinking and harmful and self.poison is not Liquid.ETHYLENE:
            self.poison = harmful[0]

    def note_reading(self, ice_c: float, entry: LayupEntry) -> None:
        """Note what a sample showed at the worst [°C]."""
        if self.warmest_read is None or ice_c > self.warmest_read[0]:
            self.warmest_read = (ice_c, entry)

    def _drop_pours(self) -> None:
        self.pours.clear()
        self.filled_l = self.warmest_read = None
        self.drained = self.held_less = False
        if self.undiluted is not None:
            self.undiluted = self.strongest = 0.0

    def seen_dry(self, why: Reason, at: datetime) -> None:
        """It holds nothing that could freeze, so nothing blocks it and nothing is left in it."""
        self.state, self.basis, self.why = LayupState.PROVEN, Basis.DRAINED, why
        self.blocked = self.may_be_empty = self.filled = False
        self.mix = self.doubt = None
        self.kinds = frozenset()
        self._drop_pours()
        self.confidence = Confidence.HIGH
        self.treated_at = at
        self.notes.clear()
        self.part_ice_at = None

    def hold_mix(
        self, mix: Mix, basis: Basis, confidence: Confidence, why: Reason, at: datetime
    ) -> None:
        """It holds a mix whose ice point is known."""
        self.state, self.basis, self.why = LayupState.PROVEN, basis, why
        self.mix = mix
        self.may_be_empty = False
        if basis is Basis.MEASURED:
            self.doubt = None
        self.confidence = confidence
        self.treated_at = at
        self.notes.clear()
        self.part_ice_at = None

    def heed_account(self, other: "Contents", why: Reason, at: datetime) -> None:
        """Hold no more than another account makes of it; ``why`` says so where that matters."""
        if not self.proven:
            self.notes.extend([why] if other.proven else [])
        elif not other.proven:
            self.judge_as_water(LayupState.UNPROVEN, other.why, at)
        elif other.mix is not None:
            before = (self.mix, self.confidence)
            if self.mix is None or other.mix.ice_c > self.mix.ice_c:
                self.basis = other.basis
            self.mix = other.mix if self.mix is None else weaker_mix(self.mix, other.mix)
            self.confidence = min(self.confidence, other.confidence, key=SURENESS.index)
            self.notes.extend([why] if before != (self.mix, self.confidence) else [])

    def no_better_than(self, limit: Mix, why: Reason) -> None:
        """Take a reading that is too warm for what the record makes of it, and say so."""
        if not self.proven:
            return
        if self.mix is not None and self.mix.ice_c >= limit.ice_c:
            return
        self.mix = limit if self.mix is None else weaker_mix(self.mix, limit)
        self.basis, self.confidence = Basis.MEASURED, Confidence.LOW
        self.notes.append(why)
