"""Antifreeze in circuits: how strong it became, what of it is shown, and what a second pour is.

Less evidence never ends in more protection. So work that lacks evidence is judged by the worst
that it can have done: thinned what stood there, or carried another circuit's water into it.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from monitor.craft.contents import SURENESS, Contents, Pour, mix_of, mix_read, weaker_mix
from monitor.craft.lacks import (
    glycol_in,
    lacks_of,
    may_hold_less,
    reason_not_counting,
    why_reading_refused,
)
from monitor.craft.layup import Act, LayupEntry, Liquid, Outflow
from monitor.craft.mixture import mixed_mass_fraction, strength_of, strongest_of
from monitor.craft.profile import CircuitProfile
from monitor.craft.protection import Basis, Confidence, LayupState
from monitor.craft.readings import READING_K, confidence_of, ice_read_c
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

    def contents_of(self, one: CircuitProfile) -> Contents:
        """What stood in one of the circuits."""
        return next(held for other, held in self.stood if other is one)

    @property
    def all_dry(self) -> bool:
        return all(contents.dry for _, contents in self.stood)

    @property
    def thinnest(self) -> float | None:
        """Weakest that any of the circuits can hold after it; None if the product is unknown."""
        if self.strength is None:
            return None
        return min([self.strength, *(held.glycol for _, held in self.stood if not held.dry)])

    def note_limits(self, contents: Contents, before: Contents) -> None:
        """Note in one of the circuits, which held that before it, how strong it can be now.

        What goes in can push out as much water as it is itself, and mix with none of it.
        """
        product, quantity_l = strongest_of(self.entry.product), self.entry.quantity_l
        volume = self._least_l()
        # What nobody measured may have been a drop.
        share = min(1.0, (quantity_l or 0.0) / volume) if volume else 1.0
        mix = before.mix.fraction if before.mix is not None else None
        stood = mix if mix is not None else before.strongest or 0.0
        contents.strongest = max(stood, share * product + (1.0 - share) * stood)
        contents.undiluted = max(product, mix if mix is not None else before.undiluted or 0.0)
        contents.filled_l = self.filled_l()

    def filled_l(self) -> float | None:
        """Liquid in all circuits after it; None unless the water left in them was told."""
        told = [held.filled_l for _, held in self.stood] + [self.entry.residual_l]
        known = any(one is not None for one in told) and self.entry.quantity_l is not None
        return self._least_l() + (self.entry.quantity_l or 0.0) if known else None

    def _least_l(self) -> float:
        """Least liquid that stood in the circuits together before it."""
        volume = sum(one.circuit.volume_l for one, held in self.stood if not held.dry)
        if not any(held.filled for _, held in self.stood):
            return volume if self.entry.residual_l is None else self.entry.residual_l
        told = [held.filled_l for _, held in self.stood if held.filled_l is not None]
        return min(volume, *told) if len(told) == len(self.stood) else volume

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
            volume = max(self.entry.residual_l, self._undrained_l())
        return mixed_mass_fraction(strength, quantity_l, volume, liquid, held_fraction=stood)

    def _undrained_l(self) -> float:
        """Water that stands in the circuits whatever anybody says: nobody let it out."""
        return sum(
            one.circuit.volume_l
            for one, held in self.stood
            if not held.dry and not may_hold_less(one, held)
        )

    @property
    def overstates_drain(self) -> bool:
        """Whether less water is said to be left in the circuits than a drain on record shows."""
        told_l = self.entry.residual_l
        return told_l is not None and told_l < self._undrained_l()


def apply_antifreeze(touched: Touched, entry: LayupEntry) -> None:
    """Apply antifreeze run through or poured in to all circuits that it went through."""
    _note_kinds(touched, entry)
    told = {one.circuit.id: _pours_told_again(contents, entry) for one, contents in touched}
    on_top = _Flow(entry=entry, stood=tuple((one, held.copy_account()) for one, held in touched))
    pour = Pour(accounts=(entry,), before={one.circuit.id: stood for one, stood in on_top.stood})
    retold = _flows_told_again(on_top, told)
    for (one, contents), (_, stood) in zip(touched, on_top.stood, strict=True):
        contents.filled = True
        again = told[one.circuit.id]
        if entry.evidence.outflow is Outflow.NONE:
            contents.judge_as_water(
                LayupState.UNPROVEN, Reason(because=Because.BLOCKED, entry=entry), entry.at
            )
            contents.blocked = True
        elif contents.blocked:
            contents.judge_as_water(
                LayupState.UNPROVEN, Reason(because=Because.STILL_BLOCKED, entry=entry), entry.at
            )
        elif again:
            _tell_again(one, contents, (on_top, *retold), again)
        else:
            contents.note_pour(pour, held_less=may_hold_less(one, stood))
            on_top.note_limits(contents, stood)
            _pour(one, contents, on_top)
        heed_reading(contents, entry)


def apply_another_glycol(held: Iterable[Contents], entry: LayupEntry) -> None:
    """Undo circuits that antifreeze cannot prove, but whose own glycol another kind spoils.

    They are coolant loops: once changed, they are read again, and that reading counts.
    """
    for contents in held:
        if contents.proven and len(contents.kinds | _kinds_poured(entry)) > 1:
            contents.judge_as_water(
                LayupState.VOID, Reason(because=Because.TWO_GLYCOLS, entry=entry), entry.at
            )


def _note_kinds(touched: Touched, entry: LayupEntry) -> None:
    """Write down which glycols are in the flow now, whatever was seen of it."""
    together = _kinds_poured(entry).union(*(contents.kinds for _, contents in touched))
    for _, contents in touched:
        contents.note_kinds(together)


def _kinds_poured(entry: LayupEntry) -> frozenset[Liquid]:
    """What went in; one that nobody named may be any, and stands beside what is named."""
    return frozenset({entry.product.liquid if entry.product is not None else Liquid.NOT_KNOWN})


def _pours_told_again(contents: Contents, entry: LayupEntry) -> list[Pour]:
    """Find earlier pours of which this entry may tell once more; none where it is a second one.

    Until somebody says that it was a second one, antifreeze in one circuit is one pour, whoever
    wrote it down how often, by which act and with which strength. Only another glycol is certainly
    another pour.
    """
    if entry.again:
        return []
    return [pour for pour in contents.pours if _may_be_one_pour(pour.accounts[0], entry)]


def _may_be_one_pour(one: LayupEntry, other: LayupEntry) -> bool:
    return len((_kinds_poured(one) | _kinds_poured(other)) - {Liquid.NOT_KNOWN}) <= 1


def _tells_the_same(one: LayupEntry, other: LayupEntry) -> bool:
    """Whether two accounts of a pour agree in all that the circuits are judged by."""
    return _what_counts(one) == _what_counts(other)


def _what_counts(entry: LayupEntry) -> tuple[object, ...]:
    product = entry.product
    return (
        entry.act,
        set(entry.circuits),
        None if product is None else replace(product, name="", lot=""),
        entry.quantity_l,
        entry.residual_l,
        replace(entry.evidence, photos=(), witness=""),
    )


def _flows_told_again(on_top: _Flow, told: Mapping[str, list[Pour]]) -> list[_Flow]:
    """Flows that an entry tells of, if it tells of earlier pours once more.

    Of each such pour every circuit is set back to what stood there before it, not one by one: what
    went in was one pour, and its neighbours hold no more of it. And it may be all of them in one.
    """
    earlier = {id(pour.before): pour.before for pours in told.values() for pour in pours}
    first = {name: pours[0].before[name] for name, pours in told.items() if pours}
    several = [*earlier.values(), *([first] if len(earlier) > 1 else [])]
    return [
        replace(
            on_top,
            stood=tuple(
                (one, _set_back(held, before.get(one.circuit.id, held)))
                for one, held in on_top.stood
            ),
        )
        for before in several
    ]


def _set_back(now: Contents, before: Contents) -> Contents:
    """What stood in a circuit, with what was noted of it since: its kinds, and how it stands."""
    back = before.copy_account()
    back.kinds, back.posture = now.kinds, now.posture
    return back


def _tell_again(
    one: CircuitProfile, contents: Contents, flows: Iterable[_Flow], told: list[Pour]
) -> None:
    """Apply a further account of a pour: it counts once, as the worst of its accounts.

    It may also be a second pour that nobody called so, which may have thinned what stood there.
    """
    on_top, *retold = flows
    entry = on_top.entry
    if any(_tells_the_same(account, entry) for pour in told for account in pour.accounts):
        return
    why = Reason(because=Because.TOLD_AGAIN, entry=entry)
    outcomes = [_after_pour(one, contents.copy_account(), on_top)]
    if not any(pour.sampled_since for pour in told):
        for flow in retold:
            before = flow.contents_of(one).copy_account()
            flow.note_limits(before, before)
            outcomes.append(_after_pour(one, before, flow))
    contents.pours = [
        replace(pour, accounts=(*pour.accounts, entry))
        if _may_be_one_pour(pour.accounts[0], entry)
        else pour
        for pour in contents.pours
    ]
    for outcome in outcomes:
        contents.heed_account(outcome, why, entry.at)
        contents.strongest = _lower_of(contents.strongest, outcome.strongest)
        contents.undiluted = _lower_of(contents.undiluted, outcome.undiluted)


def _lower_of(one: float | None, other: float | None) -> float | None:
    return min((each for each in (one, other) if each is not None), default=None)


def _after_pour(one: CircuitProfile, contents: Contents, flow: _Flow) -> Contents:
    _pour(one, contents, flow)
    return contents


def _pour(one: CircuitProfile, contents: Contents, flow: _Flow) -> None:
    """Apply one pour to one circuit, with the evidence that came with it."""
    entry, product = flow.entry, flow.entry.product
    evidence = entry.evidence
    lacks = lacks_of(one, contents, entry)
    refused = why_reading_refused(contents, entry)
    if not lacks and evidence.ice_point_c is not None and not refused:
        take_reading(contents, entry, Because.SAMPLE_OF_FLOW)
        return
    mixed = flow.mixed()
    lacks = lacks or _lacks_of_pour(one, contents, flow, mixed, refused)
    if lacks or product is None or mixed is None:
        _add_unseen(one, contents, flow, lacks, mixed)
        return
    more_kinds = len(contents.kinds) > 1
    contents.hold_mix(
        mix_of(product.liquid, mixed, label_burst_c=product.label_burst_c, more_kinds=more_kinds),
        Basis.COMPUTED,
        Confidence.LOW if more_kinds else Confidence.MEDIUM,
        Reason(
            because=Because.MIXED,
            entry=entry,
            share=mixed,
            lacks=(
                refused or (Lack.TWO_GLYCOLS if more_kinds else Lack.NO_SAMPLE),
                *((Lack.RESIDUAL_NOT_SHOWN,) if flow.overstates_drain else ()),
            ),
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


def _add_unseen(
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
        contents.hold_mix(
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
        contents.judge_as_water(LayupState.UNPROVEN, why, entry.at)
        return
    before = contents.mix
    share = min(weakest, before.fraction)
    then = weaker_mix(before, mix_of(before.liquid, share, label_burst_c=product.label_burst_c))
    if share < before.fraction:
        because = Reason(because=Because.THINNER, entry=entry)
        contents.hold_mix(then, Basis.COMPUTED, Confidence.LOW, because, entry.at)
        return
    contents.mix = weaker_mix(then, before)
    contents.confidence = Confidence.LOW
    contents.notes.append(Reason(because=Because.ADDED_UNSEEN, entry=entry))


def take_reading(contents: Contents, entry: LayupEntry, because: Because) -> None:
    """Take the ice point from a reading that counts; ``entry`` must hold one."""
    evidence, product = entry.evidence, entry.product
    if evidence.ice_point_c is None:
        raise ValueError(f"entry {entry.id}: it holds no reading")
    liquid = glycol_in(contents, entry)
    confidence = confidence_of(evidence, liquid, entry.at)
    read_c = ice_read_c(evidence, liquid)
    ice_c, warmer = _warmest_read(contents, entry, read_c)
    if ice_c - read_c > READING_K:
        confidence = Confidence.LOW
    elif contents.closed:
        confidence = min(confidence, Confidence.MEDIUM, key=SURENESS.index)
    contents.sampled_at, contents.filled = entry.at, True
    contents.pours = [
        replace(one, sampled_since=one.accounts[-1] is not entry) for one in contents.pours
    ]
    contents.note_kinds(frozenset({liquid}))
    contents.hold_mix(
        mix_read(
            liquid,
            ice_c,
            sure=confidence is Confidence.HIGH,
            label_burst_c=product.label_burst_c if product else None,
        ),
        Basis.MEASURED,
        confidence,
        Reason(because=because, entry=entry),
        entry.at,
    )
    if read_c > evidence.ice_point_c:
        contents.notes.append(Reason(because=Because.GLYCOL_UNNAMED, entry=entry, ice_c=read_c))
    if warmer is not None:
        coolant, other = Because.COOLANT_READ_WARMER, Because.READ_WARMER_BEFORE
        told = Reason(because=coolant if contents.closed else other, entry=warmer)
        contents.notes.append(told)


def _warmest_read(
    contents: Contents, entry: LayupEntry, read_c: float
) -> tuple[float, LayupEntry | None]:
    """Ice point [°C] that counts after a reading, and the earlier entry that it is from, if it is.

    Nothing gets stronger by standing: of readings with no pour between them the warmer is true.
    """
    before = contents.warmest_read
    contents.note_reading(read_c, entry)
    return (read_c, None) if before is None or before[0] <= read_c else before


def heed_reading(contents: Contents, entry: LayupEntry) -> None:
    """Let a reading that did not count still speak against what the record makes of it."""
    liquid = glycol_in(contents, entry)
    if entry.evidence.ice_point_c is None:
        return
    read_c = ice_read_c(entry.evidence, liquid)
    contents.note_reading(read_c, entry)
    contents.no_better_than(
        mix_read(liquid, read_c, sure=False, label_burst_c=None),
        Reason(because=Because.READ_THIN, entry=entry),
    )
