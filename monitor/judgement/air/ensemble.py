"""Equally likely courses of the coming night: one fixed set of draws for a yard and a night.

A member of the ensemble is one way in which the night may go: how far the forecast low is off, how
clear the sky is, which lag within its range a circuit has, how cold it was to begin with, how far a
mix is from what was computed. All spaces of a yard share the draws of a night, because a night that
is colder than forecast is so for the whole yard. A chance is the share of members to which
something happens.
"""

from datetime import date
from functools import lru_cache
from hashlib import blake2b
from math import ceil
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from monitor.judgement.air.grid import Floats

MEMBERS = 64
COLD_EDGE = 0.1  # the stated range leaves so much out on either side: it is the middle 80 %
COLD_MEMBER = round(COLD_EDGE * MEMBERS)  # the member whose low lies at the cold edge
WORTH_SAYING = 0.05  # no hour is stated for what happens less often than one night in twenty

# Nine errors of a low where its forecast was never tried, in units of their usual size; above 0 the
# night turned out colder. Fat on the cold side, because a front can take a night ten kelvin further
# than any before it (estimate, no source). They stay in for ever, as nine nights beside the own.
_PRIOR_ERRORS = np.array([-1.5, -0.95, -0.57, -0.27, 0.0, 0.27, 0.57, 0.95, 1.9])
# At either end errors go further than any known (see `_beyond_known`).
_END = 0.2  # share of errors that tell how far; the TUNE winters score the same with a tenth
_FEWEST_FOR_ENDS = 10  # own nights; until then the prior's own fat end is all
_DIMENSIONS = 5
LOW_RANKS = (np.arange(MEMBERS) + 0.5) / MEMBERS  # of each member's low; the coldest first


class Draws(NamedTuple):
    """Where each member lies in each unknown, as a share from 0 to 1. Each of shape (MEMBERS,)."""

    low: Floats  # 0 is the coldest night
    sky: Floats  # 0 is the clearest
    hull: Floats  # share of the sky's pull that reaches a circuit; 1 is all of its range
    lag: Floats  # 0 is the short end
    start: Floats  # of what is not known of the temperature it has now; 0 is the coldest
    mix: Floats  # 0 is the weakest


@lru_cache(maxsize=256)
def draws_of(yard_id: str, evening: date) -> Draws:
    """Draw the members of one yard's night; the same for whoever asks again.

    Notes
    -----
    The lows are evenly spread ranks, so that a chance of the air itself is exact to half a member;
    the other unknowns run through the additive sequence with the smallest discrepancy known for
    their number (powers of the root of x⁶ = x + 1, Roberts 2018), shifted by yard and night.
    """
    root = 2.0
    for _ in range(40):  # fixed point of x = (1 + x)^(1 / (d + 1))
        root = (1.0 + root) ** (1.0 / (_DIMENSIONS + 1))
    steps = root ** -np.arange(1.0, _DIMENSIONS + 1)
    seed = blake2b(f"{yard_id} {evening.isoformat()}".encode(), digest_size=4 * _DIMENSIONS)
    shift = np.frombuffer(seed.digest(), dtype="<u4") / 2.0**32
    rest = (shift[:, None] + steps[:, None] * np.arange(MEMBERS)) % 1.0
    return Draws(LOW_RANKS, *rest)


def errors_of_lows(own_k: Floats, usual_k: float) -> Floats:
    """Error of the forecast low in each member, from past errors and from a prior.

    Parameters
    ----------
    own_k : ndarray, shape (n,)
        Forecast minus outcome on past nights of this space; any number of them, also none.
    usual_k : float
        Size of the error to expect where no night was tried [K].

    Returns
    -------
    ndarray, shape (MEMBERS,)
        To be taken off the forecast [K]; the first member's is the largest.
    """
    atoms = np.sort(np.concatenate([own_k, usual_k * _PRIOR_ERRORS]))
    ranks = (np.arange(atoms.size) + 0.5) / atoms.size
    shares = 1.0 - LOW_RANKS  # of nights that err by less
    errors: Floats = np.interp(shares, ranks, atoms)
    if own_k.size < _FEWEST_FOR_ENDS:
        return errors
    colder = _beyond_known(errors, shares, atoms)
    return -_beyond_known(-colder, 1.0 - shares, -atoms[::-1])


