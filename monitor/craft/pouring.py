"""Antifreeze in circuits: how strong it became, what of it is shown, and what a second pour is.

Less evidence never ends in more protection. So work that lacks evidence is judged by the worst
that it can have done: thinned what stood there, or carried another circuit's water into it.
"""

from collections.abc import Iterable, Mapping
from dataclasses import replace

from monitor.craft.contents import Contents, Pour, mix_of, weaker_mix
from monitor.craft.lacks import (
    lacks_of,
    may_hold_less,
    reason_not_counting,
    why_reading_refused,
)
from monitor.craft.layup import Act, LayupEntry, Liquid, Outflow
from monitor.craft.poured_flow import PouredFlow
from monitor.craft.profile import CircuitProfile
from monitor.craft.protection import Basis, Confidence, LayupState
from monitor.craft.readings import lack_of_one_kind
from monitor.craft.reasons import Because, Lack, Reason
from monitor.craft.sampling import heed_reading, take_reading

Touched = list[tuple[CircuitProfile, Contents]]


def apply_antifreeze(touched: Touched, entry: LayupEntry, beside: Touched) -> None:
    """Apply antifreeze run through or poured in to all circuits that it went through.

    Those ``beside`` it also passed, and nobody named them: what stands there thins it.
    """
    _note_kinds(touched, entry)
    told = {one.circuit.id: _pours_told_again(contents, entry) for one, contents in touched}
    on_top = PouredFlow(
        entry=entry,
        stood=tuple((one, held.copy_account()) for one, held in touched),
        beside=tuple((one, held.copy_account()) for one, held in beside),
    )
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


def _flows_told_again(on_top: PouredFlow, told: Mapping[str, list[Pour]]) -> list[PouredFlow]:
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
    one: CircuitProfile, contents: Contents, flows: Iterable[PouredFlow], told: list[Pour]
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


def _after_pour(one: CircuitProfile, contents: Contents, flow: PouredFlow) -> Contents:
    _pour(one, contents, flow)
    return contents


def _pour(one: CircuitProfile, contents: Contents, flow: PouredFlow) -> None:
    """Apply one pour to one circuit, with the evidence that came with it."""
    entry, product = flow.entry, flow.entry.product
    evidence = entry.evidence
    lacks = lacks_of(one, contents, entry)
    refused = why_reading_refused(contents, entry)
    if not lacks and evidence.ice_point_c is not None and not refused:
        take_reading(contents, entry, Because.SAMPLE_OF_FLOW)
        return
    mixed = flow.mixed_fraction()
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
                refused or (lack_of_one_kind(contents.kinds) if more_kinds else Lack.NO_SAMPLE),
                *((Lack.RESIDUAL_NOT_SHOWN,) if flow.overstates_drain else ()),
            ),
        ),
        entry.at,
    )


def _lacks_of_pour(
    one: CircuitProfile,
    contents: Contents,
    flow: PouredFlow,
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
    mixed_kinds = {Lack.TWO_GLYCOLS, Lack.UNNAMED_BESIDE}
    sampled = entry.evidence.ice_point_c is not None and refused in mixed_kinds
    passed = entry.act is not Act.ANTIFREEZE_POURED or contents.dry or sampled
    return (Lack.DEAD_LEG,) if one.dead_leg and not passed else ()


def _add_unseen(
    one: CircuitProfile,
    contents: Contents,
    flow: PouredFlow,
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
        unnamed = lack_of_one_kind(contents.kinds) is Lack.UNNAMED_BESIDE
        why = Reason(
            because=Because.UNNAMED_BESIDE if unnamed else Because.TWO_GLYCOLS, entry=entry
        )
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
