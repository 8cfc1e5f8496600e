"""What a job is: what to do, when, and how long it may take."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta

from monitor.yard.jobs import JobName


@dataclass(frozen=True, slots=True, kw_only=True)
class DailyAt:
    """An hour of each day by the yard's clock, or of one day a week."""

    hour: int
    minute: int
    weekday: str = ""  # in English: "monday"; empty: each day


@dataclass(frozen=True, slots=True, kw_only=True)
class Every:
    """Again and again, from the start on."""

    span: timedelta


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """One job.

    Parameters
    ----------
    name : JobName
    when : DailyAt or Every
    run : callable
        Does it once, in a thread of its own. What it returns says when to look again at the latest;
        None: when its hour comes. What it raises is its failure.
    within : timedelta
        A run that takes longer hangs.
    again_after : timedelta
        After a run that failed, it is tried again so much later, or at its hour if that is sooner.
    """

    name: JobName
    when: DailyAt | Every
    run: Callable[[], timedelta | None]
    within: timedelta
    again_after: timedelta = timedelta(hours=1)
