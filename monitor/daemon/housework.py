"""The jobs of the house that rest at fixed hours: what each does, when, and how long it may take.

Nothing that warns anybody is among them: judging, sending and signs of life go by seconds that
nobody sets.
"""

import contextlib
import logging
import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.alarms.acts.answers import GOOD_FOR
from monitor.clock import Clock
from monitor.daemon.yard_keeper import YardTaker
from monitor.errors import ArchiveError, LaidupError, StoreError
from monitor.housekeeping.ledger import DailyAt, Every, Job
from monitor.intake.batch import ASIDE_AGE, ASIDE_BYTES
from monitor.intake.forecast.fetch import ForecastFetch
from monitor.judgement.inputs import CraftInCare
from monitor.phrases.names import Names
from monitor.phrases.watch import due_lines
from monitor.reports.weekly import WeeklySchedule
from monitor.settings.load import Settings
from monitor.store.archive_folder import faults_of_dropped
from monitor.store.closing_days import close_due_days
from monitor.store.copy_age import CopiesSeen
from monitor.store.kept_answers import KEPT_FOR
from monitor.store.record_upkeep import RecordUpkeep
from monitor.store.rolling_up import repair_hours
from monitor.store.store import Store
from monitor.web.access.end_access import (
    end_access_of_leavers,
    end_expired_access,
    prune_access,
)
from monitor.yard.calibration_due import NextCalibration, due_calibrations
from monitor.yard.health import JobName, JobRun, JobState
from monitor.yard.space import Yard

if TYPE_CHECKING:
    from monitor.housekeeping.keeper import Housekeeping

log = logging.getLogger("laidup")

LETTERS_FOR = timedelta(days=731)  # what a letter said; that it was sent stays

_CONNECTIONS = 3  # of the jobs' own: none of them takes one that watch, intake or post needs
_AN_HOUR = timedelta(hours=1)
_IN_A_MOMENT = timedelta(minutes=2)  # what was missed begins a minute after the start
_A_LITTLE = timedelta(seconds=5)  # where both clocks agree, the job's own hour comes first
WITHIN = timedelta(hours=6)
_LOW_PRIORITY = 15
_LINES_TOLD = 4
_DAYS_AT_ONCE = 20  # of a history that had none closed


def make_housekeeping(
    settings: Settings,
    store: Store,
    clock: Clock,
    *,
    found_broken: Callable[[], None],
    goes_by_yard: Callable[[YardTaker], None] = lambda _: None,
) -> "Housekeeping":
    """The jobs of one yard, ready to be started.

    Parameters
    ----------
    settings : Settings
    store : Store
        The jobs take connections of their own to it.
    clock : Clock
        The daemon's, by which letters and forecasts are dated.
    found_broken : callable
        Told where the nightly check finds the record other than the last one did.
    goes_by_yard : callable
        Is given what goes by the yard, to have it told of changes.
    """
    # Imported here: a demo needs none of it.
    from monitor.housekeeping.keeper import Housekeeping

    own = store.beside(_CONNECTIONS)
    with own.snapshot() as tx:
        known = tx.job_runs.last_runs()

    def keep_run(run: JobRun) -> None:
        with own.transaction(can_wait=True) as tx:
            tx.job_runs.put(run)

    jobs = tuple(house_jobs(settings, own, clock, found_broken, goes_by_yard))
    return Housekeeping(jobs, settings.yard.zone, known, keep_run)


