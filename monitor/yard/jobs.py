"""The jobs of the house: what each is, how its last run went, and when the next one is due."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum


class JobName(StrEnum):
    """A job that has its hours; the words are keys in the store."""

    BACKUP = "backup"
    RECORD = "record"
    ROLLUPS = "rollups"
    RETENTION = "retention"
    FORECASTS = "forecasts"
    REPORT = "report"


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
