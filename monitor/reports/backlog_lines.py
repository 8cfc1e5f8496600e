"""The backlog as its page and its command tell it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from monitor.phrases.backlog import (
    ALL_DONE,
    backlog_line,
    basis_words_of,
    hard_night_words,
    needed_words,
    pace_words,
)
from monitor.phrases.names import plain, plain_line
from monitor.reports.backlog import AutumnBacklog
from monitor.reports.standing_work import StandingWork, short_work
from monitor.wording import Wording
from monitor.yard.space import Yard

ALL_IN_HEAT = (
    "All of them stand in heat: no hard night reaches them while it works, and one power cut ends"
    " that."
)

_MOST_NAMED, _FIRST_NAMED = 12, 3  # craft that one product is for


@dataclass(frozen=True, slots=True, kw_only=True)
class BacklogLines:
    """What a reader is told, in order."""

    first: str
    facts: tuple[str, ...]
    needed: tuple[str, ...]
    craft: tuple[tuple[str, str, str], ...]  # id, name, place and work of each that is left


def backlog_lines(
    backlog: AutumnBacklog,
    yard: Yard,
    words: Wording,
    shown: Sequence[StandingWork] | None = None,
) -> BacklogLines:
    """Write a backlog for one reader.

    Parameters
    ----------
    backlog : AutumnBacklog
    yard : Yard
    words : Wording
        Of the reader.
    shown : sequence of StandingWork, optional
        Those of the craft left that get a line each. None: all.
    """
    work = backlog.work
    if not work.count:
        return BacklogLines(first=ALL_DONE, facts=(pace_words(work.pace),), needed=(), craft=())
    likely = work.finish.likely if work.finish else None
    heat = "" if backlog.stands_in_cold else ALL_IN_HEAT
    facts = (
        pace_words(work.pace),
        hard_night_words(backlog.hard, likely, words) or heat,
        basis_words_of(backlog.hard),
    )
    names = {one.craft.id: plain(one.craft.name) for one in work.undone}
    supplies = [
        replace(one, craft=_first_names([names.get(craft, craft) for craft in one.craft]))
        for one in backlog.supplies
    ]
    needed = needed_words(
        backlog.load, supplies, backlog.safe_until, backlog.hands_needed, words,
        in_cold=backlog.stands_in_cold,
    )  # fmt: skip
    told = work.undone if shown is None else shown
    return BacklogLines(
        first=backlog_line(work.count, work.in_care, work.finish),
        facts=tuple(one for one in facts if one),
        needed=tuple(needed),
        craft=tuple(
            (
                one.craft.id,
                plain(one.craft.name),
                plain_line(short_work(one, yard, words), limit=400),
            )
            for one in told
        ),
    )


def _first_names(names: Sequence[str]) -> tuple[str, ...]:
    """All of a few; of many the first, and how many more there are."""
    if len(names) <= _MOST_NAMED:
        return tuple(names)
    return (*names[:_FIRST_NAMED], f"{len(names) - _FIRST_NAMED} more")
