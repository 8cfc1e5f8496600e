"""One craft's winter in figures: all that its season record says, before a word is made of it.

Everything is SI, and every time has a zone. None says "not known", and never "nothing happened".
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from typing import Any

from monitor.craft.breaks import Break
from monitor.craft.layup import LayupEntry
from monitor.craft.protection import Basis, LayupState
from monitor.yard.calibration import Calibration
from monitor.yard.message import DeliveryOutcome, MessageKind
from monitor.yard.space import Mount
from monitor.yard.standing import Hazard, Standing

COLD_LIMITS_C = (0.0, -4.0, -12.0)  # TRADE: small parts, plastic that breaks, slush in weak mixes
BIN_K = 2.0  # width of a column of the distribution of the air


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """One stretch in one berth: ``since <= at < until``."""

    space: str
    berth: str
    since: datetime
    until: datetime
    by: str  # who entered the move; empty: nobody is named


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """Hours in a row of which less than half was heard in the space where the craft stood."""

    space: str
    since: datetime
    until: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class AirStoodIn:
    """The air of one space over the hours in which a craft stood in it.

    Several sensors: of each hour the coldest one, and the one that saw most of it wet. Of hours
    that were not heard nothing counts as mild: ``heard_h`` is what the others are hours of.
    """

    space: str
    stood_h: float
    heard_h: float
    humidity_heard_h: float
    low_c: float | None
    low_at: datetime | None  # beginning of the hour of the low
    high_c: float | None
    high_at: datetime | None
    # Below 0 °C by the minute; below the others by the hour's mean.
    below_h: Mapping[float, float]
    frost_kh: float  # degree-hours below 0 °C [K·h]
    wet_h: float  # RH above 80 % with the air above 0 °C (ISO 9223)
    quantiles_c: Mapping[float, float]  # of the hours' means, by share
    hours_by_bin: Mapping[float, float]  # hours heard, by the lower edge of each bin of the mean


class NightVerdict(StrEnum):
    """How a craft came through one night, the worst first."""

    ICE = "ice computed"  # inside one of its circuits
    PASSED = "colder than it could stand"
    NOT_KNOWN = "not known"  # too little of it was heard, or nothing is on record
    NEAR = "near"
    HELD = "held"


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonNight:
    """One night, named by its evening: what was expected, what came, what the craft held."""

    evening: date
    space: str
    heard: float  # share of its hours
    low_c: float | None  # of the air
    low_at: datetime | None  # beginning of the hour
    expected_c: float | None  # said in the evening: the middle, and four fifths of the chance
    cold_c: float | None
    warm_c: float | None
    chance_below_zero: float | None
    circuit: str  # the one with the least to spare; empty: none can freeze, or none is known
    ice_point_c: float | None  # of it, by the record as it stands now; None: nothing can freeze
    burst_point_c: float | None  # of it: where damage is to be expected
    state: LayupState | None
    basis: Basis | None
    inside_low_c: float | None  # of that circuit, computed with the short end of its lag
    is_probed: bool  # the inside was read and not computed
    worst_standing: Standing | None  # as it was judged during the night
    verdict: NightVerdict

    def __hash__(self) -> int:
        return hash((self.evening, self.space, self.circuit, self.inside_low_c))

    @property
    def room_k(self) -> float | None:
        """How much colder the inside, else the air, might have been before ice began [K]."""
        least = self.low_c if self.inside_low_c is None else self.inside_low_c
        return None if least is None or self.ice_point_c is None else least - self.ice_point_c


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkVersion:
    """One version of a piece of work, as it was written down."""

    entry: LayupEntry
    link: int  # its place in the craft's chain
    written_at: datetime | None
    is_late: bool  # written down more than twelve hours after the work


class WorkStatus(StrEnum):
    """What became of a piece of work on record."""

    STANDS = "stands"
    CORRECTED = "corrected"  # the last version stands
    WITHDRAWN = "withdrawn"


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonWork:
    """One piece of work with every version of it, the first one first."""

    versions: tuple[WorkVersion, ...]
    status: WorkStatus

    @property
    def last(self) -> LayupEntry:
        """The version that counts; of withdrawn work the withdrawal."""
        return self.versions[-1].entry


@dataclass(frozen=True, slots=True, kw_only=True)
class StaffTold:
    """One message that told one of the yard's people of one alarm; no address is in it."""

    at: datetime  # it was written
    person: str  # a person's id
    role: str  # as whom: operator or mechanic
    channel: str
    kind: MessageKind
    fate: str  # "taken", "refused", "given up" or "waiting"
    taken_at: datetime | None  # the receiver's server, or the webhook, confirmed it
    tries: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonAlarm:
    """One alarm over the craft, or over the space while it stood there."""

    id: str
    cause: str
    space: str
    part: str  # empty: the craft or space as a whole
    is_of_space: bool
    raised_at: datetime
    answered_at: datetime | None  # first time that a person took it on
    answered_by: str  # a person's id; empty: nobody did
    over_at: datetime | None
    times_raised: int  # how often it asked
    told: tuple[StaffTold, ...] = ()  # the yard's people, in order of time
    # False: while it stood, an earlier release wrote letters and did not keep of which alarms.
    told_is_whole: bool = True

    @property
    def first_taken_at(self) -> datetime | None:
        """When a channel first confirmed a message of it to one of the yard's people."""
        return min((one.taken_at for one in self.told if one.taken_at is not None), default=None)

    @property
    def answered_after_s(self) -> float | None:
        """From that to the first answer; below zero where somebody took it on before."""
        taken, answered = self.first_taken_at, self.answered_at
        return None if taken is None or answered is None else (answered - taken).total_seconds()

    @property
    def waited_s(self) -> float | None:
        """From asking to the first answer."""
        answered = self.answered_at
        return None if answered is None else (answered - self.raised_at).total_seconds()


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonMessage:
    """One message to the owner. Whether a mail was read nobody can see from outside."""

    written_at: datetime
    channel: str
    kind: MessageKind
    subject: str  # empty: it told of other craft too
    outcome: DeliveryOutcome | None  # None: it waits
    taken_at: datetime | None
    tries: int


