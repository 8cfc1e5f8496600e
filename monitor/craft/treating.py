"""What protects a circuit, and the evidence that makes it count."""

from monitor.craft.act_table import WAY_OF, Deed, Verdict, deeds_of, verdict_on
from monitor.craft.contents import Contents
from monitor.craft.kept import Shelter
from monitor.craft.layup import (
    ANTIFREEZE,
    Act,
    Evidence,
    LayupEntry,
    Liquid,
    OilLook,
    Outflow,
    Product,
)
from monitor.craft.mixture import GLYCOLS, mixed_mass_fraction, strength_of
from monitor.craft.profile import CircuitProfile, Proof
from monitor.craft.protection import Basis, Confidence, LayupState
from monitor.wording import Wording, listed

Touched = list[tuple[CircuitProfile, Contents]]

_DONE = {
    Act.ANTIFREEZE_RUN_THROUGH: "antifreeze run through",
    Act.ANTIFREEZE_POURED: "antifreeze poured in",
    Act.DRAINED: "drained",
    Act.BLOWN_OUT: "blown out",
}
_MISSING = {
    Proof.DRY: "nobody noted that it was probed and seen dry",
    Proof.OUTFLOW: "nobody noted whether it came out at the outlet",
    Proof.HOT_ENGINE: (
        "nobody noted a hot engine, and with its thermostat shut the antifreeze goes past the"
        " water in it"
    ),
    Proof.ICE_POINT: "no sample was read",
    Proof.CLEAR_OIL: "nobody noted how the oil looked that came out",
}


def antifreeze(touched: Touched, entry: LayupEntry, words: Wording) -> None:
    """Apply antifreeze run through or poured in to all circuits that it went through.

    All named circuits share the poured volume in one flow: perfect mixing of it with what stood
    in them is the most dilute that can be, as a stream that pushes the water out leaves less.
    """
    evidence, product = entry.evidence, entry.product
    done = _sentence(entry, words)
    label_burst = product.label_burst_c if product else None
    strength = strength_of(product)
    mixed = _mixed(touched, entry)
    for one, contents in touched:
        if evidence.outflow is Outflow.NONE:
            contents.water(
                LayupState.UNPROVEN,
                f"{done}; nothing came out: a blocked passage that still holds water",
                entry.at,
                blocked=True,
            )
            continue
        missing = _missing(one, contents, entry)
        refused = unreadable(evidence, product)
        if missing:
            _topped_up(one, contents, entry, f"{done}; but {missing}", mixed)
        elif evidence.ice_point_c is not None and not refused:
            _read(contents, entry, f"{done}; the sample read ", words)
        elif product is None or strength is None:
            lacking = refused or "neither the product's strength nor a reading is on record"
            _topped_up(one, contents, entry, f"{done}; but {lacking}", None)
        elif mixed is not None:
            note = f"; {refused}" if refused else "; no sample was read"
            contents.reckoned(
                product.liquid,
                mixed,
                Basis.COMPUTED,
                Confidence.MEDIUM,
                f"{done}; with what stood in there that makes {mixed * 100:.0f} % glycol{note}",
                entry.at,
                label_burst,
            )
        elif evidence.outflow is Outflow.FULL_COLOUR:
            if contents.proven and not contents.dry and strength >= contents.fraction:
                continue  # what is known already was known better
            contents.reckoned(
                product.liquid,
                strength,
                Basis.LABEL,
                Confidence.LOW,
                f"{done}; taken as undiluted {strength * 100:.0f} % by its colour alone",
                entry.at,
                label_burst,
            )
        else:
            _topped_up(
                one,
                contents,
                entry,
                f"{done}; but no quantity is on record, so nobody can tell how thin it became",
                None,
            )


def _mixed(touched: Touched, entry: LayupEntry) -> float | None:
    """Mass fraction in all named circuits after the pour; None where it cannot be computed."""
    product = entry.product
    strength = strength_of(product)
    if product is None or strength is None or entry.quantity_l is None:
        return None
    wet = [(one, contents) for one, contents in touched if not contents.dry]
    if any(contents.glycol and contents.liquid is not product.liquid for _, contents in wet):
        return None
    volume = sum(one.circuit.volume_l for one, _ in wet)
    stood = (
        sum(one.circuit.volume_l * contents.glycol for one, contents in wet) / volume
        if volume
        else 0.0
    )
    if entry.residual_l is not None and stood == 0.0:
        volume = entry.residual_l
    return mixed_mass_fraction(
        strength, entry.quantity_l, volume, product.liquid, held_fraction=stood
    )