def house_jobs(
    settings: Settings,
    store: Store,
    clock: Clock,
    found_broken: Callable[[], None],
    goes_by_yard: Callable[[YardTaker], None] = lambda _: None,
) -> Iterator[Job]:
    """The jobs themselves, for whoever keeps their hours."""
    record = RecordUpkeep(store, clock)

    def check_record() -> None:
        record.have_all_checked()
        if record.run_once():
            found_broken()

    def clear() -> None:
        now = clock.now()
        with store.transaction(can_wait=True) as tx:
            tx.aside.trim_to(ASIDE_BYTES, now - ASIDE_AGE)
            tx.answer_links.prune_expired(now - GOOD_FOR)
            tx.outbox.forget_content(now - LETTERS_FOR)
            prune_access(tx, now)
            tx.kept_answers.prune_replies(now - KEPT_FOR)

    access = AccessUpkeep(store, settings.yard, clock)
    goes_by_yard(access)

    def close_days() -> timedelta | None:
        access.end_access()
        closed = close_due_days(store, clock.now(), at_most=_DAYS_AT_ONCE)
        return _IN_A_MOMENT if closed == _DAYS_AT_ONCE else None

    def repair() -> None:
        repair_hours(store, clock.now())

    # By the yard's clock, when little else is done; no hour that a change of the clocks leaves out
    # or has twice in most zones.
    yield Job(
        name=JobName.RECORD,
        when=DailyAt(hour=3, minute=10),
        run=check_record,
        within=_AN_HOUR,
    )
    yield Job(
        name=JobName.DAYS,
        when=Every(span=_AN_HOUR),
        run=close_days,
        within=_AN_HOUR,
        again_after=timedelta(minutes=10),
    )
    if settings.backup is not None:
        yield Job(
            name=JobName.BACKUP,
            when=DailyAt(hour=3, minute=30),
            run=partial(take_nightly_copy, settings.file),
            within=WITHIN + timedelta(minutes=5),
        )
    yield Job(name=JobName.RETENTION, when=DailyAt(hour=4, minute=10), run=clear, within=_AN_HOUR)
    yield Job(
        name=JobName.ROLLUPS,
        when=DailyAt(hour=4, minute=30),
        run=repair,
        within=2 * _AN_HOUR,
    )
    calibrations = DueCalibrations(settings.yard, clock)
    goes_by_yard(calibrations)
    yield Job(
        name=JobName.CALIBRATIONS,
        when=DailyAt(hour=4, minute=50),
        run=calibrations.log_new,
        within=_AN_HOUR,
    )
    if settings.archive is not None:
        yield Job(
            name=JobName.ARCHIVE,
            when=DailyAt(hour=5, minute=10),
            run=partial(check_archive, store, settings.archive, settings.yard.id),
            within=2 * _AN_HOUR,
        )
    yield _report_job(settings, store, clock, goes_by_yard)
    if settings.mails_season_records:
        yield Job(
            name=JobName.SEASON_RECORDS,
            when=DailyAt(hour=9, minute=20),  # by day: it is a mail to owners
            run=partial(mail_due_records, settings.file),
            within=WITHIN + timedelta(minutes=5),
        )
    if settings.forecast is not None:
        fetch = ForecastFetch(store, settings.forecast, clock)

        def ask_agency() -> timedelta:
            fetch.run_once()
            return fetch.next_in()

        yield Job(
            name=JobName.FORECASTS,
            when=Every(span=_AN_HOUR),
            run=ask_agency,
            within=timedelta(minutes=30),
            again_after=timedelta(minutes=1),
        )


class AccessUpkeep:
    """Ends what has run out, and what people had who left the yard, each hour.

    It ends at once where somebody shows it, and at the start. But what nobody showed since would
    come back with a clock that is set back, and a start may find a store that takes nothing.
    """

    def __init__(self, store: Store, yard: Yard, clock: Clock) -> None:
        self._store, self._yard, self._clock = store, yard, clock

    def take_yard(self, yard: Yard) -> None:
        """Go from now on by the people that the yard has now."""
        self._yard = yard

    def end_access(self) -> None:
        """End it for good."""
        now = self._clock.now()
        with self._store.transaction(can_wait=True) as tx:
            end_expired_access(tx, now)
            end_access_of_leavers(tx, self._yard, now)


class DueCalibrations:
    """Names in the log what has come due, each once while laidup runs.

    Not on its very day alone: a machine that was off then says it in its first night. Page, status
    and weekly report name it until it is done.
    """

    def __init__(self, yard: Yard, clock: Clock) -> None:
        self._yard, self._clock = yard, clock
        self._said: set[NextCalibration] = set()

    def take_yard(self, yard: Yard) -> None:
        """Go from now on by the yard as people have changed it."""
        self._yard = yard

    def log_new(self) -> None:
        """Log what is due and was not when this was called before."""
        yard = self._yard
        today = self._clock.now().astimezone(yard.zone).date()
        due = due_calibrations(yard.sensors, yard.calibration_days, today)
        new = [one for one in due if one not in self._said]
        for line in due_lines(new, Names.of(yard, ()), len(new)):
            log.warning("%s", line)
        self._said = set(due)


def weekly_report(settings: Settings, store: Store, clock: Clock) -> WeeklySchedule:
    """The weekly report with the day and hour of the yard's file."""
    return WeeklySchedule(
        store, settings.yard, clock, weekday=settings.report_weekday, at=settings.report_at
    )


