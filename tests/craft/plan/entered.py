"""The entry that a step asks for: what the record says of a person who did just that."""

from dataclasses import replace
from datetime import datetime, timedelta

from monitor.craft.acts import fields_of
from monitor.craft.canonical import derived_id
from monitor.craft.layup import (
    ANTIFREEZE,
    Act,
    Cover,
    Evidence,
    LayupEntry,
    Liquid,
    OilAppearance,
    Outflow,
    Product,
)
from monitor.craft.plan.shelf import ShelfProduct
from monitor.craft.plan.step import Ask, JobStep, Note, StepKind

# What follows at once, and is an entry of its own.
_AND_THEN = {StepKind.BENCH_BATTERY: Act.BATTERY_ON_MAINTAINER}

_OUTFLOWS = {Ask.OUTFLOW: Outflow.FULL_COLOUR, Ask.CLEAR_WATER: Outflow.CLEAR_WATER}


def entries_for(
    step: JobStep,
    craft: str,
    at: datetime,
    by: str,
    *,
    bench: str = "",
    rested_v: float | None = None,
    glycol: Liquid = Liquid.ETHYLENE,
) -> tuple[LayupEntry, ...]:
    """What goes into the record once a step was done as it is written, everything seen.

    Parameters
    ----------
    step : JobStep
    craft : str
        Its id.
    at : datetime
        When it was done.
    by : str
        Who did it.
    bench : str, optional
        Space that its battery goes to.
    rested_v : float, optional
        The battery's voltage, where it was read [V].
    glycol : Liquid, optional
        What stands there already, where a sample of that is read: the scale that it is read on.
        Coolants are mostly of ethylene.

    Returns
    -------
    tuple of LayupEntry
        Empty for a step that no entry answers.
    """
    if step.act is None:
        return ()
    first = LayupEntry(
        id="new",
        craft=craft,
        at=at,
        by=by,
        act=step.act,
        circuits=step.circuits if _takes_circuits(step.act) else (),
        product=_as_entered(step.product) if step.product else None,
        quantity_l=step.quantity_l,
        again=step.act in ANTIFREEZE,  # whatever went in before, this is not that pour
        posture=step.posture,
        cover=Cover.BREATHABLE if step.act is Act.COVER_FITTED else None,
        space=bench if step.act is Act.BATTERY_REMOVED else "",
        rested_v=rested_v if Ask.RESTED_VOLTAGE in step.asks else None,
        evidence=_evidence(step, at, glycol),
        settles=(step.finding.seen.id,) if step.finding else (),
    )
    then = _AND_THEN.get(step.kind)
    after = (
        ()
        if then is None
        else (LayupEntry(id="new", craft=craft, at=at + timedelta(minutes=1), by=by, act=then),)
    )
    return tuple(_with_id(one) for one in (first, *after))


def _as_entered(product: ShelfProduct) -> Product:
    """A product of the shelf as an entry of the record names it."""
    return Product(
        name=product.name, liquid=product.liquid, strength=product.strength, lot=product.lot
    )


def _takes_circuits(act: Act) -> bool:
    return any(field.path == "circuits" for field in fields_of(act))


def _evidence(step: JobStep, at: datetime, glycol: Liquid) -> Evidence:
    asks = step.asks
    reading = Ask.READING in asks
    return Evidence(
        outflow=next((_OUTFLOWS[one] for one in asks if one in _OUTFLOWS), Outflow.NOT_LOOKED),
        dry=True if Ask.DRY in asks else None,
        ice_point_c=step.reading_c,
        scale=_scale(step, glycol) if reading else None,
        zeroed_on=at.date() if reading else None,
        engine_hot=True if Ask.HOT_ENGINE in asks else None,
        oil=OilAppearance.CLEAR if Ask.CLEAR_OIL in asks else None,
        treated_fuel_seen=True if Ask.TREATED_FUEL in asks else None,
    )


def _scale(step: JobStep, glycol: Liquid) -> Liquid:
    """Scale that a sample is read on: its glycol's, else propylene's, which never flatters."""
    if step.product is not None:
        return step.product.liquid
    return Liquid.PROPYLENE if Note.GLYCOL_UNNAMED in step.notes else glycol


def _with_id(entry: LayupEntry) -> LayupEntry:
    return replace(entry, id=derived_id(entry))
