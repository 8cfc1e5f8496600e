"""The order of writing of a yard's links, and whose a link was that is missing from it."""

from collections.abc import Collection, Iterator, Sequence
from itertools import islice
from typing import NamedTuple

_MOST_LOOKED_FOR = 500  # of more that are missing the heads that left tell


class LinkPlace(NamedTuple):
    """Where a link stands in the order of writing of the whole yard."""

    position: int
    craft: str
    hash: str
    number: int  # in its craft's own chain; -1 where the row holds none


class LostLink(NamedTuple):
    """A link that is missing from the yard's order of writing, and whose it can have been."""

    position: int
    before: int  # how many links stand before it now
    within: tuple[str, ...]  # craft whose own numbers miss a link there: their chains tell of it
    at_end: tuple[str, ...]  # craft of whose chain it can have been the last: nothing else tells

    @property
    def craft(self) -> tuple[str, ...]:
        """Every craft that it can have been of."""
        return tuple(dict.fromkeys((*self.within, *self.at_end)))


class _Gap(NamedTuple):
    """A craft's numbers miss links between two positions."""

    after: int
    until: int
    craft: str
    links: int


def lost_links(places: Sequence[LinkPlace], marked: Collection[int] = ()) -> list[LostLink]:
    """Links that are missing from the yard's order, the first five hundred of them.

    Parameters
    ----------
    places : sequence of LinkPlace
        Every link of the yard that is there, in the order of writing.
    marked : collection of int
        Positions of missing links of which a link behind them says that its craft may have lost
        them: that craft then stands behind them in the order and is not found any more.

    Returns
    -------
    list of LostLink
        Where the numbers of craft miss fewer links than the yard's order does, one was the last of
        its craft: it can be that of any craft whose chain ends before that place.
    """
    ends: dict[str, tuple[int, int]] = {}  # last position and number, by craft
    gaps: list[_Gap] = []
    for one in places:
        at, number = ends.get(one.craft, (-1, -1))
        if one.number - number > 1:
            gaps.append(_Gap(at, one.position, one.craft, one.number - number - 1))
        ends[one.craft] = (one.position, one.number)
    missing = places[-1].position + 1 - len(places) if places else 0
    of_no_number = missing - sum(gap.links for gap in gaps) - len(marked)
    found = []
    for position, before in islice(_missing_positions(places), _MOST_LOOKED_FOR):
        within = [gap.craft for gap in gaps if gap.after < position < gap.until]
        may_end = not within or of_no_number > 0 or position in marked
        at_end = [key for key, (last, _) in ends.items() if last < position] if may_end else []
        found.append(LostLink(position, before, tuple(within), tuple(at_end)))
    return found


def _missing_positions(places: Sequence[LinkPlace]) -> Iterator[tuple[int, int]]:
    """Each position that no link has, and how many links stand before it."""
    expected = 0
    for before, one in enumerate(places):
        yield from ((position, before) for position in range(expected, one.position))
        expected = one.position + 1
