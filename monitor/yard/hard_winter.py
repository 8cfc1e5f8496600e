"""A winter that has not come yet: its weather, how each space follows it, what becomes of craft."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta, timezone
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from monitor.craft.plan.step import JobStep
from monitor.craft.stored import StoredCraft
from monitor.yard.space import Space, Yard

Floats = NDArray[np.float64]

# Hours that the weather does not have count as so much colder than the coldest that it has: a
# front can take a night so much further than any before it (as in the night's own ensemble).
UNREAD_COLDER_K = 10.0
_NORTHERN_MONTHS = (10, 4)  # a winter begins with the first of the one, and ends with the other
_SOUTHERN_MONTHS = (4, 10)
_TOO_SHORT = timedelta(days=14)  # what is left of a winter: the next one is meant


@dataclass(frozen=True, slots=True, kw_only=True)
class WinterWeather:
    """Outdoor air of one winter, laid over the coming one.

    Arrays lie on an even grid from ``begin`` on; NaN where the source says nothing. ``remarks``
    are what had to be done to its days, such as of a 29 February.
    """

    source: str  # its file, or which of the yard's own winters; in words
    begin: datetime
    step_h: float
    air_c: Floats  # (n,)
    dew_point_c: Floats  # (n,) NaN where the source has no humidity
    colder_by_k: float = 0.0  # taken off all of it, on demand
    remarks: tuple[str, ...] = ()

    @property
    def hours(self) -> Floats:
        """Hours after ``begin``, the first is 0."""
        after_h: Floats = np.arange(self.air_c.size, dtype=np.float64) * self.step_h
        return after_h

    @property
    def end(self) -> datetime:
        """The last hour."""
        return self.begin + timedelta(hours=float(self.hours[-1]))

    @property
    def unread_h(self) -> float:
        """Hours of which the source says nothing."""
        return float(np.isnan(self.air_c).sum()) * self.step_h

    def time_of(self, after_h: float) -> datetime:
        """The time so many hours after its begin."""
        return self.begin + timedelta(hours=after_h)

    def colder_by(self, by_k: float) -> "WinterWeather":
        """The same winter, so much colder throughout [K]."""
        return WinterWeather(
            source=self.source,
            begin=self.begin,
            step_h=self.step_h,
            air_c=self.air_c - by_k,
            dew_point_c=self.dew_point_c - by_k,
            colder_by_k=self.colder_by_k + by_k,
            remarks=self.remarks,
        )


class Following(StrEnum):
    """By what a space's air is taken to follow the weather."""

    WEATHER = "weather"  # it is the weather's own
    WEATHER_COLDER = "weather, colder"  # its past nights lay below the outdoor air
    HEAT_LEARNT = "heat, learnt"  # held at what its heat has kept in past weeks
    HEAT_SET = "heat, as set"  # held a little below its thermostat's setting
    LAG_LEARNT = "lag, learnt"  # its readings show how it follows
    LAG_CONFIGURED = "lag, configured"
    LAG_USUAL = "lag, usual"  # the quick end of what such buildings do


@dataclass(frozen=True, slots=True, kw_only=True)
class SpaceWinter:
    """One space in that winter, and on what that rests."""

    space: Space
    follows: Following
    low_c: float  # coldest that its air comes to [°C]
    low_at: datetime
    lag_h: float | None = None  # behind the outdoor air
    floor_share: float = 0.0  # of its floor in what drives its air
    offset_k: float = 0.0  # below the outdoor air, of WEATHER_COLDER
    level_c: float | None = None  # what its heat holds while it is freezing outdoors [°C]
    heat_unknown: bool = False  # a heated space of which nobody knows what its heat holds
    heat_off_from: datetime | None = None  # taken to fail then
    heat_is_lost: bool = False  # it is lost now, and taken to stay so


class WinterOutcome(StrEnum):
    """What becomes of a circuit, or of a craft by its worst one; the worst first."""

    SUSPECT = "suspect"  # it has been through ice already, and nobody has looked since
    LOST = "lost"  # damage is likelier than not
    AT_RISK = "at risk"  # less likely, but often enough to be worth the work
    NOT_KNOWN = "not known"  # hours without weather may damage it
    BY_HEAT = "by heat"  # it stands only while the heat stays on
    HOLDS = "holds"


