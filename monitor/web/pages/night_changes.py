"""What changed in a night, craft by craft and space by space: what each came to, and its worst."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from operator import attrgetter

from monitor.phrases.standings import row_of, worst_first
from monitor.yard.assessment import Assessment


@dataclass(frozen=True, slots=True, kw_only=True)
class NightChanges:
    """All changes of one craft, or of one space's own air, in time order; never empty."""

    changes: tuple[Assessment, ...]

    @property
    def first(self) -> Assessment:
        """The first change, which also tells of what they all are."""
        return self.changes[0]

    @property
    def worst(self) -> Assessment:
        """The worst that any part of it came to in the night, at its first hour."""
        return min(self.changes, key=worst_first)

    @property
    def came_to(self) -> Assessment:
        """How it stood at the end: the worst of the last word on each part that changed."""
        last = {(each.hazard, each.subject): each for each in self.changes}
        return min(last.values(), key=worst_first)

    @property
    def was_worse(self) -> bool:
        """Whether it stood worse in the night than at its end."""
        return row_of(self.worst).place < row_of(self.came_to).place


def group_changes(changes: Iterable[Assessment]) -> tuple[NightChanges, ...]:
    """Gather a night's changes by craft, or by space where they are of none; the worst first.

    Parameters
    ----------
    changes : iterable of Assessment
        Each from when its standing changed.

    Notes
    -----
    A circuit at its limit may change a dozen times in one night. A reader asks what became of the
    craft; each change can still be unfolded.
    """
    by_place: dict[tuple[str, str], list[Assessment]] = {}
    for each in sorted(changes, key=attrgetter("at")):
        craft = each.subject.craft
        by_place.setdefault((craft, "" if craft else each.subject.space), []).append(each)
    found = [NightChanges(changes=tuple(those)) for those in by_place.values()]
    return _worst_place_first(found)


def _worst_place_first(those: Sequence[NightChanges]) -> tuple[NightChanges, ...]:
    return tuple(sorted(those, key=lambda one: worst_first(one.worst)))
