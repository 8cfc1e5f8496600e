"""Order of the whole yard's acts, and which of them its crew can still make in time."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from math import inf
from typing import NamedTuple

from monitor.judgement.craft_job import is_led, with_job
from monitor.judgement.crew_hours import CrewHours, CrewPlan
from monitor.phrases.standings import row_of
from monitor.yard.assessment import Assessment, Hazard, Standing, Urgency, WorkTurn
from monitor.yard.frost_facts import PlannedAct

_HEAT = frozenset({Standing.FALLING, Standing.CUT_OFF})
_QUICK_MINUTES = 10.0
Where = tuple[str, str]  # space and craft; no craft: the space itself

# Pressing: it would be late if all that has no hour, and goes before the dated, went before it.
_FIRST, _QUICK, _PRESSING, _AT_ONCE, _QUICK_THAT_WAITS, _DATED, _LATER = range(7)


class _Visit(NamedTuple):
    """All acts at one craft, or in one space."""

    kind: int
    latest_start_h: float
    minutes: float
    deadline_h: float


_NO_JOBS: Mapping[str, PlannedAct] = {}
_USUAL_CREW = CrewHours.steady_crew()


def order_acts(
    judged: Sequence[Assessment],
    now: datetime,
    jobs: Mapping[str, PlannedAct] = _NO_JOBS,
    crew: CrewHours = _USUAL_CREW,
) -> list[Assessment]:
    """Number the acts of a round, and say when the yard's crew would be done with each.

    Parameters
    ----------
    judged : sequence of Assessment
    now : datetime
    jobs : mapping of PlannedAct by craft, optional
        Where there is one, its act and its minutes stand for all that the craft's frost asks.
    crew : CrewHours, optional
        Two people at all hours, where nothing else is known.

    Returns
    -------
    list of Assessment
        The same, in the same order. Those that call for an act have their turn in the work.

    Notes
    -----
    Heat first, because it saves everything at once; then jobs of ten minutes, but for those
    that have no hour where something else would be late for them, and behind what is wanted at
    once; then by the latest time at which each can be begun; what has frozen already waits for
    morning.
    """
    acts: dict[Where, list[Assessment]] = {}
    for each in judged:
        if takes_time(each):
            acts.setdefault((each.subject.space, each.subject.craft), []).append(each)
    turns = turns_of_work(acts, now, jobs, crew)
    return [
        with_job(replace(each, turn=turns[each.subject.space, each.subject.craft]), jobs)
        if takes_time(each)
        else each
        for each in judged
    ]


def takes_time(judged: Assessment) -> bool:
    """Whether it calls for an act that takes somebody's time."""
    return judged.calls_for_act and row_of(judged).minutes is not None


def turns_of_work(
    acts: Mapping[Where, Sequence[Assessment]],
    now: datetime,
    jobs: Mapping[str, PlannedAct] = _NO_JOBS,
    crew: CrewHours = _USUAL_CREW,
) -> dict[Where, WorkTurn]:
    """The turns of `order_acts` for each craft and each space with acts."""
    # Equal craft have the very same acts: what is to be done there is summed up once.
    known: dict[tuple[int, ...], _Visit] = {}
    places: dict[_Visit, list[Where]] = {}
    for where, asked in acts.items():
        job = jobs.get(where[1])
        key = (id(job), *map(id, asked))
        visit = known.get(key)
        if visit is None:
            visit = known[key] = _visit_of(asked, now, job)
        places.setdefault(visit, []).append(where)
    turns: dict[Where, WorkTurn] = {}
    plan = CrewPlan(crew)
    for number, (visit, where) in enumerate(_visits_in_order(places), start=1):
        done_in_h = plan.add_job(visit.minutes, where[0])
        turns[where] = WorkTurn(
            order=number,
            minutes=visit.minutes,
            done_in_h=done_in_h,
            too_late=done_in_h > visit.deadline_h > 0.0,
        )
    return turns


def _visits_in_order(places: Mapping[_Visit, Sequence[Where]]) -> Iterator[tuple[_Visit, Where]]:
    """Visits in the order of work, each with its place; the latest start decides, then the place.

    Visits are sorted before their places: craft are many, and what is to be done there is often
    the same.
    """
    waits_h = (
        sum(
            each.minutes * len(where)
            for each, where in places.items()
            if each.kind in {_AT_ONCE, _QUICK_THAT_WAITS}
        )
        / 60.0
    )
    by_turn: dict[tuple[float, ...], list[tuple[Where, _Visit]]] = {}
    for each, where in places.items():
        # What would be late for jobs that can wait goes before them.
        pressing = each.kind == _DATED and each.latest_start_h <= waits_h
        visit = each._replace(kind=_PRESSING) if pressing else each
        by_turn.setdefault(visit[:3], []).extend((place, visit) for place in where)
    for turn in sorted(by_turn):
        yield from ((visit, place) for place, visit in sorted(by_turn[turn]))


def _visit_of(acts: Sequence[Assessment], now: datetime, job: PlannedAct | None) -> _Visit:
    planned = 0.0 if job is None else job.minutes
    minutes = planned + sum(
        row_of(each).minutes or 0.0 for each in acts if job is None or not is_led(each)
    )
    dated = [
        (each.deadline - now).total_seconds() / 3600.0
        for each in acts
        if each.deadline is not None and each.standing in {Standing.EXPOSED, Standing.FREEZING}
    ]
    deadline_h = min(dated, default=inf)
    kind = _kind_of_visit(acts, minutes, is_dated=bool(dated))
    return _Visit(kind, deadline_h - minutes / 60.0, minutes, deadline_h)


def _kind_of_visit(acts: Sequence[Assessment], minutes: float, *, is_dated: bool) -> int:
    if any(each.standing in _HEAT for each in acts):
        return _FIRST
    immediate = [each for each in acts if each.urgency is Urgency.IMMEDIATE]
    if minutes <= _QUICK_MINUTES and any(each.hazard is not Hazard.SILENCE for each in acts):
        return _QUICK if is_dated or immediate else _QUICK_THAT_WAITS
    if is_dated:
        return _DATED
    # Ice is there already, and rust can wait for an hour: neither goes before what can be saved.
    saves = any(each.hazard is not Hazard.DAMP and not row_of(each).too_late for each in immediate)
    return _AT_ONCE if saves else _LATER
