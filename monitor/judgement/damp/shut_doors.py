"""Until when a space's doors stay shut for the metal in it: one hour for every judgement there."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from monitor.yard.assessment import Assessment, Standing
from monitor.yard.damp_facts import DampFacts
from monitor.yard.space import OUTDOORS, Space

_WET = frozenset({Standing.SWEATING, Standing.FROSTING})


@dataclass(frozen=True, slots=True)
class WetMetal:
    """Metal of one space that asks for shut doors; ``until`` None: nobody knows the hour."""

    until: datetime | None


def share_shut_hour(damp: Sequence[Assessment], space: Space) -> list[Assessment]:
    """Give all wet metal of a space the hour at which the last of it has passed the dew point.

    Parameters
    ----------
    damp : sequence of Assessment
        Of all surfaces in the space.
    space : Space
        Under the sky or an open roof there are no doors, and nothing is changed.

    Notes
    -----
    Doors serve every craft behind them: two hours for one door would contradict each other.
    """
    if space.kind in OUTDOORS:
        return list(damp)
    until = _latest(facts.clear_at for each, facts in _with_facts(damp) if each.standing in _WET)
    return [
        replace(each, facts=replace(each.facts, shut_until=until))
        if each.standing in _WET and isinstance(each.facts, DampFacts)
        else each
        for each in damp
    ]


def wet_metal_of(damp: Iterable[Assessment], space: Space) -> WetMetal | None:
    """What of a space's metal asks for shut doors; None where none of it does."""
    if space.kind in OUTDOORS:
        return None
    hours = [
        facts.shut_until if facts.ahead is None else facts.ahead.shut_until
        for each, facts in _with_facts(damp)
        if each.standing in _WET or facts.ahead is not None
    ]
    return WetMetal(_latest(hours)) if hours else None


def _with_facts(damp: Iterable[Assessment]) -> Iterable[tuple[Assessment, DampFacts]]:
    return ((each, each.facts) for each in damp if isinstance(each.facts, DampFacts))


def _latest(hours: Iterable[datetime | None]) -> datetime | None:
    """The last hour; None where one of them is not known, or there is none."""
    known = list(hours)
    return None if None in known else max((at for at in known if at is not None), default=None)
