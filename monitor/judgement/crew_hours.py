"""How far a crew gets in the hours ahead: hands by shift, and nobody alone outdoors at night."""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from math import inf

from monitor.craft.plan.yard import CREW
from monitor.yard.space import OUTDOORS, Yard

_SLIP_H = 1e-6
_AHEAD = timedelta(hours=48)  # after that the crew counts as it is at its largest


@dataclass(frozen=True, slots=True)
class _Stretch:
    """Hours from now, open at the end, in which so many can work."""

    since_h: float
    until_h: float
    hands: int
    hands_outdoors: int


@dataclass(frozen=True, slots=True)
class CrewHours:
    """The hands of the hours ahead."""

    stretches: tuple[_Stretch, ...]  # without a gap, the last without an end
    outdoors: frozenset[str] = frozenset()  # ids of spaces under the sky

    @classmethod
    def of_yard(cls, yard: Yard, now: datetime) -> "CrewHours":
        """The hands that the yard's file gives from now on.

        At night one person alone counts for nothing outdoors: whoever slips on ice there is not
        found before the morning, and no craft is worth that (common practice, no source).
        """
        ahead = yard.duty.crew_ahead(now.astimezone(yard.zone), _AHEAD)
        stretches = [
            _Stretch(
                _hours(one.since, now),
                _hours(one.until, now),
                one.hands,
                0 if one.hands == 1 and one.is_night else one.hands,
            )
            for one in ahead
        ]
        most = max(one.hands for one in ahead)
        stretches.append(_Stretch(stretches[-1].until_h, inf, most, most))
        outdoors = frozenset(space.id for space in yard.spaces if space.kind in OUTDOORS)
        return cls(tuple(stretches), outdoors)

    @classmethod
    def steady_crew(cls, hands: int = CREW) -> "CrewHours":
        """The same number at all hours, in a yard of which nothing else is known."""
        return cls((_Stretch(0.0, inf, hands, hands),))

    @property
    def most(self) -> int:
        """The largest number that works at any hour."""
        return max(one.hands for one in self.stretches)

    def hours_of_worker(self, worker: int, *, outdoors: bool) -> "WorkerHours":
        """When one worker is there; from 0: the first is whenever anybody is."""
        there = [
            one
            for one in self.stretches
            if worker < (one.hands_outdoors if outdoors else one.hands)
        ]
        return WorkerHours([one.since_h for one in there], [one.until_h for one in there])


@dataclass(frozen=True, slots=True)
class WorkerHours:
    """Stretches in which one worker is there, in order of time [h from now]."""

    since_h: Sequence[float]
    until_h: Sequence[float]

    def done_in_h(self, free_h: float, minutes: float) -> float:
        """When a job is done that is begun once the worker is free [h]; inf: in no stretch.

        Parameters
        ----------
        free_h : float
            Free from then on [h].
        minutes : float
            What the job takes [min].
        """
        left_h = minutes / 60.0
        for n in range(bisect_right(self.until_h, free_h), len(self.until_h)):
            begins_h, until_h = max(self.since_h[n], free_h), self.until_h[n]
            if begins_h + left_h <= until_h:
                return begins_h + left_h
            left_h -= until_h - begins_h
        return inf


class CrewPlan:
    """Jobs given to a crew one after another, each to whoever is done with it first."""

    def __init__(self, crew: CrewHours) -> None:
        self._outdoors = crew.outdoors
        self._all_there_h = crew.stretches[-1].since_h
        self._hours = {
            outdoors: [crew.hours_of_worker(n, outdoors=outdoors) for n in range(crew.most)]
            for outdoors in (False, True)
        }
        self._free_h = [0.0] * crew.most
        # Who waits for daylight with a job outdoors goes on indoors meanwhile.
        self._outdoors_h = [0.0] * crew.most

    def add_job(self, minutes: float, space: str) -> float:
        """Give one more job to the crew, and tell when it is done [h]."""
        outdoors = space in self._outdoors
        begins_h = list(map(max, self._free_h, self._outdoors_h)) if outdoors else self._free_h
        soonest_h = min(begins_h)
        if soonest_h >= self._all_there_h:
            # From then on everybody works without an end: whoever is free first is done first.
            done_in_h = soonest_h + minutes / 60.0
            self._free_h[begins_h.index(soonest_h)] = done_in_h
            return done_in_h
        done_h = [
            hours.done_in_h(free_h, minutes)
            for hours, free_h in zip(self._hours[outdoors], begins_h, strict=True)
        ]
        earliest_h = min(done_h)
        worker = done_h.index(earliest_h)
        waits = outdoors and earliest_h - begins_h[worker] > minutes / 60.0 + _SLIP_H
        (self._outdoors_h if waits else self._free_h)[worker] = earliest_h
        return earliest_h


def _hours(at: datetime, now: datetime) -> float:
    return (at.astimezone(UTC) - now).total_seconds() / 3600.0
