"""Which is the worst: of what a circuit may hold, and of the circuits of a craft."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from monitor.craft.protection import Confidence, LayupState, Protection
from monitor.craft.reasons import Because, Reason, worded
from monitor.wording import Wording

# The worst first. Of those that are judged as water, undone work wants an act before what was said.
_STATES = (
    LayupState.VOID,
    LayupState.UNPROVEN,
    LayupState.UNKNOWN,
    LayupState.HEAT_ONLY,
    LayupState.PROVEN,
)
_CONFIDENCES = (Confidence.NONE, Confidence.LOW, Confidence.MEDIUM, Confidence.HIGH)


def worst_of_each(
    possible: Sequence[Mapping[str, Protection]], words: Wording
) -> dict[str, Protection]:
    """What each circuit holds at the worst, and why it is less than another order would give.

    Parameters
    ----------
    possible : sequence of mapping of str to Protection
        By circuit, of each order; at least one.
    words : Wording
        Of the sentence that says so.
    """
    return {name: _worst([held[name] for held in possible], words) for name in possible[0]}


def weakest_protection(held: Mapping[str, Protection]) -> Protection:
    """The circuit of a craft that ice may have harmed already, or else harms first."""
    return min(held.values(), key=lambda one: (one.suspect_since is None, *_rank(one)))


def _worst(several: Sequence[Protection], words: Wording) -> Protection:
    worst = min(several, key=_rank)
    if all(one == worst for one in several):
        return worst
    found = replace(
        worst,
        burst_point_c=max(one.burst_point_c for one in several if _rank(one)[0] == _rank(worst)[0]),
        confidence=min((one.confidence for one in several), key=_CONFIDENCES.index),
        blocked=any(one.blocked for one in several),
        poison=next((one.poison for one in several if one.poison is not None), None),
        went_in=frozenset().union(*(one.went_in for one in several)),
        held_less=all(one.held_less for one in several),
    )
    if found.state is not LayupState.PROVEN:
        ice = [one.suspect_since for one in several if one.suspect_since is not None]
        found = replace(found, suspect_since=min(ice, default=None))
    if _rank(worst) == max(map(_rank, several)):
        return found
    why = Reason(because=Because.ORDER_NOT_TOLD)
    return replace(found, reasons=(*found.reasons, why), why=f"{found.why}; {worded(why, words)}")


def _rank(one: Protection) -> tuple[int, float, float, int]:
    return (
        _STATES.index(one.state),
        -one.ice_point_c,
        -one.burst_point_c,
        _CONFIDENCES.index(one.confidence),
    )