def _topped_up(
    one: CircuitProfile, contents: Contents, entry: LayupEntry, why: str, mixed: float | None
) -> None:
    """Apply antifreeze without the evidence that it needs.

    A circuit that was not proven stays so. One that was proven keeps what it had, unless what
    went in was weaker or of another kind: then it may have become weaker too.
    """
    product = entry.product
    strength = strength_of(product)
    if not contents.proven or product is None or strength is None:
        contents.water(LayupState.UNPROVEN, why, entry.at)
        return
    if contents.dry:
        contents.reckoned(
            product.liquid,
            strength,
            Basis.COMPUTED,
            Confidence.LOW,
            f"{why}; {one.circuit.name} was seen dry before, so the product stands undiluted",
            entry.at,
            product.label_burst_c,
        )
        return
    if product.liquid is not contents.liquid:
        contents.water(
            LayupState.UNPROVEN, f"{why}; and two kinds of glycol are mixed in it", entry.at
        )
        return
    if strength >= contents.fraction:
        return
    weakest = strength if mixed is None else min(mixed, contents.fraction)
    contents.reckoned(
        product.liquid,
        weakest,
        Basis.COMPUTED,
        Confidence.LOW,
        f"{why}; thinner than what stood in there",
        entry.at,
        product.label_burst_c,
    )


def drained(touched: Touched, entry: LayupEntry, words: Wording) -> None:
    """Apply draining or blowing out. It never takes protection away, unless water was seen."""
    done = _sentence(entry, words)
    [deed] = deeds_of(entry)
    for one, contents in touched:
        missing = _missing(one, contents, entry)
        if entry.evidence.dry is False:
            contents.water(
                LayupState.UNPROVEN, f"{done}; probed, and water was still in it", entry.at
            )
        elif verdict_on(deed, one) is Verdict.UNDOES:
            contents.water(LayupState.VOID, f"{done}; a coolant loop must stay full", entry.at)
        elif not missing:
            contents.seen_dry(f"{done}; probed and seen dry", entry.at)
        elif not contents.proven:
            contents.water(LayupState.UNPROVEN, f"{done}; but {missing}", entry.at)


def oil_changed(touched: Touched, entry: LayupEntry, words: Wording) -> None:
    """Apply an oil change: clear oil shows that no water was in the housing."""
    done = f"oil changed on {words.day(entry.at)} by {words.person(entry.by)}"
    for _, contents in touched:
        _oil(contents, entry, done)


def inspected(touched: Touched, entry: LayupEntry, words: Wording) -> None:
    """Apply an inspection: what it shows of each circuit counts, and suspicion of damage ends."""
    done = f"inspected on {words.day(entry.at)} by {words.person(entry.by)}"
    for one, contents in touched:
        contents.suspect_since = None
        contents.inspected_at = entry.at
        said = {deed: verdict_on(deed, one) for deed in deeds_of(entry)}
        shown = {deed for deed, verdict in said.items() if verdict is not Verdict.NOTHING}
        if Deed.WATER_FOUND in shown:
            contents.water(LayupState.UNPROVEN, f"{done}: water stands in it", entry.at)
        elif said.get(Deed.LOOKED_INSIDE) is Verdict.PROVES:
            if wrong := _stands_wrong(one, contents):
                contents.water(LayupState.UNPROVEN, f"{done}; but {wrong}", entry.at)
            else:
                contents.seen_dry(f"{done}: probed and seen dry", entry.at)
        elif Deed.SAMPLE_READ in shown and not unreadable(entry.evidence, entry.product):
            _read(contents, entry, f"{done}: the sample read ", words)
        elif shown & {Deed.OIL_CLEAR, Deed.OIL_WET}:
            _oil(contents, entry, done)
        elif Deed.LOOKED_INSIDE in shown and not contents.proven:
            contents.water(
                LayupState.UNPROVEN,
                f"{done}: it looked dry, but no eye reaches all of it",
                entry.at,
            )


def _read(contents: Contents, entry: LayupEntry, lead: str, words: Wording) -> None:
    """Take the ice point from a sample; ``entry`` must hold a reading."""
    reading, product = entry.evidence.ice_point_c, entry.product
    if reading is None:
        return
    contents.read(
        _scale(entry.evidence, product),
        reading,
        lead + words.temperature(reading),
        entry.at,
        product.label_burst_c if product else None,
    )


def kept_warm(touched: Touched, entry: LayupEntry, shelter: Shelter | None, words: Wording) -> None:
    """Apply the decision to rely on heat; worth nothing where there is no heat."""
    day, who = words.day(entry.at), words.person(entry.by)
    for _, contents in touched:
        if contents.proven:
            continue
        if shelter is not None and shelter.heated:
            contents.water(
                LayupState.HEAT_ONLY,
                f"left untreated on {day} by {who}: only the heat of {shelter.name} keeps it",
                entry.at,
            )
        else:
            where = shelter.name if shelter else "a place that is not on record"
            contents.water(
                LayupState.UNPROVEN,
                f"left untreated on {day} by {who} as kept warm, but {where} has no heat",
                entry.at,
            )


