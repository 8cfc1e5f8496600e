"""How the watch itself stands: store, jobs, the way readings come in, and each fault of it."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from math import inf, isnan, nan

_COUNTS_FOR = timedelta(hours=24)
LITTLE_BYTES = 200_000_000  # a yard of twenty sensors writes some two million a day
NO_BYTES = 20_000_000
SOON_DAYS = 7.0  # a weekend and the days to buy a disk


class JobName(StrEnum):
    """A job that has its hours; the words are keys in the store."""

    BACKUP = "backup"
    RECORD = "record"
    DAYS = "days"
    ROLLUPS = "rollups"
    RETENTION = "retention"
    FORECASTS = "forecasts"
    REPORT = "report"
    CALIBRATIONS = "calibrations"
    SEASON_RECORDS = "season-records"
    ARCHIVE = "archive"


@dataclass(frozen=True, slots=True, kw_only=True)
class JobRun:
    """One run of a job that has ended."""

    job: JobName
    began_at: datetime
    took_s: float
    problem: str = ""  # why it failed; empty: it did not


@dataclass(frozen=True, slots=True, kw_only=True)
class JobState:
    """How a job stands at one moment."""

    job: JobName
    last: JobRun | None = None  # None: it has never run
    next_at: datetime | None = None  # None: nobody knows, as where no daemon runs
    running_s: float | None = None  # how long the run that is under way takes so far
    problem: str = ""  # what is wrong with it now: failed, hangs, or did not run; a clause
    is_of_last: bool = False  # that is, its last run failed, and nothing else is wrong


@dataclass(frozen=True, slots=True, kw_only=True)
class StoreCondition:
    """What was last measured of a store; what a database server keeps to itself is not known."""

    free_bytes: int | None = None  # None: not on a disk of this machine
    shrinks_bytes_a_day: float = nan  # by which the room got less over the last days; NaN: unknown
    reserve_bytes: int | None = None  # held now, for warnings on a full disk; None: none was made
    reserve_whole_bytes: int = 0
    damage: str = ""  # what the database says of its file; empty: nothing found
    rewritten: str = ""  # where the yard's lay-up record was cut or rewritten; empty: nowhere

    @property
    def days_left(self) -> float:
        """Days until the disk is full, if it goes on so; infinite where it does not shrink."""
        if self.free_bytes is None or isnan(self.shrinks_bytes_a_day):
            return inf
        if self.shrinks_bytes_a_day <= 0.0:
            return inf
        return self.free_bytes / self.shrinks_bytes_a_day

    @property
    def reserve_given_up(self) -> int:
        """Bytes of the reserve that were given up for want of room."""
        if self.reserve_bytes is None:
            return 0
        return max(self.reserve_whole_bytes - self.reserve_bytes, 0)

    @property
    def full(self) -> bool:
        """Whether there is next to no room, or what was kept for then is being used."""
        if self.free_bytes is None:
            return False
        return self.free_bytes < NO_BYTES or self.reserve_given_up > 0

    @property
    def little_room(self) -> bool:
        """Whether a person should make room within days; so also where the disk is full."""
        if self.free_bytes is None:
            return False
        return self.full or self.free_bytes < LITTLE_BYTES or self.days_left < SOON_DAYS


class IntakeFaultKind(StrEnum):
    """Which part of the way in."""

    OWN_CLOCK = "own clock"  # this machine's clock is not the one that its sensors agree on
    BROKER_DROPS = "broker drops"  # the broker threw messages away that it had acknowledged
    FOREIGN_TOPIC = "foreign topic"  # readings of a sensor came on a topic that is not its own


@dataclass(frozen=True, slots=True, kw_only=True)
class IntakeFault:
    """One fault as it stands: for as long as it is kept, it has not been mended."""

    kind: IntakeFaultKind
    amount: float  # seconds that the clock is ahead (negative: behind); messages
    since: datetime  # first seen
    last_at: datetime  # last seen to grow or to change

    def is_current(self, now: datetime) -> bool:
        """Whether it still counts: messages that are counted do for a day after the last one."""
        return self.kind is IntakeFaultKind.OWN_CLOCK or now - self.last_at < _COUNTS_FOR


class HealthFaultKind(StrEnum):
    """What a fault is of; the words are keys of ``/health``."""

    PROCESS = "process"  # a part of the daemon hangs, has died or only fails
    STORE = "store"  # locked, not writable, damaged, gone
    DISK = "disk"
    BROKER = "broker"  # away, or it refuses
    BROKER_DROPS = "broker_drops"
    BACKLOG = "backlog"  # what waited in the broker is not all taken in
    OWN_CLOCK = "own_clock"
    READINGS = "readings"
    JUDGEMENT = "judgement"
    SENSORS = "sensors"
    SENDERS = "senders"  # somebody sends as a sensor that is not his
    MESSAGES = "messages"  # they do not leave
    FORECAST = "forecast"
    RECORD = "record"  # the lay-up record is not what was written
    JOB = "job"  # a job of the house failed, hangs or did not run


@dataclass(frozen=True, slots=True, kw_only=True)
class HealthFault:
    """One fault of the watch as it stands."""

    kind: HealthFaultKind
    part: str = ""  # which part, channel or job, where there are several
    is_grave: bool  # while it lasts, nobody may be warned of what begins now
    what: str  # a sentence
    remedy: str  # sentences
    since: datetime
    # The watch has not run long enough for it to be otherwise: true, and no news yet. Page, lamp
    # and whoever asks are told all the same; the log is once the time is over.
    is_of_start: bool = False

    @property
    def key(self) -> tuple[HealthFaultKind, str, bool]:
        """By which it is the same fault at two moments; one that has become grave is another."""
        return (self.kind, self.part, self.is_grave)

    @property
    def blinds(self) -> bool:
        """Whether laidup itself is the one that cannot see or tell.

        That no reading comes is told by alarms of its own, so it is no reason to say, by a ping
        that stays away, that laidup needs help.
        """
        return self.is_grave and self.kind is not HealthFaultKind.READINGS


@dataclass(frozen=True, slots=True, kw_only=True)
class HealthAccount:
    """All faults of the watch at one moment, the gravest first."""

    at: datetime
    faults: tuple[HealthFault, ...] = ()
    newest_reading_at: datetime | None = None
    judged_at: datetime | None = None
    jobs: tuple[JobState, ...] = ()  # of the house; empty where none are done

    @property
    def is_failing(self) -> bool:
        """Whether any fault is grave."""
        return any(fault.is_grave for fault in self.faults)

    @property
    def is_blind(self) -> bool:
        """Whether laidup itself cannot see or tell what begins now."""
        return any(fault.blinds for fault in self.faults)
