"""Runs the jobs at their hours, by the machine's clock, and keeps how they went.

The library counts on the wall clock: set back by three hours, it does nothing for three hours. So
nothing that warns anybody is a job, and a thread that goes by seconds nobody sets has all jobs
counted anew when the clock was set.
"""

import logging
import sys
import time
from collections.abc import Callable, Mapping, Sequence
from datetime import UTC, datetime, timedelta
from threading import Event, Thread
from typing import Any
from zoneinfo import ZoneInfo

from apscheduler.events import EVENT_JOB_ERROR, EVENT_JOB_EXECUTED, EVENT_JOB_SUBMITTED
from apscheduler.executors.base import BaseExecutor, run_job
from apscheduler.jobstores.base import JobLookupError
from apscheduler.schedulers.background import BackgroundScheduler
from apscheduler.triggers.cron import CronTrigger
from apscheduler.triggers.interval import IntervalTrigger

from monitor.errors import LaidupError
from monitor.housekeeping.ledger import DailyAt, Every, Job, Ledger
from monitor.phrases.own_condition import JOB_NAME
from monitor.yard.health import JobName, JobRun, JobState

log = logging.getLogger("laidup.housekeeping")

_START_REST = timedelta(minutes=1)  # what was missed waits until the watch has begun
_SET_S = 30.0  # a jump of the clock against the seconds that nobody sets
_LOOK_EVERY_S = 10.0