IN_DANGER = (
    WinterOutcome.SUSPECT,
    WinterOutcome.LOST,
    WinterOutcome.AT_RISK,
    WinterOutcome.NOT_KNOWN,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class CircuitWinter:
    """What becomes of one circuit. Evenings name nights; None where none damages it."""

    circuit: str
    name: str
    outcome: WinterOutcome
    chance: float = 0.0  # of losing it in this winter
    chance_unread: float = 0.0  # the same if hours without weather are as cold as is counted on
    act_from_chance: float = 1.0  # chance from which on the work against it pays
    ice_point_c: float = 0.0  # on record; -inf: drained and seen dry
    low_c: float = float("nan")  # the middle low inside it
    cold_low_c: float = float("nan")  # one course in ten goes lower inside it
    # What its job has to hold: that, or of one that is not known the same with the gaps cold.
    job_low_c: float = float("nan")
    room_k: float = float("inf")  # over its first crystals, at the chance from which on work pays
    due_at: datetime | None = None  # its first ice that counts, the early hour: to be done before
    likely_at: datetime | None = None  # when damage has become likelier than not
    lost_share: Floats = field(default_factory=lambda: np.zeros(0), compare=False, repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class CraftWinter:
    """What becomes of one craft, and the job that saves it."""

    craft: StoredCraft
    outcome: WinterOutcome
    chance: float  # of losing any of its circuits
    due_at: datetime | None
    likely_at: datetime | None
    circuits: tuple[CircuitWinter, ...]  # in the profile's order
    steps: tuple[JobStep, ...] = ()  # against the frost, in working order

    @property
    def minutes(self) -> float:
        """One person's time for them."""
        return sum(step.minutes for step in self.steps)

    @property
    def in_danger(self) -> tuple[CircuitWinter, ...]:
        """Those of its circuits that the winter may damage."""
        return tuple(one for one in self.circuits if one.outcome in IN_DANGER)


@dataclass(frozen=True, slots=True, kw_only=True)
class HardWinter:
    """The answer: one yard, its record as it stands, and one winter."""

    yard: Yard
    made_at: datetime
    weather: WinterWeather
    spaces: tuple[SpaceWinter, ...]
    learnt_at: datetime | None  # newest reading that the spaces' behaviour rests on
    craft: tuple[CraftWinter, ...]  # those in danger first, in the order of doing
    members: int  # equally likely courses

    def count_outcomes(self) -> Mapping[WinterOutcome, int]:
        """How many craft come to what."""
        return {each: sum(one.outcome is each for one in self.craft) for each in WinterOutcome}


def winter_ahead(
    now: datetime, yard: Yard, since: datetime | None = None
) -> tuple[datetime, datetime]:
    """The winter that is to be stood: from now, or its first day, to its last noon.

    In its last two weeks the next one is meant.

    Parameters
    ----------
    now : datetime
        Aware.
    yard : Yard
    since : datetime, optional
        Begin then instead.

    Returns
    -------
    (datetime, datetime)
        Whole hours by the yard's standard time.
    """
    zone = standard_zone(yard)
    first, last = _NORTHERN_MONTHS if yard.latitude >= 0.0 else _SOUTHERN_MONTHS
    begin = (now if since is None else since).astimezone(zone)
    # Of a morning the coming night is meant, and not the rest of the last one.
    begin = begin.replace(hour=max(begin.hour, 12), minute=0, second=0, microsecond=0)
    ends = _end_of(begin.year, last, zone)
    if begin >= ends - (_TOO_SHORT if since is None else timedelta()):
        ends = _end_of(begin.year + 1, last, zone)
    starts = datetime(ends.year - (first > last), first, 1, 12, tzinfo=zone)
    return (begin if since is not None else max(begin, starts)), ends


def _end_of(year: int, month: int, zone: timezone) -> datetime:
    after = date(year + month // 12, month % 12 + 1, 1)
    return datetime.combine(after, time(12), zone) - timedelta(days=1)


def standard_zone(yard: Yard) -> timezone:
    """The yard's standard time, which weather files keep all year."""
    january = datetime(2026, 1, 15, tzinfo=yard.zone)
    july = datetime(2026, 7, 15, tzinfo=yard.zone)
    offsets = [one.utcoffset() or timedelta() for one in (january, july)]
    return timezone(min(offsets))


def night_of_time(at: datetime, yard: Yard) -> date:
    """The evening that a time's night is named by: it runs from noon to noon."""
    return (at.astimezone(yard.zone) - timedelta(hours=12)).date()
