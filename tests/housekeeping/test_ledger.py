"""What is wrong with a job, as the ledger finds it without asking anybody."""

from datetime import UTC, datetime, timedelta

import pytest

from monitor.housekeeping.ledger import LATE_AFTER, Every, Job, Ledger
from monitor.yard.health import JobName

START = datetime(2026, 11, 14, 3, 10, tzinfo=UTC)
BACKUP = JobName.BACKUP


class Times:
    """A wall clock, and seconds that nobody sets."""

    def __init__(self):
        self.wall, self.elapsed_s = START, 0.0

    def pass_by(self, time):
        self.wall += time
        self.elapsed_s += time.total_seconds()


@pytest.fixture
def times():
    return Times()


@pytest.fixture
def ledger(times):
    job = Job(
        name=BACKUP, when=Every(span=timedelta(days=1)), run=lambda: None,
        within=timedelta(hours=1),
    )  # fmt: skip
    return Ledger([job], {}, now=lambda: times.wall, monotonic=lambda: times.elapsed_s)


def problem(ledger):
    return ledger.job_states()[0].problem


def test_a_run_may_take_as_long_as_it_may_and_no_longer(ledger, times):
    ledger.note_begun(BACKUP)
    times.pass_by(timedelta(minutes=59))
    assert problem(ledger) == ""
    times.pass_by(timedelta(minutes=2))
    assert problem(ledger) == "has run for 61 minutes and does not end"
    ledger.note_ended(BACKUP, None)
    assert problem(ledger) == ""
    assert ledger.last_run(BACKUP).took_s == 61 * 60.0


def test_how_long_a_run_took_does_not_hang_on_the_wall_clock(ledger, times):
    ledger.note_begun(BACKUP)
    times.wall -= timedelta(days=400)
    times.pass_by(timedelta(seconds=20))
    assert ledger.note_ended(BACKUP, None).took_s == 20.0


def test_a_job_that_nothing_begins_is_told(ledger, times):
    ledger.note_next(BACKUP, START + timedelta(hours=1))
    times.pass_by(timedelta(hours=1) + LATE_AFTER - timedelta(seconds=1))
    assert problem(ledger) == ""
    times.pass_by(timedelta(minutes=30))
    assert "nothing began it" in problem(ledger)
    ledger.note_begun(BACKUP)
    assert problem(ledger) == ""
