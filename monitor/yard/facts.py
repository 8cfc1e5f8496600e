"""What each judgement rests on, as facts of its hazard; words are made of them when read."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum
from math import nan
from typing import Literal

from monitor.craft.craft_condition import UnsettledKind
from monitor.craft.layup import Act
from monitor.yard.air_facts import AirFacts, UnreadFacts
from monitor.yard.battery_facts import NOTHING_BEFORE, BatteryFacts, BatteryMemory
from monitor.yard.damp_facts import DampFacts, WetDayFacts
from monitor.yard.frost_facts import NO_ICE, FrostFacts, PastIce, UnreadFrostFacts
from monitor.yard.reading import Channel
from monitor.yard.space import Mount


@dataclass(frozen=True, slots=True, kw_only=True)
class EarlierSentences:
    """Finished sentences, as seasons before this one stored them; read, and no longer written."""

    form: Literal["text"] = "text"
    basis: str
    act: str = ""
    past_ice: PastIce = NO_ICE
    battery: BatteryMemory = NOTHING_BEFORE
    figures: Mapping[str, float] = field(default_factory=dict)  # further numbers, unit in the key


@dataclass(frozen=True, slots=True, kw_only=True)
class SilenceFacts:
    """When a sensor was last heard, against the pace that it keeps."""

    form: Literal["silence"] = "silence"
    mount: Mount
    heard_at: datetime | None = None  # None: not within the days looked at
    quiet_s: float = nan
    interval_s: float = nan
    promised: bool = False  # the sensor itself says how long it takes at most
    channel: Channel | None = None  # it alone is no longer sent; None: nothing is


class Outage(StrEnum):
    """How a warm space went dark."""

    NONE = "none"
    MAINS_OFF = "mains off"
    YARD_SILENT = "yard silent"  # every sensor of the yard, since one moment
    SPACE_SILENT = "space silent"  # every sensor of the space, since one moment
    NEVER_HEARD = "never heard"


@dataclass(frozen=True, slots=True, kw_only=True)
class PowerFacts:
    """Whether mains and sensors of a warm space are there."""

    form: Literal["power"] = "power"
    outage: Outage
    since: datetime | None = None
    sensors: int = 0  # that fell silent together


class SensorFault(StrEnum):
    """What is wrong with a sensor. What rests on it is not judged, or (the last two) is told."""

    STUCK = "stuck"  # its temperature stays while the others of its air fall

    SATURATED = "saturated"  # at saturation for days, however the air warmed
    UNMOVED = "unmoved"  # within a few points for days, however the air moved
    REFUSED = "refused"  # its humidity, by the checks on the way in, for hours up to now
    AIR_REFUSED = "air refused"  # its temperature
    OFF_FORECAST = "off forecast"  # its dew point, from a public forecast's, for days
    EXCHANGED = "exchanged"  # with that of another space: both are judged by the worse
    IN_SUN = "in sun"  # warmer than its neighbours or a forecast day after day, and not at night
    DEW_APART = "dew apart"  # its dew point from its neighbours', for a day


@dataclass(frozen=True, slots=True, kw_only=True)
class DoubtFacts:
    """What makes a sensor doubtful, and for how long."""

    form: Literal["doubt"] = "doubt"
    fault: SensorFault
    hours: float
    air_range_k: float = nan  # by which the air moved meanwhile
    low_pct: float = nan
    high_pct: float = nan
    apart_k: float = nan  # at least so far from what it is held against
    source: str = ""  # of the forecast
    usual_k: float = nan  # by how much it was warmer than the others before it stuck
    other: str = ""  # the sensor that it may have been exchanged with, or that fell without it
    other_space: str = ""
    carried: bool = False  # both jumped to where the other was, so long ago


@dataclass(frozen=True, slots=True, kw_only=True)
class SensingFacts:
    """By how much the sensors of one space have differed all through an hour."""

    form: Literal["sensing"] = "sensing"
    apart_k: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SensorBatteryFacts:
    """What a sensor last said of its own battery."""

    form: Literal["sensor battery"] = "sensor battery"
    left_pct: float
    said_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class ForecastFacts:
    """How old the public forecast is."""

    form: Literal["forecast"] = "forecast"
    age_h: float | None  # None: none has come yet
    problem: str = ""  # the last answer, where it was none


@dataclass(frozen=True, slots=True, kw_only=True)
class PathFacts:
    """Messages that do not get through, and what the far side last answered."""

    form: Literal["path"] = "path"
    channel: str
    person: str  # whose address is refused; empty: the channel itself takes nothing
    messages: int
    since: datetime  # the oldest of them was written
    answer: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnClockFacts:
    """By how much this machine's clock is ahead of the one that its sensors agree on."""

    form: Literal["own clock"] = "own clock"
    ahead_s: float  # negative: behind
    since: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class DropFacts:
    """Messages that the broker threw away after it had acknowledged them."""

    form: Literal["drops"] = "drops"
    messages: int
    since: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class ForeignFacts:
    """Messages that claimed a sensor and came on a topic which is not that sensor's."""

    form: Literal["foreign"] = "foreign"
    messages: int
    since: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomFacts:
    """The room on the disk of the store."""

    form: Literal["room"] = "room"
    free_bytes: int
    full_at: datetime | None = None  # if it goes on as over the last days; None: not within a year
    given_up_bytes: int = 0  # of the reserve that is kept for a full disk
    kept_bytes: int = 0  # of it


