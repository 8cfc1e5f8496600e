"""Which act comes first: the whole yard's work in order, and what of it a crew can still do."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from math import inf

from monitor.yard.assessment import Assessment, Hazard, Standing, WorkTurn

CREW = 2  # common practice, no source: two people do four to six craft of an evening
# Minutes of one person's work on one part (common practice, no source).
_MINUTES = {
    Standing.FALLING: 15.0,
    Standing.CUT_OFF: 15.0,
    Standing.OVERCHARGED: 5.0,  # off at the mains
    Standing.HOT: 5.0,
    Standing.EXPOSED: 30.0,  # drain and look, or pour and read
    Standing.FREEZING: 10.0,
    Standing.LOST: 10.0,
    Standing.LOW: 10.0,
    Standing.SILENT: 10.0,
    Standing.SWEATING: 5.0,
    Standing.FROSTING: 5.0,
    Standing.DEW_AHEAD: 5.0,
    Standing.NOT_KNOWN: 10.0,
    Standing.ICING: 15.0,  # a tag on the helm and some gentle warmth
    Standing.SOLID: 15.0,
    Standing.SUSPECT: 45.0,
}
_HEAT = frozenset({Standing.FALLING, Standing.CUT_OFF})
_QUICK_MINUTES = 10.0
Where = tuple[str, str]  # space and craft; no craft: the space itself

_FIRST, _QUICK, _DATED, _LATER = range(4)


@dataclass(frozen=True, slots=True)
class _Job:
    """All acts at one craft, or in one space."""

    kind: int
    latest_start_h: float
    deadline_h: float
    minutes: float
    where: Where


def in_order(judged: Sequence[Assessment], now: datetime) -> list[Assessment]:
    """Number the acts of a round, and say when a crew of two would be done with each.

    Parameters
    ----------
    judged : sequence of Assessment
    now : datetime

    Returns
    -------
    list of Assessment
        The same, in the same order. Those that call for an act have their turn in the work.

    Notes
    -----
    Heat first, because it saves everything at once; then jobs of ten minutes; then by the
    latest time at which each can be begun; what has frozen already waits for morning.
    """
    acts: dict[Where, list[Assessment]] = {}
    for each in judged:
        if takes_time(each):
            acts.setdefault((each.subject.space, each.subject.craft), []).append(each)
    turns = work_turns(acts, now)
    return [
        replace(each, turn=turns[each.subject.space, each.subject.craft])
        if takes_time(each)
        else each
        for each in judged
    ]


def takes_time(judged: Assessment) -> bool:
    """Whether it calls for an act that takes somebody's time."""
    return judged.calls_for_act and judged.standing in _MINUTES


def work_turns(acts: Mapping[Where, Sequence[Assessment]], now: datetime) -> dict[Where, WorkTurn]:
    """The turns of `in_order` for each craft and each space with acts."""
    jobs = sorted(
        (_job(where, each, now) for where, each in acts.items()),
        key=lambda job: (job.kind, job.latest_start_h, job.minutes, job.where),
    )
    turns: dict[Where, WorkTurn] = {}
    free = [0.0] * CREW
    for number, job in enumerate(jobs, start=1):
        worker = free.index(min(free))
        free[worker] += job.minutes / 60.0
        turns[job.where] = WorkTurn(
            order=number,
            minutes=job.minutes,
            done_in_h=free[worker],
            too_late=free[worker] > job.deadline_h > 0.0,
        )
    return turns


def _job(where: Where, acts: Sequence[Assessment], now: datetime) -> _Job:
    minutes = sum(_MINUTES[each.standing] for each in acts)
    dated = [
        (each.deadline - now).total_seconds() / 3600.0
        for each in acts
        if each.deadline is not None and each.standing in {Standing.EXPOSED, Standing.FREEZING}
    ]
    deadline_h = min(dated, default=inf)
    if any(each.standing in _HEAT for each in acts):
        kind = _FIRST
    elif minutes <= _QUICK_MINUTES and any(each.hazard is not Hazard.SILENCE for each in acts):
        kind = _QUICK
    else:
        kind = _DATED if dated else _LATER
    return _Job(kind, deadline_h - minutes / 60.0, deadline_h, minutes, where)
