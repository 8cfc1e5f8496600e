"""What the jobs of a yard do to its store."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from hashlib import sha256
from pathlib import Path

import pytest

from monitor.clock import to_ms
from monitor.daemon.housework import LETTERS_FOR, house_jobs, job_problems, make_housekeeping
from monitor.daemon.opening import open_store
from monitor.errors import ArchiveError
from monitor.intake.forecast.settings import Agency, ForecastSettings
from monitor.phrases.own_condition import JOB_NAME, job_act
from monitor.settings.load import load_settings
from monitor.store.aside import KeptAside
from monitor.store.copy_age import CopiesSeen, CopySettings
from monitor.store.watches import AnswerLink
from monitor.yard.calibration import Calibration, Point
from monitor.yard.health import JobName, JobRun, JobState
from monitor.yard.message import DeliveryOutcome, Receipt
from monitor.yard.reading import Channel
from tests.commands.yard_files import copied_yard, fill
from tests.delivery.scene import PICTURE, message
from tests.set_clock import SetClock

NOW = datetime(2026, 11, 14, 22, tzinfo=UTC)
DAY = timedelta(days=1)


@pytest.fixture
def settings(tmp_path):
    return load_settings(copied_yard(tmp_path))


@pytest.fixture
def store(settings):
    opened = open_store(settings.store_url, settings.yard.id)
    yield opened
    opened.close()


def job(settings, store, name, found_broken=lambda: None, now=NOW):
    found = house_jobs(settings, store, SetClock(now), found_broken)
    return next(one for one in found if one.name is name)


def test_a_copy_is_a_job_where_the_yards_file_names_a_folder(settings, store):
    names = [one.name for one in house_jobs(settings, store, SetClock(NOW), lambda: None)]
    assert JobName.BACKUP not in names
    with_copies = replace(settings, backup=CopySettings(folder=Path("/nowhere")))
    names = [one.name for one in house_jobs(with_copies, store, SetClock(NOW), lambda: None)]
    assert JobName.BACKUP in names
    assert len(set(names)) == len(names)


def test_what_is_kept_for_a_time_only_goes_when_its_time_is_over(settings, store):
    old = replace(
        message(key="old"),
        created_at=NOW - LETTERS_FOR - DAY,
        attachments=(PICTURE,),
    )
    young = replace(message(key="young"), created_at=NOW - LETTERS_FOR + DAY)
    waiting = replace(message(key="waiting"), created_at=NOW - LETTERS_FOR - DAY)
    link = AnswerLink(
        digest="d", person="ines", thread="t", expires_at=NOW - 4 * DAY, used_at=None, alarms=()
    )
    with store.transaction() as tx:
        tx.outbox.add([old, young, waiting])
        for one in (old, young):
            tx.outbox.settle_attempt(
                one.key, NOW, Receipt(outcome=DeliveryOutcome.TAKEN, detail="250 ok"), None
            )
        tx.answer_links.add([link])
        tx.aside.keep_all([KeptAside("yard/x", "no sensor", b"{", NOW - timedelta(days=121))])
        tx.aside.keep_all([KeptAside("yard/y", "no sensor", b"{", NOW - timedelta(days=119))])
    job(settings, store, JobName.RETENTION).run()
    with store.snapshot() as tx:
        messages = {one.key: one for one, _ in tx.outbox.newest_messages()}
        asides = [one.topic for one in tx.aside.newest_by_topic()]
        assert tx.answer_links.get("d") is None
    assert asides == ["yard/y"]
    assert (messages["old"].text, messages["old"].address, messages["old"].attachments) == (
        "", "", (),
    )  # fmt: skip
    assert messages["old"].person == old.person, "that it was sent, and to whom, stays"
    assert messages["young"].text == young.text
    assert messages["waiting"].text == waiting.text, "it is not told yet"
    with store.transaction() as tx:
        assert tx.outbox.add([old]) == 0, "nobody gets it a second time"


def test_a_file_that_alone_has_readings_and_is_gone_or_changed_fails_the_nightly_check(
    settings, store, tmp_path
):
    names = [one.name for one in house_jobs(settings, store, SetClock(NOW), lambda: None)]
    assert JobName.ARCHIVE not in names
    folder = tmp_path / "archive"
    folder.mkdir()
    with_archive = replace(settings, archive=folder)
    check = job(with_archive, store, JobName.ARCHIVE)
    check.run()  # nothing was dropped
    files = {}
    for n in (7, 8, 9):
        file = folder / f"{settings.yard.id}-2024-0{n}.parquet"
        file.write_bytes(b"readings of %d" % n)
        files[n] = file
        with store.transaction() as tx:
            month = date(2024, n, 1)
            tx.dropped_months.begin_month(month, to_ms(datetime(2024, n + 1, 1, tzinfo=UTC)), NOW)
            if n < 9:  # of September nothing was removed yet
                digest = sha256(file.read_bytes()).hexdigest()
                tx.dropped_months.note_checked(month, NOW, rows=1, digest="", file_sum=digest)
    check.run()
    files[9].unlink()
    check.run()
    files[7].write_bytes(b"readings of 6")
    with pytest.raises(ArchiveError, match=r"2024-07.parquet is another file than when"):
        check.run()
    files[8].unlink()
    with pytest.raises(ArchiveError, match="; and 1 more"):
        check.run()
    files[7].unlink()
    with pytest.raises(ArchiveError, match=r"2024-07.parquet is not there"):
        check.run()


def test_hours_whose_change_nobody_noted_are_right_after_the_night(settings, store):
    fill(settings.file, until=NOW)
    hour_ms = to_ms(NOW - timedelta(hours=6))
    job(settings, store, JobName.ROLLUPS).run()
    with store.snapshot() as tx:
        sensor = next(name for name, _ in tx.series.known_series())
        right = tx.rollups.hours_between([sensor], hour_ms, hour_ms + 3_600_000)
        assert tx.rollups.count_hours() > 0
    with store.transaction() as tx:
        tx.rollups._connection.exec_driver_sql("UPDATE rollups SET low = -4000, high = 4000")
    job(settings, store, JobName.ROLLUPS).run()
    with store.snapshot() as tx:
        again = tx.rollups.hours_between([sensor], hour_ms, hour_ms + 3_600_000)
    assert {key: repr(trace) for key, trace in again.items()} == {
        key: repr(trace) for key, trace in right.items()
    }


def test_the_nightly_check_has_the_watch_look_again_where_the_record_is_broken(settings, store):
    fill(settings.file, until=NOW)
    told = []
    check = job(settings, store, JobName.RECORD, lambda: told.append(1))
    check.run()
    assert told == []
    with store.transaction() as tx:
        tx.rollups._connection.exec_driver_sql(
            "UPDATE layup_entries SET body = replace(body, 'drained', 'drainee')"
        )
    check.run()
    assert told == [1]


def test_a_run_outlives_the_process(settings, store):
    run = JobRun(job=JobName.RECORD, began_at=NOW, took_s=1.5, problem="no room")
    with store.transaction() as tx:
        tx.job_runs.put(replace(run, problem=""))
        tx.job_runs.put(run)
        tx.job_runs._connection.exec_driver_sql(
            "INSERT INTO job_runs SELECT yard_id, 'of another program', 0, 0, '' FROM job_runs"
        )
    made = make_housekeeping(settings, store, SetClock(NOW), found_broken=lambda: None)
    assert {state.last for state in made.job_states() if state.last} == {run}


def backup(problem="", began_at=NOW, next_at=NOW + DAY / 2):
    run = JobRun(job=JobName.BACKUP, began_at=began_at, took_s=9.0, problem=problem)
    wrong = f"failed: {problem}" if problem else ""
    return (
        JobState(
            job=JobName.BACKUP, last=run, problem=wrong, is_of_last=bool(wrong), next_at=next_at
        ),
    )


def hanging(problem):
    """After one that failed, one that does not end: that another took a copy is no excuse."""
    return tuple(
        replace(one, problem=f"hangs: {problem}", is_of_last=False) for one in backup(problem)
    )


NONE_YET = CopiesSeen(overdue="there is none")


@pytest.mark.parametrize(
    ("states", "copies", "told"),
    [
        (backup(), CopiesSeen(newest_at=NOW), ""),
        (backup("no room"), CopiesSeen(newest_at=NOW - DAY), "failed: no room"),
        (backup("no room"), CopiesSeen(newest_at=NOW + DAY), ""),  # somebody took one by hand
        (backup(), NONE_YET, "is overdue: there is none"),  # its disk was changed
        (hanging("no room"), CopiesSeen(newest_at=NOW + DAY), "hangs: no room"),
        (backup("no room"), NONE_YET, "failed: no room"),
        ((), NONE_YET, "is overdue: there is none"),
        # A first start, or one after days: the missed one begins within a minute.
        ((JobState(job=JobName.BACKUP),), NONE_YET, ""),
        ((JobState(job=JobName.BACKUP, next_at=NOW + DAY / 1440),), NONE_YET, ""),
        ((JobState(job=JobName.BACKUP, next_at=NOW + DAY, running_s=9.0),), NONE_YET, ""),
        (backup("no room", next_at=NOW), NONE_YET, "failed: no room"),
        ((JobState(job=JobName.BACKUP, problem="hangs"),), NONE_YET, "hangs"),
    ],
)
def test_a_copy_counts_whoever_took_it_and_is_not_overdue_while_it_begins(states, copies, told):
    assert job_problems(states, copies, NOW).get(JobName.BACKUP, "") == told


def test_the_jobs_of_a_yard_are_all_there_and_each_has_words(settings, store):
    with_all = replace(
        settings,
        backup=CopySettings(folder=Path("/nowhere")),
        archive=Path("/nowhere"),
        forecast=ForecastSettings(
            agency=Agency.MET_NORWAY, contact="watch@yard.example", latitude=60.0, longitude=9.0
        ),
    )
    names = [one.name for one in house_jobs(with_all, store, SetClock(NOW), lambda: None)]
    assert sorted(names) == sorted(JobName), "each once"
    assert all(job_act(one) and JOB_NAME[one] for one in names)


def test_a_calibration_is_named_in_the_log_once_from_its_day_on(settings, store, caplog):
    first, second, *others = settings.yard.sensors

    def ice_bath(made_on):
        return Calibration(
            channel=Channel.TEMPERATURE, made_on=made_on, standard="ice bath",
            points=(Point(read=0.2, true=0.0),),
        )  # fmt: skip

    yard = replace(
        settings.yard,
        sensors=(
            replace(first, calibrations=(ice_bath(date(2025, 11, 14)),)),
            replace(second, calibrations=(ice_bath(date(2025, 11, 17)),)),
            *others,
        ),
    )
    settings = replace(settings, yard=yard)

    def said_each_night(*nights):
        clock = SetClock(NOW)
        look = next(
            one
            for one in house_jobs(settings, store, clock, lambda: None)
            if one.name is JobName.CALIBRATIONS
        )
        for days in nights:
            caplog.clear()
            clock.move(NOW + days * DAY - clock.now())
            look.run()
            lines = [line for line in caplog.messages if "calibration due" in line]
            yield [line.partition("due since ")[2][:10] for line in lines]

    # A year after each was made (the yard's file says nothing else), and no second time.
    day, later = "2026-11-14", "2026-11-17"
    assert list(said_each_night(-1, 0, 1, 3, 4)) == [[], [day], [], [later], []]
    # A machine that was off on both days says it in its first night.
    assert list(said_each_night(5, 6)) == [[day, later], []]
