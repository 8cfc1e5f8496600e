"""What work on a circuit lacks to count: its way, and the evidence that its profile asks for."""

from monitor.craft.act_table import WAY_OF, Verdict, deeds_of, verdict_on
from monitor.craft.circuit import Drainage
from monitor.craft.contents import Contents
from monitor.craft.layup import LayupEntry, Liquid, OilAppearance, Outflow
from monitor.craft.mixture import GLYCOLS
from monitor.craft.profile import CircuitProfile, Proof
from monitor.craft.readings import coldest_credible_c, glycol_read, why_unreadable
from monitor.craft.reasons import Because, Lack, Reason

_LACKING = {
    Proof.DRY: Lack.NO_DRY_PROBE,
    Proof.OUTFLOW: Lack.OUTFLOW_NOT_NOTED,
    Proof.HOT_ENGINE: Lack.HEAT_NOT_NOTED,
    Proof.ICE_POINT: Lack.NO_SAMPLE,
    Proof.CLEAR_OIL: Lack.OIL_NOT_NOTED,
    Proof.POSTURE: Lack.POSTURE_NOT_NOTED,
}


def lacks_of(one: CircuitProfile, contents: Contents, entry: LayupEntry) -> tuple[Lack, ...]:
    """What a treatment lacks to count on this circuit; empty if nothing."""
    treatment = one.treatment(WAY_OF[entry.act])
    if treatment is None or not can_make_safe(entry, one):
        return (Lack.WAY,)
    evidence = entry.evidence
    reading = evidence.ice_point_c is not None and not why_reading_refused(contents, entry)
    still_water = evidence.outflow is Outflow.CLEAR_WATER
    seen = {
        Proof.DRY: evidence.dry is True,
        # A sample read at the outlet came out of it.
        Proof.OUTFLOW: evidence.outflow in {Outflow.SEEN, Outflow.FULL_COLOUR}
        or (reading and not still_water),
        Proof.HOT_ENGINE: evidence.engine_hot is True,
        Proof.ICE_POINT: reading,
        Proof.CLEAR_OIL: evidence.oil is OilAppearance.CLEAR,
        Proof.POSTURE: not stands_wrong(one, contents),
    }
    told_against = {}
    if evidence.engine_hot is False:
        told_against[Proof.HOT_ENGINE] = Lack.COLD_ENGINE
    if still_water:
        told_against[Proof.OUTFLOW] = Lack.STILL_WATER
    lacking = [
        told_against.get(proof, _LACKING[proof])
        for proof in Proof
        if proof in treatment.needs and not seen[proof]
    ]
    if not lacking and evidence.dry:
        lacking.extend(stands_wrong(one, contents))
    return tuple(lacking)


def can_make_safe(entry: LayupEntry, one: CircuitProfile) -> bool:
    """Whether such work can make a circuit safe at all, by its profile and the table of acts."""
    proves = any(verdict_on(deed, one) is Verdict.PROVES for deed in deeds_of(entry))
    return proves and one.treatment(WAY_OF[entry.act]) is not None


def why_reading_refused(contents: Contents, entry: LayupEntry) -> Lack | None:
    """Why the reading of an entry cannot count in a circuit; None if it can, or if there is none.

    What stands in the circuit by now must be noted in ``contents``: a reading that is colder than
    all that went in can make was read off the jug, or of another circuit.
    """
    evidence = entry.evidence
    refused = why_unreadable(evidence, entry.product, contents.kinds)
    if refused or evidence.ice_point_c is None:
        return refused
    liquid = glycol_in(contents, entry)
    coldest_c = coldest_credible_c(liquid, contents.undiluted, contents.strongest)
    if evidence.ice_point_c >= coldest_c:
        return None
    if contents.no_pour_since_water:
        return Lack.NO_POUR_SINCE_WATER
    told = [account.quantity_l for pour in contents.pours for account in pour.accounts]
    return Lack.COLDER_THAN_POURED if all(told) else Lack.POUR_NOT_MEASURED


def glycol_in(contents: Contents, entry: LayupEntry) -> Liquid:
    """Glycol that a reading is of; NOT_KNOWN where nobody named what went in.

    Nothing from the yard's shelf goes into a coolant loop: whoever reads it picks the scale by
    what its maker filled in.
    """
    scale = entry.evidence.scale
    if contents.closed and not contents.kinds and scale in GLYCOLS:
        return Liquid(scale)
    return glycol_read(entry.product, contents.kinds)


def may_hold_less(one: CircuitProfile, contents: Contents) -> bool:
    """Whether less may stand in a circuit than stays after ordinary draining.

    It may where somebody drained, blew out or opened it, or where it empties itself as it stands.
    No drain empties a low loop, so that only an open one holds less.
    """
    by_itself = one.circuit.drainage is Drainage.SELF and not stands_wrong(one, contents)
    return contents.drained or by_itself


def stands_wrong(one: CircuitProfile, contents: Contents) -> tuple[Lack, ...]:
    """Whether it stands so that it stays dry: empty if it does, or if it does not matter."""
    if one.posture is None or contents.posture is one.posture:
        return ()
    return (Lack.POSTURE_NOT_NOTED if contents.posture is None else Lack.STANDS_WRONG,)


def reason_not_counting(
    one: CircuitProfile, contents: Contents, entry: LayupEntry, lacks: tuple[Lack, ...]
) -> Reason:
    """Say why work does not count, with what it lacks."""
    way = WAY_OF.get(entry.act)
    return Reason(
        because=Because.EVIDENCE_LACKS,
        entry=entry,
        lacks=lacks,
        ways=tuple(each.way.value for each in one.treatments if each.way is not way),
        posture=str(one.posture or ""),
        stands=str(contents.posture or ""),
    )
