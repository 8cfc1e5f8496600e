"""How far a crew gets in the hours ahead: hands by shift, and nobody alone outdoors at night."""

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

    def done_in_h(self, worker: int, since_h: float, minutes: float, space: str) -> float:
        """When one worker is done with a job, counted from now.

        Parameters
        ----------
        worker : int
            From 0; the first is there whenever anybody is.
        since_h : float
            Free from then on [h].
        minutes : float
            What the job takes [min].
        space : str
            Where it is.

        Returns
        -------
        float
            [h]
        """
        left_h = minutes / 60.0
        for one in self.stretches:
            hands = one.hands_outdoors if space in self.outdoors else one.hands
            if hands <= worker or one.until_h <= since_h:
                continue
            begins_h = max(one.since_h, since_h)
            if begins_h + left_h <= one.until_h:
                return begins_h + left_h
            left_h -= one.until_h - begins_h
        return inf


class CrewPlan:
    """Jobs given to a crew one after another, each to whoever is done with it first."""

    def __init__(self, crew: CrewHours) -> None:
        self._crew = crew
        self._free_h = [0.0] * crew.most
        # Who waits for daylight with a job outdoors goes on indoors meanwhile.
        self._outdoors_h = [0.0] * crew.most

    def add_job(self, minutes: float, space: str) -> float:
        """Give one more job to the crew, and tell when it is done [h]."""
        outdoors = space in self._crew.outdoors
        begins_h = [
            max(free, again) if outdoors else free
            for free, again in zip(self._free_h, self._outdoors_h, strict=True)
        ]
        done_h = [
            self._crew.done_in_h(n, since_h, minutes, space) for n, since_h in enumerate(begins_h)
        ]
        worker = done_h.index(min(done_h))
        waits = outdoors and done_h[worker] - begins_h[worker] > minutes / 60.0 + _SLIP_H
        (self._outdoors_h if waits else self._free_h)[worker] = done_h[worker]
        return done_h[worker]


def _hours(at: datetime, now: datetime) -> float:
    return (at.astimezone(UTC) - now).total_seconds() / 3600.0
