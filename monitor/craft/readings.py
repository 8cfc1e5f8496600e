"""What a refractometer's reading is worth: whose scale, whose zero, of which glycol, how cold."""

from collections.abc import Collection
from datetime import datetime, timedelta

from monitor.craft.layup import Evidence, Liquid, Product
from monitor.craft.mixture import GLYCOLS, ice_point_c, warmest_ice_c
from monitor.craft.protection import Confidence
from monitor.craft.reasons import Lack

# A zero that was checked on a day that has not begun anywhere on Earth was checked after.
_EARLIEST_DAY = timedelta(hours=14)
# Common practice, no source: zero is set anew before a day's readings, and drifts within weeks.
ZERO_KEEPS = timedelta(days=30)
READING_K = 2.0  # a hand-held refractometer's allowance: ±1 K (ASTM D3321), doubled in a yard
# Further than this from what a pour can have made, a reading is of something else: volumes of
# circuits are upper estimates, and less water left makes a stronger mix.
_FAR_K = 8.0
# No mix of a coolant's glycol and water stays liquid below it: ethylene's lowest, near 65 %.
_COLDEST_OF_ANY_C = -60.0


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
        return lack_of_one_kind(known.union(kinds))
    scale = evidence.scale
    if scale is Liquid.ETHANOL or (scale in GLYCOLS and known and scale not in known):
        return Lack.WRONG_SCALE
    # Nobody noted the scale, so it may have been the wrong one.
    return None if scale in GLYCOLS else Lack.SCALE_NOT_NOTED


def lack_of_one_kind(kinds: Collection[Liquid]) -> Lack:
    """Why a mix of several products cannot be read: two glycols, or one that nobody named."""
    two = len(GLYCOLS.intersection(kinds)) > 1 or Liquid.NOT_KNOWN not in kinds
    return Lack.TWO_GLYCOLS if two else Lack.UNNAMED_BESIDE


def coldest_credible_c(
    liquid: Liquid, undiluted: float | None, strongest: float | None = None
) -> float:
    """Coldest reading that a mix can give [°C].

    Parameters
    ----------
    liquid : Liquid
        A glycol, or NOT_KNOWN: then the warmer of both.
    undiluted : float or None
        Mass fraction of the strongest product that went in; None if nothing did.
    strongest : float or None
        Mass fraction that the quantities on record can make, at the most.
    """
    kinds = [liquid] if liquid in GLYCOLS else sorted(GLYCOLS)

    def ice_c(share: float) -> float:
        return max(ice_point_c(share, one) for one in kinds)

    if undiluted is None:
        return _COLDEST_OF_ANY_C
    coldest = ice_c(undiluted) - READING_K
    return coldest if strongest is None else max(coldest, ice_c(strongest) - _FAR_K)


def glycol_read(product: Product | None, kinds: Collection[Liquid]) -> Liquid:
    """Tell which glycol a sample holds, by what is on record; NOT_KNOWN where nobody named it.

    The scale that it was read on is the instrument's, and tells nothing of the liquid.
    """
    named = {product.liquid} if product is not None else set()
    known = named.union(kinds)
    return known.pop() if len(known) == 1 and known <= GLYCOLS else Liquid.NOT_KNOWN


def ice_read_c(evidence: Evidence, liquid: Liquid) -> float:
    """Ice point [°C] that a reading shows of that liquid at the worst; ValueError without one."""
    if evidence.ice_point_c is None:
        raise ValueError("no reading is on record here")
    return warmest_ice_c(evidence.ice_point_c, evidence.scale, liquid)


def zero_counts(evidence: Evidence, at: datetime) -> bool:
    """Whether the zero was checked on the day of the reading, or shortly before."""
    zeroed, latest = evidence.zeroed_on, (at + _EARLIEST_DAY).date()
    return zeroed is not None and timedelta(0) <= latest - zeroed <= ZERO_KEEPS


def confidence_of(evidence: Evidence, liquid: Liquid, at: datetime) -> Confidence:
    """How far a reading carries: HIGH only on the scale of its glycol, its zero checked before."""
    whole = evidence.scale is liquid and liquid in GLYCOLS and zero_counts(evidence, at)
    return Confidence.HIGH if whole else Confidence.MEDIUM