def unreadable(evidence: Evidence, product: Product | None) -> str:
    """Why a refractometer's reading cannot count; empty if it can, or if there is none."""
    if evidence.ice_point_c is None:
        return ""
    liquid = product.liquid if product else None
    if liquid is Liquid.ETHANOL:
        return "no refractometer reads an ethanol blend, so its reading does not count"
    if evidence.scale is Liquid.ETHANOL or (
        evidence.scale in GLYCOLS and liquid in GLYCOLS and evidence.scale is not liquid
    ):
        return (
            f"it was read on the {evidence.scale} scale, the wrong one for {liquid}, so the"
            " reading does not count"
        )
    return ""


def _scale(evidence: Evidence, product: Product | None) -> Liquid:
    if evidence.scale in GLYCOLS:
        return Liquid(evidence.scale)
    if product is not None and product.liquid in GLYCOLS:
        return product.liquid
    return Liquid.PROPYLENE  # the milder of the two: its mix of the same ice point bursts sooner


def _oil(contents: Contents, entry: LayupEntry, done: str) -> None:
    look = entry.evidence.oil
    if look is OilLook.CLEAR:
        contents.seen_dry(f"{done}: the oil was clear, no water in it", entry.at)
    elif look is not None:
        seen = "milky" if look is OilLook.MILKY else "led by water"
        again = (
            "; refilled, but water clings: look at it again" if entry.act is Act.OIL_CHANGED else ""
        )
        contents.water(
            LayupState.UNPROVEN, f"{done}: the oil was {seen}, so water is in it{again}", entry.at
        )
    elif not contents.proven:
        contents.water(LayupState.UNPROVEN, f"{done}; but {_MISSING[Proof.CLEAR_OIL]}", entry.at)


def _missing(one: CircuitProfile, contents: Contents, entry: LayupEntry) -> str:
    """What the treatment lacks to count; empty if nothing."""
    way = WAY_OF[entry.act]
    treatment = one.treatment(way)
    hints = all(verdict_on(deed, one) is not Verdict.PROVES for deed in deeds_of(entry))
    if treatment is None or hints:
        ways = listed([each.way.value for each in one.treatments if each.way is not way], "or")
        return f"{way.value} does not make this circuit safe ({ways} would)"
    evidence = entry.evidence
    reading = evidence.ice_point_c is not None and not unreadable(evidence, entry.product)
    seen = {
        Proof.DRY: evidence.dry is True,
        # A sample read at the outlet came out of it.
        Proof.OUTFLOW: evidence.outflow in {Outflow.SEEN, Outflow.FULL_COLOUR} or reading,
        Proof.HOT_ENGINE: evidence.engine_hot is True,
        Proof.ICE_POINT: reading,
        Proof.CLEAR_OIL: evidence.oil is OilLook.CLEAR,
    }
    lacks = [
        "the engine was cold: its thermostat was shut, and the antifreeze went past the water in it"
        if proof is Proof.HOT_ENGINE and evidence.engine_hot is False
        else _MISSING[proof]
        for proof in Proof
        if proof in treatment.needs and not seen[proof]
    ]
    if not lacks and evidence.dry and (wrong := _stands_wrong(one, contents)):
        lacks.append(wrong)
    return listed(lacks)


def _stands_wrong(one: CircuitProfile, contents: Contents) -> str:
    if one.posture is None or contents.posture is one.posture:
        return ""
    if contents.posture is None:
        return f"nobody noted that it stands {one.posture}, as it must to stay dry"
    return f"it stands {contents.posture}, not {one.posture}: water collects in it"


def _sentence(entry: LayupEntry, words: Wording) -> str:
    evidence = entry.evidence
    parts = [f"{_DONE[entry.act]} on {words.day(entry.at)} by {words.person(entry.by)}"]
    if entry.act in ANTIFREEZE:
        parts.extend(_poured(entry, words))
        if evidence.outflow is Outflow.SEEN:
            parts.append("seen coming out")
        elif evidence.outflow is Outflow.FULL_COLOUR:
            parts.append("came out in the jug's colour")
    if evidence.witness:
        parts.append(f"witnessed by {evidence.witness}")
    return ", ".join(parts)


def _poured(entry: LayupEntry, words: Wording) -> list[str]:
    if entry.quantity_l is None:
        return []
    volume, product = words.volume(entry.quantity_l), entry.product
    strength = strength_of(product)
    if product is None or strength is None:
        return [volume]
    if product.strength is None:
        return [
            f"{volume} of a product that states only a burst rating, taken as"
            f" {strength * 100:.0f} % glycol"
        ]
    return [f"{volume} of {strength * 100:.0f} % product"]
