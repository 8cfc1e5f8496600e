"""Jobs run at their hours, each apart from the others, and how they went is known at once."""

import threading
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from monitor.errors import StoreError
from monitor.housekeeping.keeper import Housekeeping
from monitor.housekeeping.ledger import DailyAt, Every, Job
from monitor.yard.health import JobName, JobRun
from tests.real.need import wait_until

ZONE = ZoneInfo("America/Chicago")
PATIENCE_S = 60.0
HOUR = timedelta(hours=1)
SOON = timedelta(milliseconds=50)


def job(name, run, when=None, **more):
    return Job(name=name, when=when or Every(span=SOON), run=run, within=HOUR, **more)


def hour_from_now(**away):
    """An hour of the day that comes so much later than now, or came so much earlier."""
    at = datetime.now(ZONE) + timedelta(**away)
    return DailyAt(hour=at.hour, minute=at.minute)


def ran(name, at, problem=""):
    return {name: JobRun(job=name, began_at=at, took_s=1.0, problem=problem)}


@pytest.fixture
def keep():
    """Starts housekeeping with some jobs, and stops it at the end."""
    kept, runs = [], []

    def start(*jobs, known=None, keep_run=runs.append, **more):
        made = Housekeeping(jobs, ZONE, known or {}, keep_run, start_rest=SOON, **more)
        kept.append(made)
        made.start()
        return made

    start.runs = runs
    yield start
    for each in kept:
        each.stop(timeout=0.0)


def state_of(housekeeping, name):
    return next(state for state in housekeeping.job_states() if state.job is name)


def test_a_run_is_known_with_its_time_its_length_and_its_result(keep):
    began = datetime.now(UTC)
    made = keep(job(JobName.ROLLUPS, lambda: None, hour_from_now(hours=-2)))
    wait_until(lambda: state_of(made, JobName.ROLLUPS).last, PATIENCE_S, "a missed job")
    state = state_of(made, JobName.ROLLUPS)
    assert began <= state.last.began_at <= datetime.now(UTC)
    assert state.last.took_s >= 0.0
    assert (state.problem, state.last.problem, state.running_s) == ("", "", None)
    assert timedelta(hours=21) < state.next_at - began < timedelta(hours=23)
    assert keep.runs == [state.last]


def test_a_job_that_hangs_holds_up_no_other_and_is_told(keep):
    let_go, turns = threading.Event(), []
    hangs = Job(
        name=JobName.BACKUP, when=Every(span=SOON), run=lambda: let_go.wait(PATIENCE_S) and None,
        within=timedelta(0),
    )  # fmt: skip
    made = keep(hangs, job(JobName.RECORD, lambda: turns.append(1)))
    try:
        wait_until(lambda: len(turns) >= 5, PATIENCE_S, "the other job")
        assert "does not end" in state_of(made, JobName.BACKUP).problem
        assert state_of(made, JobName.BACKUP).last is None, "one run at a time"
        assert state_of(made, JobName.RECORD).problem == ""
    finally:
        let_go.set()


def test_a_hanging_job_keeps_nobody_from_stopping(keep):
    let_go, begun = threading.Event(), threading.Event()

    def hang():
        begun.set()
        let_go.wait(PATIENCE_S)

    made = keep(job(JobName.BACKUP, hang))
    try:
        assert begun.wait(PATIENCE_S)
        made.stop(timeout=0.1)
        assert state_of(made, JobName.BACKUP).running_s is not None
    finally:
        let_go.set()


@pytest.mark.parametrize("error", [StoreError("no room"), ZeroDivisionError("x"), SystemExit(3)])
def test_a_job_that_fails_is_told_tried_again_and_over_with_its_next_good_run(keep, error):
    failing, others = [True], []

    def run():
        if failing[0]:
            raise error

    made = keep(
        job(JobName.BACKUP, run, hour_from_now(hours=5), again_after=SOON),
        job(JobName.RECORD, lambda: others.append(1)),
    )
    wait_until(lambda: state_of(made, JobName.BACKUP).problem, PATIENCE_S, "the failure")
    assert str(error) in state_of(made, JobName.BACKUP).problem
    before = len(others)
    wait_until(lambda: len(others) > before + 2, PATIENCE_S, "the other job")
    failing[0] = False
    wait_until(lambda: not state_of(made, JobName.BACKUP).problem, PATIENCE_S, "the next good run")