def _report_job(
    settings: Settings, store: Store, clock: Clock, goes_by_yard: Callable[[YardTaker], None]
) -> Job:
    craft = CraftInCare(store, settings.profiles, settings.yard, clock)
    weekly = weekly_report(settings, store, clock)
    goes_by_yard(craft)
    goes_by_yard(weekly)

    def write_letters() -> timedelta:
        weekly.run(craft.read_now())
        # The daemon's clock may be apart from the machine's, by which the hour of a job comes.
        return weekly.next_in() + _A_LITTLE

    hour, minute = settings.report_at.split(":")[:2]
    return Job(
        name=JobName.REPORT,
        when=DailyAt(hour=int(hour), minute=int(minute), weekday=settings.report_weekday),
        run=write_letters,
        within=timedelta(minutes=30),
        again_after=timedelta(minutes=1),
    )


def job_problems(
    states: tuple[JobState, ...], copies: CopiesSeen, now: datetime
) -> dict[JobName, str]:
    """What is wrong with each job now, in a clause; a copy counts whoever took it.

    Parameters
    ----------
    states : tuple of JobState
    copies : CopiesSeen
        As the folder shows them, where the yard's file names one.
    now : datetime
        By the machine's clock, by which the hours of jobs come.
    """
    problems = {state.job: state.problem for state in states if state.problem}
    backup = next((state for state in states if state.job is JobName.BACKUP), None)
    last = None if backup is None else backup.last
    if last is not None and last.problem and copies.newest_at is not None:
        failed_since = last.began_at >= copies.newest_at
        if backup is not None and backup.is_of_last and not failed_since:
            del problems[JobName.BACKUP]
    if copies.overdue and not (backup and _begins_now(backup, now)):
        problems.setdefault(JobName.BACKUP, f"is overdue: {copies.overdue}")
    return problems


def _begins_now(backup: JobState, now: datetime) -> bool:
    """Whether a copy is being taken, or will be in a moment, as after a start."""
    if backup.running_s is not None:
        return True
    return backup.next_at is None or backup.next_at - now <= _IN_A_MOMENT


def check_archive(store: Store, folder: Path, yard: str) -> None:
    """Read the files of dropped months, whose raw readings nothing else has.

    Raises
    ------
    ArchiveError
        If one is gone, or another than it was.
    """
    with store.snapshot() as tx:
        months = tx.dropped_months.all_months()
    faults = list(faults_of_dropped(folder, yard, months))
    if faults:
        more = f"; and {len(faults) - 1} more" if len(faults) > 1 else ""
        raise ArchiveError(f"{faults[0]}{more}")


def take_nightly_copy(yard_file: Path, within: timedelta = WITHIN) -> None:
    """Copy the store as the yard's file says, and thin out older copies.

    Raises
    ------
    StoreError
        With what the command said, if it failed or took too long.
    """
    _run_command(["backup", "--config", str(yard_file)], within, StoreError)


def mail_due_records(yard_file: Path, within: timedelta = WITHIN) -> None:
    """Put the season records that are due into the outbox; the watch sends them.

    In a process of its own: it sets pages, for a large yard by the hundred.

    Raises
    ------
    LaidupError
        With what the command said, if it failed or took too long.
    """
    _run_command(["record", "--due", "--config", str(yard_file)], within, LaidupError)


def _run_command(arguments: list[str], within: timedelta, fault: type[LaidupError]) -> None:
    """Run a command of this program after all others; raises ``fault`` if it fails."""
    # With -P, so that Python finds its modules nowhere but where they are installed.
    command = [sys.executable, "-P", "-m", "monitor", *arguments]
    child = subprocess.Popen(  # noqa: S603 - our own program
        command,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        errors="replace",
    )
    with contextlib.suppress(OSError):  # where that is not allowed, it takes its turn as others do
        os.setpriority(os.PRIO_PROCESS, child.pid, _LOW_PRIORITY)
    try:
        said, _ = child.communicate(timeout=within.total_seconds())
    except subprocess.TimeoutExpired as error:
        raise fault(f"it was not done within {within}, and was ended") from error
    finally:
        if child.poll() is None:
            child.kill()
    if child.returncode != 0:
        told = " ".join(said.strip().splitlines()[-_LINES_TOLD:])
        raise fault(told or f"it ended with status {child.returncode}")
