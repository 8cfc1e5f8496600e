"""What known offsets of thermometers in one air tell: what a silent one reads, which one stays."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_KNOWN_H = 12.0  # of both together before they part; less tells no offset
LEAST_K = 1.0  # two tolerances of half a kelvin (an estimate): no parting that is less counts
# Times the scatter of their past hours, but for the wildest. With the other bounds it was chosen on
# twelve simulated winters: tests/bench/STUCK.md.
_OF_SCATTER = 1.5
_ALMOST_ALL, _MOSTLY = 0.98, 0.8
_SAME_CLOCK_H = 1.5  # the sun comes to one of two at the same hours of each day
_DAY_H = 24.0
_RECENT_H = 2.0  # what was last read of both before that tells nothing of now
_FALLEN = 0.8  # share of the parting that the others' fall makes up; a rise of its own is the sun
_STAYED = 0.2  # of that fall, at most, it may have moved itself
_AGAIN_H = 6.0  # it follows again when it has moved as the others did over so long
_AGAIN_KNOWN = 0.8
_AGAIN_MOVED_K = 0.5
_AGAIN_SHARE = 0.5
_AGAIN_ALIKE = 0.7  # correlation of both
# Where no air moves it cannot follow. As far from the others as it always was, for half a day, it
# hides nothing: should it stay when they fall, it is found anew (estimates, no source).
_BACK_H = 12.0
_BACK_WITHIN_K = 0.5
# Hung elsewhere it may be far from where it was beside the others, and then shows for a whole day
# and night that it follows: as far down as they, and as far up (estimates, no source).
_HUNG_ELSEWHERE_H = 24.0
_HUNG_ELSEWHERE_MOVED_K = 3.0
_HUNG_ELSEWHERE_ALIKE = 0.95


class Parting(NamedTuple):
    """Since when a thermometer has parted from others, and by how much it was warmer before."""

    since_h: float  # before now, negative
    usual_k: float
    apart_k: float  # warmer than usual at the end


def find_parting(
    own_c: Floats, others_c: Floats, hours: Floats, least_k: float, held_h: float
) -> Parting | None:
    """Find whether a thermometer stays while the others fall.

    Parameters
    ----------
    own_c, others_c : ndarray, shape (n,)
        What it says, and the middle of the others [°C]; NaN where nothing was read.
    hours : ndarray, shape (n,)
        Before now, rising to 0.
    least_k : float
        No parting that is less counts.
    held_h : float
        Nor one that is younger.

    Returns
    -------
    Parting or None
        Where it is warmer than it has been beside them, by more than they scattered, because they
        fell, while it has moved by less than a fifth of that.
    """
    known = np.flatnonzero(np.isfinite(own_c) & np.isfinite(others_c))
    if known.size < 2:
        return None
    own, others, at_h = own_c[known], others_c[known], hours[known]
    apart = own - others
    if _is_usual(apart, least_k):
        return None
    # Again without what came after the parting, or its hours would count as usual ones.
    begin = _parted_at(apart, apart)
    begin = _parted_at(apart, apart[: begin + 1])
    if at_h[-1] < -_RECENT_H or at_h[-1] - at_h[begin] < held_h or at_h[begin] - at_h[0] < _KNOWN_H:
        return None
    before, before_h = apart[: begin + 1], at_h[: begin + 1]
    usual_k = float(np.median(before))
    scatter_k = float(np.quantile(before, _ALMOST_ALL)) - usual_k
    off_clock_h = (before_h - at_h[-1] + _DAY_H / 2.0) % _DAY_H - _DAY_H / 2.0
    same_clock = np.abs(off_clock_h) <= _SAME_CLOCK_H
    then_k = float(np.median(before[same_clock])) if same_clock.any() else usual_k
    apart_k = float(apart[-1]) - max(usual_k, then_k)
    fell_k = float(others[begin] - others[-1])
    if apart_k < max(least_k, _OF_SCATTER * scatter_k) or fell_k < _FALLEN * apart_k:
        return None
    if float(np.ptp(own[begin:])) > _STAYED * fell_k:
        return None
    return Parting(float(at_h[begin]), min(usual_k, then_k), apart_k)


def _is_usual(apart: Floats, least_k: float) -> bool:
    """Whether the newest difference is none to look into; most are, and this costs little.

    It lies among the upper fifth of all of them where it parts at all, and well above the least.
    """
    newest = apart[-1]
    rank = int(_MOSTLY * (apart.size - 1))  # of the difference that it must exceed, in order
    warmer = int(np.count_nonzero(apart > newest))
    return bool(newest - apart.min() < least_k) or warmer >= apart.size - rank


def _parted_at(apart: Floats, before: Floats) -> int:
    """The last step at which it was no warmer beside the others than it mostly is."""
    near = np.flatnonzero(apart <= float(np.quantile(before, _MOSTLY)) + 1e-6)
    return int(near[-1]) if near.size else 0


def follows_again(own_c: Floats, others_c: Floats, hours: Floats, usual_k: float) -> bool:
    """Whether a thermometer that stayed has moved with the others: for hours and as near to them.

    For a day and a night, where it is further from them than it was: it was hung elsewhere. Or
    whether it is as far from them as it was, for half a day: what fell beside it was a draught.

    Parameters
    ----------
    own_c, others_c, hours : ndarray, shape (n,)
        As for `find_parting`.
    usual_k : float
        By how much it was warmer before it stayed.
    """
    if _is_back(own_c, others_c, hours, usual_k):
        return True
    together = _together(own_c, others_c, hours, _AGAIN_H)
    if together is None:
        return False
    own, others = together
    moved_k, others_moved_k = float(np.ptp(own)), float(np.ptp(others))
    if others_moved_k < _AGAIN_MOVED_K or moved_k < _AGAIN_SHARE * others_moved_k:
        return False
    near = float(np.abs(own - others - usual_k).max()) <= 2.0 * LEAST_K
    if near:
        return float(np.corrcoef(own, others)[0, 1]) >= _AGAIN_ALIKE
    return _follows_elsewhere(own_c, others_c, hours)


def _is_back(own_c: Floats, others_c: Floats, hours: Floats, usual_k: float) -> bool:
    """Whether it has been as far from the others as it was, for half a day."""
    together = _together(own_c, others_c, hours, _BACK_H)
    if together is None:
        return False
    own, others = together
    return float(np.abs(own - others - usual_k).max()) <= _BACK_WITHIN_K


def _together(
    own_c: Floats, others_c: Floats, hours: Floats, last_h: float
) -> tuple[Floats, Floats] | None:
    """What both read in the last hours; None where they were not heard together for most of it."""
    recent = hours >= -last_h
    known = recent & np.isfinite(own_c) & np.isfinite(others_c)
    if known.sum() < _AGAIN_KNOWN * recent.sum():
        return None
    return own_c[known], others_c[known]


def _follows_elsewhere(own_c: Floats, others_c: Floats, hours: Floats) -> bool:
    """Whether it has moved with the others for a day and a night, wherever it hangs now."""
    together = _together(own_c, others_c, hours, _HUNG_ELSEWHERE_H)
    if together is None:
        return False
    own, others = together
    apart = own - others
    swing_k = float(np.ptp(others))
    steady = float(np.abs(apart - np.median(apart)).max()) <= 2.0 * LEAST_K
    if swing_k < _HUNG_ELSEWHERE_MOVED_K or not steady:
        return False
    return float(np.corrcoef(own, others)[0, 1]) >= _HUNG_ELSEWHERE_ALIKE


def fill_gaps(table: Floats) -> Floats:
    """Fill a silent sensor's gaps by its usual difference from the others.

    Parameters
    ----------
    table : ndarray, shape (sensors, n)
        One row a sensor, NaN where it is not heard.

    Returns
    -------
    ndarray, same shape
        A missing value is the others' mean plus the median of the sensor's own difference
        from it: so the cold corner's silence does not make a space look warmer. NaN stays
        where no other sensor is heard, and where the two were never heard together.
    """
    known = np.isfinite(table)
    if table.shape[0] < 2 or known.all():
        return table
    own = np.where(known, table, 0.0)
    heard = known.sum(axis=0) - known  # of the others, beside each
    # Where nobody is heard, as before a yard's first day, nothing can be filled.
    gaps = ~known & (heard > 0)
    fillable = np.flatnonzero(gaps.any(axis=1) & known.any(axis=1))
    if not fillable.size:
        return table
    result = table.copy()
    total = own.sum(axis=0)
    for row in fillable:
        mean = (total - own[row]) / np.maximum(heard[row], 1)
        together = known[row] & (heard[row] > 0)
        if together.any():
            gap = gaps[row]
            result[row, gap] = mean[gap] + float(np.median((table[row] - mean)[together]))
    return result
