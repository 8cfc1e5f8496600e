"""The figures of a yard's quality of storage over one season: page, PDF, CSV and JSON are of them.

Hours count while a craft (or a battery off its craft) stands in a space. An hour that was not
heard is inside no limit; shares are of all hours, never of those that were heard.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields
from datetime import date, datetime

from monitor.reports.skill import Skill
from monitor.yard.space import WARM, Mount, Space, SpaceKind, Yard

FEW_DAYS = 14.0  # less of a season says little (as of forecasts: `monitor.reports.skill`)
FROST_C = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class StorageLimits:
    """What the air of a space has to keep to.

    Damp has one limit everywhere: relative humidity up to 80 % while the air is above 0 °C (time
    of wetness, ISO 9223).
    """

    low_c: float  # of its air
    has_damp_limit: bool = True  # batteries have none
    is_own: bool = False  # the yard's file names it for this space

    @classmethod
    def limits_of(cls, space: Space, yard: Yard) -> "StorageLimits":
        """The space's own, if the yard's file names one; else by what keeps the craft there.

        No frost where heat does; elsewhere the coldest that the yard lays up for.
        """
        usual = FROST_C if space.kind in WARM else yard.design_low_c
        own = space.storage_low_c
        return cls(
            low_c=usual if own is None else own,
            has_damp_limit=space.kind is not SpaceKind.BENCH,
            is_own=own is not None,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class StorageNight:
    """One night of a space, from noon to noon by the yard's clock, named by its evening."""

    evening: date
    of_h: float  # while something stood there
    heard_h: float  # of them, all that has a limit
    too_cold_h: float
    too_damp_h: float
    low_c: float | None  # None: nothing was read
    expected_c: float | None  # as it was said that evening; None: nothing was said
    craft: int  # most that stood there at once


@dataclass(frozen=True, slots=True, kw_only=True)
class SensorUptime:
    """How much of the time that craft stood around it a sensor was heard."""

    sensor: str
    mount: Mount
    of_h: float  # while it hung there, and craft stood there
    heard_h: float | None  # None: a maintainer, whose hours are not rolled up


@dataclass(frozen=True, slots=True, kw_only=True)
class AnswersInTime:
    """What became of each time that an alarm asked a person.

    Due is the hour that the alarm named for the act; where it named none, 15 minutes after it was
    raised with high priority (when the next person is called), else a day (ISA-18.2: then stale).
    """

    in_time: int = 0
    late: int = 0
    unanswered: int = 0  # past due, and nobody took it on
    over_before_due: int = 0  # by itself, before an answer was due: not counted against anybody
    open_before_due: int = 0
    waited_s: tuple[float, ...] = ()  # of every answer, in rising order

    @property
    def due(self) -> int:
        """How many were due: in time, late or unanswered."""
        return self.in_time + self.late + self.unanswered

    @property
    def share(self) -> float | None:
        """Share of those due that were answered in time; None where none was due."""
        return self.in_time / self.due if self.due else None


@dataclass(frozen=True, slots=True, kw_only=True)
class CraftSaved:
    """Craft (ids, in order) by what became of their alarms of frost.

    Saved is a craft that a person made safe after its alarm (drained, treated, carried elsewhere),
    where the air in which it stood then went on to bring a body with the long lag of that circuit
    to its ice point before the noon after; and in which no ice was computed in the whole season.
    """

    alarmed: tuple[str, ...] = ()
    made_safe: tuple[str, ...] = ()
    saved: tuple[str, ...] = ()
    not_known: tuple[str, ...] = ()  # made safe, and the air after it was not heard
    iced: tuple[str, ...] = ()  # ice was computed in them


@dataclass(frozen=True, slots=True, kw_only=True)
class StorageHours:
    """Hours while a craft stood there; of the whole yard the sum over its spaces."""

    craft: int = 0  # that stood there, or whose battery did
    craft_h: float = 0.0  # hours times craft
    span_h: float = 0.0  # hours of the clock in which any stood there
    of_h: float = 0.0
    air_heard_h: float = 0.0
    heard_h: float = 0.0  # all that has a limit: temperature and humidity by one sensor
    warm_enough_h: float = 0.0
    dry_enough_h: float = 0.0
    inside_h: float = 0.0  # heard, warm enough and dry enough
    too_cold_h: float = 0.0
    too_damp_h: float = 0.0

    @property
    def is_few(self) -> bool:
        """Whether too few days have passed for a share to say much."""
        return self.span_h < FEW_DAYS * 24.0

    def share_of(self, part_h: float) -> float | None:
        """Share of all its hours; None where nothing stood there."""
        return part_h / self.of_h if self.of_h else None


@dataclass(frozen=True, slots=True, kw_only=True)
class StorageQuality:
    """What a space, or the whole yard, is told by."""

    hours: StorageHours
    skill: Skill | None  # of what was said of its nights; None: fewer than 14
    sensors: tuple[SensorUptime, ...]
    answers: AnswersInTime
    saved: CraftSaved

    @property
    def uptime(self) -> float | None:
        """Share of its sensors' time that they were heard; None without any that is counted."""
        counted = [one for one in self.sensors if one.heard_h is not None]
        of_h = sum(one.of_h for one in counted)
        return sum(one.heard_h or 0.0 for one in counted) / of_h if of_h else None


@dataclass(frozen=True, slots=True, kw_only=True)
class SpaceStorage(StorageQuality):
    """One space over a season."""

    space: str
    name: str
    kind: SpaceKind
    limits: StorageLimits
    low_c: float | None  # while something stood there
    low_at: datetime | None  # beginning of its hour
    frost_kh: float  # degree-hours below 0 °C of all hours heard, craft there or not: how hard
    nights: int
    nights_unheard: int  # less than four fifths of them were heard
    worst: tuple[StorageNight, ...]  # nights with hours outside a limit, the worst first


@dataclass(frozen=True, slots=True, kw_only=True)
class StorageFigures:
    """A yard over one season."""

    season: int  # the year in whose July it began
    since: datetime
    until: datetime  # its end, or when this was made
    made_at: datetime
    program: str
    yard: str
    yard_name: str
    spaces: tuple[SpaceStorage, ...]  # in the order of the yard's file
    whole: StorageQuality


def sum_hours_of(several: Sequence[StorageHours], craft: int, span_h: float) -> StorageHours:
    """Hours of several spaces together; craft that stood in two of them count once."""
    summed = {
        one.name: round(sum(getattr(each, one.name) for each in several), 6)
        for one in fields(StorageHours)
        if one.name not in {"craft", "span_h"}
    }
    return StorageHours(craft=craft, span_h=span_h, **summed)


def sum_answers_of(several: Iterable[AnswersInTime]) -> AnswersInTime:
    """Answers of several spaces together."""
    some = list(several)
    return AnswersInTime(
        in_time=sum(one.in_time for one in some),
        late=sum(one.late for one in some),
        unanswered=sum(one.unanswered for one in some),
        over_before_due=sum(one.over_before_due for one in some),
        open_before_due=sum(one.open_before_due for one in some),
        waited_s=tuple(sorted(each for one in some for each in one.waited_s)),
    )
