"""What a refractometer's reading is worth: whose scale, whose zero, of which glycol."""

from collections.abc import Collection
from datetime import datetime, timedelta

from monitor.craft.layup import Evidence, Liquid, Product
from monitor.craft.mixture import GLYCOLS
from monitor.craft.protection import Confidence
from monitor.craft.reasons import Lack

# A zero that was checked on a day that has not begun anywhere on Earth was checked after.
_EARLIEST_DAY = timedelta(hours=14)


def why_unreadable(
    evidence: Evidence, product: Product | None, kinds: Collection[Liquid] = ()
) -> Lack | None:
    """Why a reading cannot count; None if it can, or if there is none.

    Parameters
    ----------
    evidence : Evidence
        With the reading and the scale that it was read on.
    product : Product or None
        What went in with this entry.
    kinds : collection of Liquid
        Glycols that are known to stand in the circuit.
    """
    if evidence.ice_point_c is None:
        return None
    liquid = product.liquid if product else None
    if liquid is Liquid.ETHANOL or set(kinds) == {Liquid.ETHANOL}:
        return Lack.ETHANOL_READING
    known = {one for one in (liquid, *kinds) if one in GLYCOLS}
    if len(kinds) > 1 or len(known) > 1:
        return Lack.TWO_GLYCOLS
    scale = evidence.scale
    if scale is Liquid.ETHANOL or (scale in GLYCOLS and known and scale not in known):
        return Lack.WRONG_SCALE
    return None


def glycol_read(evidence: Evidence, product: Product | None, kinds: Collection[Liquid]) -> Liquid:
    """Tell which glycol a reading speaks of; NOT_KNOWN where neither scale nor record says."""
    if evidence.scale in GLYCOLS:
        return Liquid(evidence.scale)
    if product is not None and product.liquid in GLYCOLS:
        return product.liquid
    known = [one for one in kinds if one in GLYCOLS]
    return known[0] if len(known) == 1 else Liquid.NOT_KNOWN


def zero_counts(evidence: Evidence, at: datetime) -> bool:
    """Whether the zero was checked on the day of the reading or before."""
    zeroed = evidence.zeroed_on
    return zeroed is not None and zeroed <= (at + _EARLIEST_DAY).date()


def confidence_of(evidence: Evidence, at: datetime) -> Confidence:
    """How far a reading carries: HIGH only with its scale noted and its zero checked before."""
    whole = evidence.scale in GLYCOLS and zero_counts(evidence, at)
    return Confidence.HIGH if whole else Confidence.MEDIUM
