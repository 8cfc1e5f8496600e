"""The order of writing of a yard's links, and whose a link was that is missing from it."""

from collections.abc import Iterator, Sequence
from itertools import islice
from typing import NamedTuple

_MOST_LOOKED_FOR = 50  # of more that are missing the yard as a whole tells


class LinkPlace(NamedTuple):
    """Where a link stands in the order of writing of the whole yard."""

    position: int
    craft: str
    hash: str
    number: int  # in its craft's own chain; -1 where the row holds none


def craft_that_may_have_lost(places: Sequence[LinkPlace], missing: int) -> list[str]:
    """Craft of which a link that is missing from the yard's order can have been.

    A craft's own numbers tell it where it has links on both sides. Where none of them has a gap
    there, the link was the last of its craft, so it is one whose chain ends before it.
    """
    before: dict[str, int] = {}
    after: dict[str, int] = {}
    for one in places:
        if one.position < missing:
            before[one.craft] = one.number
        else:
            after.setdefault(one.craft, one.number)
    gaps = [craft for craft, number in after.items() if number - before.get(craft, -1) > 1]
    return gaps or [craft for craft in before if craft not in after]


def _missing_positions(places: Sequence[LinkPlace]) -> Iterator[int]:
    expected = 0
    for one in places:
        yield from range(expected, one.position)
        expected = one.position + 1


def lost_at_ends(places: Sequence[LinkPlace]) -> dict[str, tuple[int, ...]]:
    """Positions of missing links that can only have been the last of one craft's chain, by craft.

    The chain of that craft holds without them, so that nothing but this order tells of them. One
    that is missing from within a chain is missed by that chain itself.
    """
    found: dict[str, list[int]] = {}
    for missing in islice(_missing_positions(places), _MOST_LOOKED_FOR):
        losers = craft_that_may_have_lost(places, missing)
        if len(losers) == 1 and all(
            one.craft != losers[0] or one.position < missing for one in places
        ):
            found.setdefault(losers[0], []).append(missing)
    return {craft: tuple(several) for craft, several in found.items()}