@dataclass(frozen=True, slots=True, kw_only=True)
class DamageFacts:
    """What the database says of the store's file."""

    form: Literal["damage"] = "damage"
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RewrittenFacts:
    """Where the yard's lay-up record as a whole is not what was written."""

    form: Literal["rewritten"] = "rewritten"
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class NotTakenInFacts:
    """Why something that a craft file says of a craft was not taken into the record."""

    form: Literal["not taken in"] = "not taken in"
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordFacts:
    """What a person entered of a craft, and nobody has put right since."""

    form: Literal["record"] = "record"
    matter: UnsettledKind
    entered_at: datetime
    entered_by: str = ""
    act: Act | None = None  # None: a move
    circuits: tuple[str, ...] = ()  # that lost their protection by it
    unreadable: str = ""  # what of the record cannot be read


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargingFacts:
    """What a maintainer holds its battery at, against the most that is right."""

    form: Literal["charging"] = "charging"
    voltage_v: float
    highest_v: float
    battery_c: float
    highest_c: float
    fresh: bool  # heard within the last half hour

    @property
    def over(self) -> bool:
        """Whether it holds more volts than any right charge needs; False where none are known."""
        return self.voltage_v > self.highest_v

    @property
    def hot(self) -> bool:
        """Whether charging has to stop for the battery's warmth; False where it is not known."""
        return self.battery_c > self.highest_c


Facts = (
    EarlierSentences
    | AirFacts
    | FrostFacts
    | UnreadFrostFacts
    | UnreadFacts
    | SilenceFacts
    | PowerFacts
    | SensingFacts
    | DoubtFacts
    | SensorBatteryFacts
    | ForecastFacts
    | PathFacts
    | OwnClockFacts
    | DropFacts
    | ForeignFacts
    | RoomFacts
    | DamageFacts
    | RewrittenFacts
    | NotTakenInFacts
    | RecordFacts
    | ChargingFacts
    | BatteryFacts
    | DampFacts
    | WetDayFacts
)


def past_ice_of(facts: Facts) -> PastIce:
    """Ice that a circuit had been through when it was judged, whatever form the facts have."""
    if isinstance(facts, FrostFacts | UnreadFrostFacts | EarlierSentences):
        return facts.past_ice
    return NO_ICE


def battery_memory_of(facts: Facts) -> BatteryMemory:
    """What was remembered of a battery when it was judged, whatever form the facts have."""
    if isinstance(facts, BatteryFacts):
        return facts.memory
    return facts.battery if isinstance(facts, EarlierSentences) else NOTHING_BEFORE