class Housekeeping:
    """The jobs of one yard: one run of each at a time, and no run that is late is left out."""

    def __init__(
        self,
        jobs: Sequence[Job],
        zone: ZoneInfo,
        known: Mapping[JobName, JobRun],
        keep_run: Callable[[JobRun], None],
        *,
        start_rest: timedelta = _START_REST,
        monotonic: Callable[[], float] = time.monotonic,
    ) -> None:
        """Remember the jobs; none runs yet.

        Parameters
        ----------
        jobs : sequence of Job
        zone : ZoneInfo
            In which the hours of jobs are told.
        known : mapping of JobName to JobRun
            The last run of each, by an earlier process: what was missed since is made up for.
        keep_run : callable
            Keeps a run that has ended for the next process; it may fail.
        start_rest : timedelta
            How long after the start a missed job begins.
        monotonic : callable
            Seconds of a clock that nobody sets.
        """
        self._jobs = {job.name: job for job in jobs}
        self._zone, self._keep_run, self._start_rest = zone, keep_run, start_rest
        self._monotonic = monotonic
        self._over_s = self._wall_over_monotonic_s()
        self._ledger = Ledger(jobs, known)
        self._stopping = Event()
        self._scheduler = BackgroundScheduler(
            timezone=zone,
            executors={"default": ThreadPerRun()},
            # No grace limit: by default a run that is a second late is dropped.
            job_defaults={"coalesce": True, "max_instances": 1, "misfire_grace_time": None},
        )
        self._scheduler.add_listener(self._note_next, EVENT_JOB_SUBMITTED)
        self._scheduler.add_listener(self._note_ended, EVENT_JOB_EXECUTED | EVENT_JOB_ERROR)
        self._clock_thread = Thread(target=self._mind_clock, name="clock", daemon=True)

    def start(self) -> None:
        """Let the jobs run at their hours."""
        now = datetime.now(UTC)
        for job in self._jobs.values():
            trigger = self._trigger_of(job.when)
            first = self._first_run(job, trigger, now)
            self._scheduler.add_job(
                lambda job=job: self._run(job), trigger, id=str(job.name), next_run_time=first
            )
            self._ledger.note_next(job.name, first)
        self._scheduler.start()
        self._clock_thread.start()

    def stop(self, timeout: float) -> None:
        """Begin no more jobs; wait for those that run for so long at most [s]."""
        self._stopping.set()
        if not self._scheduler.running:
            return
        self._scheduler.shutdown(wait=False)
        end_s = self._monotonic() + timeout
        while self._monotonic() < end_s and any(
            state.running_s is not None for state in self.job_states()
        ):
            time.sleep(0.05)

    def job_states(self) -> tuple[JobState, ...]:
        """How every job stands; nobody is waited for."""
        return self._ledger.job_states()

    def mind_clock_once(self) -> None:
        """Count all jobs anew if somebody has set the machine's clock since the last look."""
        over_s = self._wall_over_monotonic_s()
        jump_s, self._over_s = over_s - self._over_s, over_s
        if abs(jump_s) < _SET_S:
            return
        log.info("The machine's clock was set by %.0f s: the jobs' hours are counted anew.", jump_s)
        now = datetime.now(UTC)
        for job in self._scheduler.get_jobs():
            fresh = job.trigger.get_next_fire_time(now, now)
            self._hasten(JobName(job.id), fresh)

    def _mind_clock(self) -> None:
        while not self._stopping.wait(_LOOK_EVERY_S):
            try:
                self.mind_clock_once()
            except Exception:
                log.exception("The machine's clock is looked at again.")

    def _wall_over_monotonic_s(self) -> float:
        return time.time() - self._monotonic()

    def _trigger_of(self, when: DailyAt | Every) -> Any:  # noqa: ANN401 - the library has no types
        if isinstance(when, Every):
            return IntervalTrigger(seconds=when.span.total_seconds(), timezone=self._zone)
        # A number would count from Monday in one place of the library; a word cannot be mistaken.
        weekday = when.weekday[:3] or None
        return CronTrigger(
            day_of_week=weekday, hour=when.hour, minute=when.minute, timezone=self._zone
        )

    def _first_run(self, job: Job, trigger: Any, now: datetime) -> datetime:  # noqa: ANN401
        if isinstance(job.when, Every):
            return now
        due: datetime = trigger.get_next_fire_time(None, now)
        last = self._ledger.last_run(job.name)
        missed = now + self._start_rest
        if last is None or last.problem or last.began_at > now:  # or by a clock that ran ahead
            return min(due, missed)
        since: datetime = trigger.get_next_fire_time(None, last.began_at)
        return min(due, missed) if since <= now else due

    def _run(self, job: Job) -> timedelta | None:
        self._ledger.note_begun(job.name)
        return job.run()

    def _note_next(self, event: Any) -> None:  # noqa: ANN401
        job = self._scheduler.get_job(event.job_id)
        if job is not None:
            self._ledger.note_next(JobName(job.id), job.next_run_time)

    def _note_ended(self, event: Any) -> None:  # noqa: ANN401
        job = self._jobs[JobName(event.job_id)]
        run = self._ledger.note_ended(job.name, event.exception)
        if event.exception is not None:
            foreseen = isinstance(event.exception, LaidupError)
            log.error(
                "The %s failed: %s",
                JOB_NAME[job.name],
                run.problem if foreseen else event.traceback,
            )
        again = job.again_after if event.exception is not None else event.retval
        if again is not None:
            self._hasten(job.name, datetime.now(UTC) + again)
        try:
            self._keep_run(run)
        except Exception:  # it is known here all the same
            log.exception("How the job %s went could not be kept.", job.name)

    def _hasten(self, name: JobName, at: datetime) -> None:
        """Have a job run at a time, unless it is due sooner."""
        job = self._scheduler.get_job(str(name))
        if job is None or self._stopping.is_set():
            return
        try:
            if job.next_run_time is None or at < job.next_run_time:
                job.modify(next_run_time=at.astimezone(self._zone))
        except JobLookupError:
            return
        self._ledger.note_next(name, job.next_run_time)


class ThreadPerRun(BaseExecutor):  # type: ignore[misc]  # the library has no types
    """Runs each job in a new thread, which the process's end does not wait for."""

    def _do_submit_job(self, job: Any, run_times: list[datetime]) -> None:  # noqa: ANN401
        Thread(target=self._run, args=(job, run_times), name=job.id, daemon=True).start()

    def _run(self, job: Any, run_times: list[datetime]) -> None:  # noqa: ANN401
        try:
            events = run_job(job, job._jobstore_alias, run_times, self._logger.name)
        except BaseException:
            self._run_job_error(job.id, *sys.exc_info()[1:])
            raise
        else:
            self._run_job_success(job.id, events)
