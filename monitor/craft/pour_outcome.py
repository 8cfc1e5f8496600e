"""What one pour makes of one circuit: of one that was named, and of one that it only passed.

Less evidence never ends in more protection. So work that lacks evidence is judged by the worst
that it can have done: thinned what stood there, or carried another circuit's water into it.
"""

from monitor.craft.contents import SURENESS, Contents
from monitor.craft.lacks import glycol_in, lacks_of, reason_not_counting, why_reading_refused
from monitor.craft.layup import Act, LayupEntry, Outflow
from monitor.craft.mixture import Mix, mix_of, mix_read, weaker_mix
from monitor.craft.poured_flow import PouredFlow
from monitor.craft.profile import CircuitProfile
from monitor.craft.protection import Basis, Confidence, LayupState
from monitor.craft.readings import ice_read_c, lack_of_one_kind
from monitor.craft.reasons import Because, Lack, Reason
from monitor.craft.sampling import take_reading


def pour_into(one: CircuitProfile, contents: Contents, flow: PouredFlow) -> None:
    """Apply one pour to a circuit that it was named for, with the evidence that came with it."""
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
        _add_unseen(one, contents, flow, lacks)
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
    if more_kinds:
        contents.notes.append(Reason(because=Because.WORSE_GLYCOL, entry=entry))


def pass_by(contents: Contents, flow: PouredFlow) -> None:
    """Apply a pour to a circuit that nobody named for it: it may lose by it, and never gains."""
    if contents.proven:
        why = Reason(because=Because.PASSED_UNNAMED, entry=flow.entry)
        _weaken(contents, flow, thinner=why, added=why, lost=_two_kinds(contents, flow) or why)


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
    one: CircuitProfile, contents: Contents, flow: PouredFlow, lacks: tuple[Lack, ...]
) -> None:
    """Apply antifreeze without the evidence that it needs: only what it can have spoilt counts."""
    entry = flow.entry
    lost = _two_kinds(contents, flow) or reason_not_counting(one, contents, entry, lacks)
    if not contents.proven:
        contents.judge_as_water(LayupState.UNPROVEN, lost, entry.at)
        return
    thinner = Reason(because=Because.THINNER, entry=entry)
    if contents.dry and flow.all_dry:
        thinner = Reason(because=Because.UNDILUTED, entry=entry, name=one.circuit.name)
    added = Reason(because=Because.ADDED_UNSEEN, entry=entry)
    _weaken(contents, flow, thinner=thinner, added=added, lost=lost)


def _two_kinds(contents: Contents, flow: PouredFlow) -> Reason | None:
    if len(contents.kinds) <= 1:
        return None
    unnamed = lack_of_one_kind(contents.kinds) is Lack.UNNAMED_BESIDE
    because = Because.UNNAMED_BESIDE if unnamed else Because.TWO_GLYCOLS
    return Reason(because=because, entry=flow.entry)


def _weaken(
    contents: Contents, flow: PouredFlow, *, thinner: Reason, added: Reason, lost: Reason
) -> None:
    """Let a circuit that is proven hold no more than what a pour can have brought into it.

    The reasons: for a mix that is ``thinner`` than what stood there, for one that was ``added``
    and changes nothing that anybody can tell, and for what is ``lost``.
    """
    at, held = flow.entry.at, contents.mix
    measured = _reading_counts(contents, flow)
    came_in = _weakest_mix(contents, flow, measured=measured)
    if came_in is None:
        contents.judge_as_water(LayupState.UNPROVEN, lost, at)
        return
    mix = came_in if held is None else weaker_mix(held, came_in)
    sure = Confidence.MEDIUM if measured else Confidence.LOW
    confidence = min(contents.confidence, sure, key=SURENESS.index)
    if held is None or mix.ice_c > held.ice_c:
        label = Basis.LABEL if held is None and flow.all_dry else Basis.COMPUTED
        basis = Basis.MEASURED if measured else label
        doubt = contents.doubt
        contents.hold_mix(mix, basis, confidence, thinner, at)
        contents.doubt = doubt  # nobody looked at this one again
        return
    contents.mix, contents.confidence = mix, confidence
    contents.notes.append(added)


def _reading_counts(contents: Contents, flow: PouredFlow) -> bool:
    """Whether a sample was read with a pour, and shows what came in by it."""
    evidence = flow.entry.evidence
    return (
        evidence.ice_point_c is not None
        and evidence.outflow is not Outflow.CLEAR_WATER
        and why_reading_refused(contents, flow.entry) is None
    )


def _weakest_mix(contents: Contents, flow: PouredFlow, *, measured: bool) -> Mix | None:
    """Weakest mix that a pour can have brought into a circuit; None if that may be water.

    One that was seen dry may hold nothing but the water of others, unless it was seen that what
    went in came out again.
    """
    entry, product = flow.entry, flow.entry.product
    if entry.evidence.outflow is Outflow.NONE or len(contents.kinds) > 1:
        return None
    if measured:
        return _mix_that_was_read(contents, entry)
    seen = entry.evidence.outflow in {Outflow.SEEN, Outflow.FULL_COLOUR}
    if contents.dry and not (flow.all_dry or seen):
        return None
    mixed = flow.mixed_fraction()
    share = flow.thinnest_in(contents) if mixed is None else mixed
    if product is None or not share:
        return None
    return mix_of(product.liquid, share, label_burst_c=product.label_burst_c)


def _mix_that_was_read(contents: Contents, entry: LayupEntry) -> Mix:
    liquid = glycol_in(contents, entry)
    label_burst_c = entry.product.label_burst_c if entry.product else None
    read_c = ice_read_c(entry.evidence, liquid)
    return mix_read(liquid, read_c, sure=False, label_burst_c=label_burst_c)
