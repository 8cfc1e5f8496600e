"""Antifreeze in circuits: how strong it became, what of it is shown, and what a second pour is.

Less evidence never ends in more protection. So work that lacks evidence is judged by the worst
that it can have done: thinned what stood there, or carried another circuit's water into it.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from monitor.craft.contents import Contents, Pour, mix_of, mix_read, weaker
from monitor.craft.lacks import lacks_of, reason_not_counting
from monitor.craft.layup import Act, LayupEntry, Liquid, Outflow
from monitor.craft.mixture import mixed_mass_fraction, strength_of
from monitor.craft.profile import CircuitProfile
from monitor.craft.protection import Basis, Confidence, LayupState
from monitor.craft.readings import confidence_of, glycol_read, why_unreadable
from monitor.craft.reasons import Because, Lack, Reason

Touched = list[tuple[CircuitProfile, Contents]]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Flow:
    """One pour, and what stood in all circuits that it went through."""

    entry: LayupEntry
    stood: tuple[tuple[CircuitProfile, Contents], ...]  # before it

    @property
    def strength(self) -> float | None:
        return strength_of(self.entry.product)

    @property
    def all_dry(self) -> bool:
        return all(contents.dry for _, contents in self.stood)

    @property
    def thinnest(self) -> float | None:
        """Weakest that any of the circuits can hold after it; None if the product is unknown."""
        if self.strength is None:
            return None
        return min([self.strength, *(held.glycol for _, held in self.stood if not held.dry)])

    def mixed(self) -> float | None:
        """Mass fraction in all circuits after it; None where it cannot be reckoned.

        Perfect mixing with what stood in them is the most dilute that can be: a stream that
        pushes the water out leaves less of it. What was drained unseen may still stand there or
        not: the weaker of both. The water that was said to be left counts for a first pour only:
        what an earlier one left there, seen or not, is no part of that water.
        """
        product, quantity_l = self.entry.product, self.entry.quantity_l
        if product is None or self.strength is None or quantity_l is None:
            return None
        pots = [
            (held.glycol, one.circuit.volume_l, held.may_be_empty)
            for one, held in self.stood
            if not held.dry
        ]
        sure = [(share, volume) for share, volume, may_be_empty in pots if not may_be_empty]
        doubtful = sorted((share, volume) for share, volume, may_be_empty in pots if may_be_empty)
        return min(
            self._with(sure + doubtful[:count], self.strength, quantity_l, product.liquid)
            for count in range(len(doubtful) + 1)
        )

    def _with(
        self,
        pots: list[tuple[float, float]],
        strength: float,
        quantity_l: float,
        liquid: Liquid,
    ) -> float:
        volume = sum(volume for _, volume in pots)
        stood = sum(share * volume for share, volume in pots) / volume if volume else 0.0
        first = not any(held.filled for _, held in self.stood)
        if self.entry.residual_l is not None and stood == 0.0 and first:
            volume = self.entry.residual_l
        return mixed_mass_fraction(strength, quantity_l, volume, liquid, held_fraction=stood)


def apply_antifreeze(touched: Touched, entry: LayupEntry) -> None:
    """Apply antifreeze run through or poured in to all circuits that it went through."""
    _note_kinds(touched, entry)
    earlier = {one.circuit.id: _same_pour(contents, entry) for one, contents in touched}
    flow = _Flow(
        entry=entry,
        stood=tuple(
            (one, pour.before if (pour := earlier[one.circuit.id]) else contents.copied())
            for one, contents in touched
        ),
    )
    for (one, contents), (_, stood) in zip(touched, flow.stood, strict=True):
        contents.filled = True
        if entry.evidence.outflow is Outflow.NONE:
            contents.water(
                LayupState.UNPROVEN, Reason(because=Because.BLOCKED, entry=entry), entry.at
            )
            contents.blocked = True
        elif contents.blocked:
            contents.water(
                LayupState.UNPROVEN, Reason(because=Because.STILL_BLOCKED, entry=entry), entry.at
            )
        elif (pour := earlier[one.circuit.id]) is not None:
            _told_again(one, contents, flow, pour)
        else:
            contents.pours.append(Pour(entry=entry, before=stood))
            _poured(one, contents, flow)
        heed_reading(contents, entry)


def apply_another_glycol(held: Iterable[Contents], entry: LayupEntry) -> None:
    """Undo circuits that antifreeze cannot prove, but whose own glycol another kind spoils.

    They are coolant loops: once changed, they are read again, and that reading counts.
    """
    for contents in held:
        if contents.proven and len(contents.kinds | _kinds_poured(entry)) > 1:
            contents.water(
                LayupState.VOID, Reason(because=Because.TWO_GLYCOLS, entry=entry), entry.at
            )


def _note_kinds(touched: Touched, entry: LayupEntry) -> None:
    """Write down which glycols are in the flow now, whatever was seen of it."""
    together = _kinds_poured(entry).union(*(contents.kinds for _, contents in touched))
    for _, contents in touched:
        contents.kinds = together


def _kinds_poured(entry: LayupEntry) -> frozenset[Liquid]:
    """What went in; one that nobody named may be any, and stands beside what is named."""
    return frozenset({entry.product.liquid if entry.product is not None else Liquid.NOT_KNOWN})


def _same_pour(contents: Contents, entry: LayupEntry) -> Pour | None:
    """Find an earlier pour that this entry tells of once more.

    Until somebody says that it was a second one, antifreeze of one product into one circuit by
    one act is one pour, whoever wrote it down how often.
    """
    if entry.again:
        return None
    return next((pour for pour in contents.pours if _alike(pour.entry, entry)), None)


def _alike(one: LayupEntry, other: LayupEntry) -> bool:
    first, second = one.product, other.product
    if first is None or second is None:
        return False
    same_liquid = first.liquid is second.liquid and strength_of(first) == strength_of(second)
    return one.act is other.act and same_liquid


def _told_again(one: CircuitProfile, contents: Contents, flow: _Flow, pour: Pour) -> None:
    """Apply a second account of one pour: it counts once, and the fuller account of it counts."""
    fresh = pour.before.copied()
    fresh.kinds, fresh.posture = contents.kinds, contents.posture
    _poured(one, fresh, flow)
    if fresh.why.entry is flow.entry and fresh.basis is Basis.MEASURED:
        contents.become(fresh)
        return
    nothing_since = contents.pours[-1] is pour and contents.basis is not Basis.MEASURED
    if nothing_since and _ice_point(fresh) < _ice_point(contents):
        contents.become(fresh)


def _ice_point(contents: Contents) -> float:
    return contents.mix.ice_c if contents.mix is not None else 0.0


def _poured(one: CircuitProfile, contents: Contents, flow: _Flow) -> None:
    """Apply one pour to one circuit, with the evidence that came with it."""
    entry, product = flow.entry, flow.entry.product
    evidence = entry.evidence
    lacks = lacks_of(one, contents, entry)
    refused = why_unreadable(evidence, product, contents.kinds)
    if not lacks and evidence.ice_point_c is not None and not refused:
        take_reading(contents, entry, Because.SAMPLE_OF_FLOW)
        return
    mixed = flow.mixed()
    lacks = lacks or _lacks_of_pour(one, contents, flow, mixed, refused)
    if lacks or product is None or mixed is None:
        _added_unseen(one, contents, flow, lacks, mixed)
        return
    more_kinds = len(contents.kinds) > 1
    contents.holds(
        mix_of(product.liquid, mixed, label_burst_c=product.label_burst_c, more_kinds=more_kinds),
        Basis.COMPUTED,
        Confidence.LOW if more_kinds else Confidence.MEDIUM,
        Reason(
            because=Because.MIXED,
            entry=entry,
            share=mixed,
            lacks=(refused or (Lack.TWO_GLYCOLS if more_kinds else Lack.NO_SAMPLE),),
        ),
        entry.at,
    )


def _lacks_of_pour(
    one: CircuitProfile,
    contents: Contents,
    flow: _Flow,
    mixed: float | None,
    refused: Lack | None,
) -> tuple[Lack, ...]:
    """What a pour whose evidence is whole still lacks before its mix can be computed."""
    if flow.strength is None:
        return (refused or Lack.STRENGTH,)
    if mixed is None:
        return (Lack.QUANTITY,)
    entry = flow.entry
    # A sample of two glycols shows that the pour got there, though no scale reads its strength.
    sampled = entry.evidence.ice_point_c is not None and refused is Lack.TWO_GLYCOLS
    passed = entry.act is not Act.ANTIFREEZE_POURED or contents.dry or sampled
    return (Lack.DEAD_LEG,) if one.dead_leg and not passed else ()


def _added_unseen(
    one: CircuitProfile,
    contents: Contents,
    flow: _Flow,
    lacks: tuple[Lack, ...],
    mixed: float | None,
) -> None:
    """Apply antifreeze without the evidence that it needs: only what it can have spoilt counts."""
    entry, product, strength = flow.entry, flow.entry.product, flow.strength
    why = reason_not_counting(one, contents, entry, lacks)
    if contents.dry and flow.all_dry and product is not None and strength is not None:
        contents.holds(
            mix_of(product.liquid, strength, label_burst_c=product.label_burst_c),
            Basis.LABEL,
            Confidence.LOW,
            Reason(because=Because.UNDILUTED, entry=entry, name=one.circuit.name),
            entry.at,
        )
        return
    weakest = flow.thinnest if mixed is None else mixed
    if len(contents.kinds) > 1:
        why = Reason(because=Because.TWO_GLYCOLS, entry=entry)
    if product is None or not weakest or contents.mix is None or len(contents.kinds) > 1:
        contents.water(LayupState.UNPROVEN, why, entry.at)
        return
    before = contents.mix
    share = min(weakest, before.fraction)
    then = weaker(before, mix_of(before.liquid, share, label_burst_c=product.label_burst_c))
    if share < before.fraction:
        because = Reason(because=Because.THINNER, entry=entry)
        contents.holds(then, Basis.COMPUTED, Confidence.LOW, because, entry.at)
        return
    contents.mix = weaker(then, before)
    contents.confidence = Confidence.LOW
    contents.notes.append(Reason(because=Because.ADDED_UNSEEN, entry=entry))


def take_reading(contents: Contents, entry: LayupEntry, because: Because) -> None:
    """Take the ice point from a reading that counts; ``entry`` must hold one."""
    evidence, product = entry.evidence, entry.product
    if evidence.ice_point_c is None:
        raise ValueError(f"entry {entry.id}: it holds no reading")
    liquid = glycol_read(evidence, product, contents.kinds)
    confidence = confidence_of(evidence, entry.at)
    contents.sampled_at, contents.filled = entry.at, True
    contents.kinds = frozenset({liquid})
    contents.holds(
        mix_read(
            liquid,
            evidence.ice_point_c,
            sure=confidence is Confidence.HIGH,
            label_burst_c=product.label_burst_c if product else None,
        ),
        Basis.MEASURED,
        confidence,
        Reason(because=because, entry=entry),
        entry.at,
    )


def heed_reading(contents: Contents, entry: LayupEntry) -> None:
    """Let a reading that did not count still speak against what the record makes of it."""
    evidence = entry.evidence
    if evidence.ice_point_c is None:
        return
    liquid = glycol_read(evidence, entry.product, contents.kinds)
    contents.no_better_than(
        mix_read(liquid, evidence.ice_point_c, sure=False, label_burst_c=None),
        Reason(because=Because.READ_THIN, entry=entry),
    )
