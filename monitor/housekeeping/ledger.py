"""What a job is, and what is known of each: its last run, when it is due, what is wrong."""

import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from threading import Lock

from monitor.errors import LaidupError
from monitor.wording import span_in_words
from monitor.yard.health import JobName, JobRun, JobState

LATE_AFTER = timedelta(minutes=15)  # a start takes seconds


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


@dataclass(slots=True)
class _Entry:
    last: JobRun | None
    next_at: datetime | None = None
    began_at: datetime | None = None  # of the run that is under way
    began_s: float = 0.0


class Ledger:
    """Kept by the threads that run the jobs; anybody may read it, and waits for nobody."""

    def __init__(
        self,
        jobs: Sequence[Job],
        known: Mapping[JobName, JobRun],
        *,
        now: Callable[[], datetime] = lambda: datetime.now(UTC),
        monotonic: Callable[[], float] = time.monotonic,
    ) -> None:
        """Begin with what is known of earlier runs.

        Parameters
        ----------
        jobs : sequence of Job
        known : mapping of JobName to JobRun
            The last run of each, by an earlier process.
        now : callable
            The machine's clock, by which the hours of jobs come.
        monotonic : callable
            Seconds of a clock that nobody sets.
        """
        self._within = {job.name: job.within for job in jobs}
        self._now, self._monotonic = now, monotonic
        self._lock = Lock()
        self._entries = {job.name: _Entry(known.get(job.name)) for job in jobs}

    def last_run(self, job: JobName) -> JobRun | None:
        """The last run that has ended, of whatever process."""
        with self._lock:
            return self._entries[job].last

    def note_next(self, job: JobName, at: datetime | None) -> None:
        """Note when a job is due next."""
        with self._lock:
            self._entries[job].next_at = at

    def note_begun(self, job: JobName) -> None:
        """Note that a run begins now."""
        with self._lock:
            entry = self._entries[job]
            entry.began_at, entry.began_s = self._now(), self._monotonic()

    def note_ended(self, job: JobName, error: BaseException | None) -> JobRun:
        """Note that the run ends now, and why if it failed; gives it."""
        with self._lock:
            entry = self._entries[job]
            run = JobRun(
                job=job,
                began_at=entry.began_at or self._now(),
                took_s=self._monotonic() - entry.began_s,
                problem="" if error is None else _words_of(error),
            )
            entry.last, entry.began_at = run, None
            return run

    def job_states(self) -> tuple[JobState, ...]:
        """How every job stands now."""
        now, now_s = self._now(), self._monotonic()
        with self._lock:
            return tuple(
                JobState(
                    job=job,
                    last=entry.last,
                    next_at=entry.next_at,
                    running_s=None if entry.began_at is None else now_s - entry.began_s,
                    problem=hindrance or (f"failed: {failed}" if failed else ""),
                    is_of_last=bool(failed and not hindrance),
                )
                for job, entry in self._entries.items()
                for hindrance in [self._hindrance_of(job, entry, now, now_s)]
                for failed in ["" if entry.last is None else entry.last.problem]
            )

    def _hindrance_of(self, job: JobName, entry: _Entry, now: datetime, now_s: float) -> str:
        """Why it does not run as it should now; empty: nothing hinders it."""
        if entry.began_at is not None:
            running_s = now_s - entry.began_s
            if running_s > self._within[job].total_seconds():
                return f"has run for {span_in_words(running_s)} and does not end"
        elif entry.next_at is not None and now - entry.next_at > LATE_AFTER:
            late_s = (now - entry.next_at).total_seconds()
            return f"should have begun {span_in_words(late_s)} ago, and nothing began it"
        return ""


def _words_of(error: BaseException) -> str:
    said = " ".join(str(error).split()).rstrip(".")
    return said if isinstance(error, LaidupError) and said else f"{type(error).__name__}: {said}"
