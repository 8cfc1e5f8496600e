"""How the watch itself stands: each fault of it with what, since when and the remedy."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum


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
    MESSAGES = "messages"  # they do not leave
    FORECAST = "forecast"
    RECORD = "record"  # the lay-up record is not what was written
    JOB = "job"  # a job of the night failed or did not run


@dataclass(frozen=True, slots=True, kw_only=True)
class HealthFault:
    """One fault of the watch as it stands."""

    kind: HealthFaultKind
    part: str = ""  # which part, channel or job, where there are several
    is_grave: bool  # while it lasts, nobody may be warned of what begins now
    what: str  # a sentence
    remedy: str  # sentences
    since: datetime

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

    @property
    def is_failing(self) -> bool:
        """Whether any fault is grave."""
        return any(fault.is_grave for fault in self.faults)

    @property
    def is_blind(self) -> bool:
        """Whether laidup itself cannot see or tell what begins now."""
        return any(fault.blinds for fault in self.faults)