def test_a_run_that_cannot_be_kept_is_known_all_the_same(keep):
    def refuse(_run):
        raise StoreError("locked")

    made = keep(job(JobName.RECORD, lambda: None), keep_run=refuse)
    wait_until(lambda: state_of(made, JobName.RECORD).last, PATIENCE_S, "its run")
    assert state_of(made, JobName.RECORD).problem == ""


NOW = datetime.now(UTC)


@pytest.mark.parametrize(
    ("ran_ago", "problem", "is_due"),
    [
        (None, "", True),
        (timedelta(minutes=30), "", False),
        (timedelta(hours=3), "", True),  # its hour came since
        (timedelta(days=90), "", True),
        (timedelta(minutes=30), "failed", True),
        (timedelta(days=-900), "", True),  # by a clock that ran ahead
    ],
)
def test_what_a_machine_that_was_off_has_missed_is_made_up_for_once(keep, ran_ago, problem, is_due):
    now = datetime.now(UTC)
    known = {} if ran_ago is None else ran(JobName.ROLLUPS, now - ran_ago, problem)
    runs = []
    made = keep(job(JobName.ROLLUPS, lambda: runs.append(1), hour_from_now(hours=-1)), known=known)
    due_in = state_of(made, JobName.ROLLUPS).next_at - datetime.now(UTC)
    if is_due:
        wait_until(lambda: runs, PATIENCE_S, "the missed run")
        wait_until(lambda: keep.runs, PATIENCE_S, "its end")
        assert state_of(made, JobName.ROLLUPS).next_at - now > timedelta(hours=22)
    else:
        assert due_in > timedelta(hours=22)
    assert len(runs) == is_due


def test_a_job_may_ask_to_be_run_before_its_hour_and_never_after(keep):
    runs, asks = [], [SOON, timedelta(days=30)]

    def run():
        runs.append(1)
        return asks[min(len(runs), 2) - 1]

    made = keep(job(JobName.REPORT, run, hour_from_now(hours=-3)))
    wait_until(lambda: len(keep.runs) == 2, PATIENCE_S, "the second run")
    assert state_of(made, JobName.REPORT).next_at - NOW < timedelta(hours=22)


def test_a_clock_that_was_set_back_by_years_holds_no_job_up_for_years(keep):
    """The library sleeps until the hour that it worked out before the clock was set."""
    ahead_s = [0.0]
    made = keep(
        job(JobName.RECORD, lambda: None, hour_from_now(hours=2)),
        known=ran(JobName.RECORD, NOW - HOUR),
        monotonic=lambda: datetime.now(UTC).timestamp() + ahead_s[0],
    )
    in_the_future = datetime.now(UTC) + timedelta(days=2000)
    made._scheduler.get_job(str(JobName.RECORD)).modify(next_run_time=in_the_future)
    made.mind_clock_once()
    assert made._scheduler.get_job(str(JobName.RECORD)).next_run_time == in_the_future
    ahead_s[0] = 2000 * 86_400.0  # seconds that nobody sets went on, the wall clock did not
    made.mind_clock_once()
    assert state_of(made, JobName.RECORD).next_at - NOW < timedelta(hours=3)


def test_a_week_has_one_hour_of_the_report(keep):
    at = datetime.now(ZONE) + timedelta(hours=2)
    when = DailyAt(hour=at.hour, minute=at.minute, weekday=f"{at:%A}".lower())
    made = keep(job(JobName.REPORT, lambda: None, when), known=ran(JobName.REPORT, NOW))
    first = state_of(made, JobName.REPORT).next_at.astimezone(ZONE)
    assert (first.weekday(), first.hour, first.minute) == (at.weekday(), at.hour, at.minute)
    after = made._trigger_of(when).get_next_fire_time(first, first)
    assert after.astimezone(ZONE).date() - first.date() == timedelta(days=7)