@dataclass(frozen=True, slots=True, kw_only=True)
class StandingTime:
    """How long one hazard stood at one standing, all parts of the craft together."""

    hazard: Hazard
    standing: Standing
    hours: float
    times: int  # stretches


@dataclass(frozen=True, slots=True, kw_only=True)
class SensorInDoubt:
    """A stretch in which a sensor was in doubt, silent, or apart from the others."""

    sensor: str  # its name; empty: of the space as a whole
    space: str
    standing: Standing
    since: datetime
    until: datetime | None  # None: to the end


@dataclass(frozen=True, slots=True, kw_only=True)
class SensorReliedOn:
    """One sensor whose readings the record rests on."""

    name: str
    space: str
    mount: Mount
    circuit: str
    place: str  # the yard's note of where it hangs
    height_m: float | None
    interval_s: float | None
    heard_h: float | None  # of the hours in which the craft stood in its air; None: no thermometer
    of_h: float
    calibrations: tuple[Calibration, ...]


class NotProved(StrEnum):
    """What a record leaves open, whatever it says; the words are in `monitor/phrases/`."""

    NOT_IN_WATER = "inside computed"
    SENSOR_PLACE = "sensor place"
    BETWEEN_SENSORS = "between sensors"
    WORK_AS_TOLD = "work as told"
    NOT_HEARD = "not heard"
    READ_OR_NOT = "read or not"
    STAFF_MESSAGES = "messages to staff"
    NO_DAMAGE_SHOWN = "no damage shown"
    SKY = "clear sky"
    BEFORE_THE_WATCH = "before the watch"


@dataclass(frozen=True, slots=True, kw_only=True)
class CraftKept:
    """The craft as its row says at the end of the season."""

    id: str
    name: str
    profile: str
    hull_number: str
    owner: str  # a person's id
    arrived_at: datetime
    left_at: datetime | None
    circuits: Mapping[str, str]  # what people call them, by id


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonFigures:
    """All that one season record says.

    Invariant: nothing in it is of another craft, and no hour without a reading counts as mild.
    """

    season: int  # year in whose July it began
    since: datetime
    until: datetime
    made_at: datetime
    program: str
    craft: CraftKept
    kept: tuple[Kept, ...]
    work: tuple[SeasonWork, ...]  # in the order of the work
    declined: tuple[SeasonWork, ...]
    changes_of_row: tuple[tuple[datetime, str, Mapping[str, Any], Mapping[str, Any]], ...]
    air: tuple[AirStoodIn, ...]
    nights: tuple[SeasonNight, ...]
    gaps: tuple[Gap, ...]
    alarms: tuple[SeasonAlarm, ...]
    messages: tuple[SeasonMessage, ...]
    link_opened_at: datetime | None  # the owner's page was last opened; None: not known
    damp: tuple[StandingTime, ...]
    battery: tuple[StandingTime, ...]
    rested: tuple[tuple[datetime, float, str], ...]  # battery at rest: when, volts, by whom
    sensors: tuple[SensorReliedOn, ...]
    doubts: tuple[SensorInDoubt, ...]
    not_proved: tuple[NotProved, ...]
    links: int  # of the craft's chain
    chain_hash: str  # of its last link; empty: it has none
    unreadable: str  # why nothing of the record counts; empty: it can be read
    breaks: tuple[Break, ...] = ()
    tells_page_opening: bool = True  # not to a third party

    @property
    def near_nights(self) -> tuple[SeasonNight, ...]:
        """Nights that came near, passed what it held, or are not known."""
        return tuple(one for one in self.nights if one.verdict is not NightVerdict.HELD)

    @property
    def stood_h(self) -> float:
        """Hours in the yard's care."""
        return sum(one.stood_h for one in self.air)

    @property
    def heard_h(self) -> float:
        """Hours of them that were heard."""
        return sum(one.heard_h for one in self.air)