def _beyond_known(errors_k: Floats, shares: Floats, atoms: Floats) -> Floats:
    """The errors, those of the upper end beyond the largest that there was.

    The next night errs by more than all n before it once in n + 1: no night is told apart from
    them (the rule of succession). How far beyond falls off exponentially, by the mean excess of the
    largest fifth (Pickands 1975 for why excesses over a high threshold do; from memory).
    """
    left = (1.0 - shares) * (atoms.size + 1.0)
    threshold_k = float(np.quantile(atoms, 1.0 - _END))
    excess_k = atoms[atoms > threshold_k] - threshold_k
    scale_k = float(excess_k.mean()) if excess_k.size else 0.0
    further_k = atoms[-1] - scale_k * np.log(np.minimum(left, 1.0))
    found: Floats = np.where(left < 1.0, np.maximum(errors_k, further_k), errors_k)
    return found


def band_of(values: Floats) -> tuple[float, float]:
    """Range of the middle four fifths of the members' values."""
    cold_c, warm_c = _bands(np.sort(values))
    return float(cold_c), float(warm_c)


def bands_of(rising: Floats) -> Floats:
    """The same of many: shape (..., members), each row rising, gives (..., 2)."""
    return np.stack(_bands(rising), axis=-1)


def _bands(rising: Floats) -> tuple[Floats, Floats]:
    """Values at both edges, each member standing for the middle of its rank."""
    last = rising.shape[-1] - 1
    at = COLD_EDGE * rising.shape[-1] - 0.5
    lower, part = int(at), at - int(at)
    cold: Floats = rising[..., lower] * (1.0 - part) + rising[..., lower + 1] * part
    warm: Floats = rising[..., last - lower] * (1.0 - part) + rising[..., last - lower - 1] * part
    return cold, warm


def chance_of(happens: NDArray[np.bool_]) -> float:
    """Share of members (last axis) to which it happens."""
    return float(np.mean(happens))


def room_at(rooms_k: Floats, chance: float) -> float:
    """Room that is left in all but a share of the courses, as long as that is an act's chance.

    Parameters
    ----------
    rooms_k : ndarray, shape (members,)
        Rising.
    chance : float
        The share: not above 0 exactly where as many courses, or more, have no room left.
    """
    return float(rooms_k[max(ceil(chance * rooms_k.size) - 1, 0)])


def early_hours(hours: Floats) -> Floats:
    """The hour before which it happens in one of ten courses in which it does.

    Parameters
    ----------
    hours : ndarray, shape (..., members)
        inf where it does not.

    Returns
    -------
    ndarray, shape (...)
        inf where it happens in fewer courses than are worth saying.
    """
    rising = np.sort(hours, axis=-1)
    comes = np.isfinite(rising).sum(axis=-1)
    at = np.maximum(COLD_EDGE * comes - 0.5, 0.0)
    lower = at.astype(np.intp)
    upper = np.minimum(lower + 1, np.maximum(comes - 1, 0))
    first, second = (
        np.take_along_axis(rising, each[..., None], -1)[..., 0] for each in (lower, upper)
    )
    with np.errstate(invalid="ignore"):
        early = first + (at - lower) * (second - first)
    found: Floats = np.where(comes >= WORTH_SAYING * hours.shape[-1], early, np.inf)
    return found


def first_below(hours: Floats, courses: Floats, limit: Floats | float) -> Floats:
    """When each course first comes to its limit; inf where it does not.

    Parameters
    ----------
    hours : ndarray, shape (n,)
    courses : ndarray, shape (..., n)
        Running straight between the hours; NaN never counts as below.
    limit : float or ndarray
        One, or one for each course.

    Returns
    -------
    ndarray, shape (...)
    """
    room = courses - np.asarray(limit)[..., None]
    below = room <= 0.0
    after = np.argmax(below, axis=-1)
    before = np.maximum(after - 1, 0)
    upper = np.take_along_axis(room, before[..., None], -1)[..., 0]
    lower = np.take_along_axis(room, after[..., None], -1)[..., 0]
    with np.errstate(invalid="ignore", divide="ignore"):
        part = np.where(after > 0, upper / (upper - lower), 0.0)
    crossed = hours[before] + part * (hours[after] - hours[before])
    found: Floats = np.where(below.any(axis=-1), crossed, np.inf)
    return found
