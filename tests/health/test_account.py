"""What counts as a fault of the watch, and that each has a remedy."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from monitor.errors import StoreBusyError, StoreError, StoreReadonlyError
from monitor.health.account import faults_of
from monitor.health.store_faults import HealthFacts
from monitor.health.store_probe import ProbeAnswer
from monitor.health.store_seen import StoreSeen
from monitor.health.watch import HealthWatch
from monitor.store.outbox_reports import Trouble
from monitor.yard.forecast import ForecastAsking
from monitor.yard.health import (
    HealthFaultKind,
    IntakeFault,
    IntakeFaultKind,
    JobName,
    StoreCondition,
)
from tests.reports import kettlemoss as yard_of

NOW = datetime(2026, 11, 14, 22, tzinfo=UTC)
OLD = timedelta(minutes=15)
SEEN = StoreSeen(at=NOW, newest_reading_at=NOW, judged_at=NOW)
WELL = HealthFacts(now=NOW, probe=ProbeAnswer(seen=SEEN))


def seen(**changes):
    return replace(WELL, probe=ProbeAnswer(seen=replace(SEEN, **changes)))


def intake_fault(kind):
    return IntakeFault(kind=kind, amount=900.0, since=NOW - OLD, last_at=NOW)


CASES = [
    (HealthFaultKind.PROCESS, True, replace(WELL, parts={"watch": "has not turned for 11 min"})),
    (
        HealthFaultKind.STORE,
        True,
        replace(WELL, probe=ProbeAnswer(refusal=StoreBusyError("locked"))),
    ),
    (HealthFaultKind.STORE, True, replace(WELL, probe=ProbeAnswer(seen=SEEN, silent_s=11.0))),
    (HealthFaultKind.STORE, True, replace(WELL, condition=StoreCondition(damage="a page is torn"))),
    (
        HealthFaultKind.STORE,
        True,
        replace(WELL, not_stored=StoreReadonlyError("this user may not")),
    ),
    (HealthFaultKind.DISK, True, replace(WELL, condition=StoreCondition(free_bytes=1_000_000))),
    (HealthFaultKind.DISK, False, replace(WELL, condition=StoreCondition(free_bytes=100_000_000))),
    (HealthFaultKind.BROKER, True, replace(WELL, away="No connection.", away_remedy="Start it.")),
    (HealthFaultKind.BACKLOG, False, replace(WELL, catching_up=True)),
    (HealthFaultKind.MESSAGES, False, replace(WELL, channels={"mail": "it hangs"})),
    (HealthFaultKind.MESSAGES, True, seen(stuck=(Trouble("mail", "", 3, NOW - OLD, "451 busy"),))),
    *(
        (HealthFaultKind.JOB, False, replace(WELL, jobs={job: "failed: no room"}))
        for job in JobName
    ),
    (HealthFaultKind.READINGS, True, seen(newest_reading_at=NOW - timedelta(hours=3))),
    (HealthFaultKind.READINGS, True, seen(newest_reading_at=None)),
    (HealthFaultKind.JUDGEMENT, True, seen(judged_at=NOW - timedelta(minutes=16))),
    (HealthFaultKind.SENSORS, False, seen(silent=("north-row",))),
    (
        HealthFaultKind.OWN_CLOCK,
        False,
        seen(intake_faults=(intake_fault(IntakeFaultKind.OWN_CLOCK),)),
    ),
    (
        HealthFaultKind.BROKER_DROPS,
        False,
        seen(intake_faults=(intake_fault(IntakeFaultKind.BROKER_DROPS),)),
    ),
    (
        HealthFaultKind.SENDERS,
        False,
        seen(intake_faults=(intake_fault(IntakeFaultKind.FOREIGN_TOPIC),)),
    ),
    (HealthFaultKind.FORECAST, False, seen(forecast=ForecastAsking(source="met.no"))),
    (HealthFaultKind.RECORD, False, seen(broken_records=("entry 1 was changed",))),
    (
        HealthFaultKind.RECORD,
        False,
        replace(WELL, condition=StoreCondition(rewritten="2 are gone")),
    ),
]


def test_a_watch_without_faults_has_none():
    assert faults_of(WELL, yard_of.yard(), OLD) == []
    assert {kind for kind, _, _ in CASES} == set(HealthFaultKind), "every kind is tried below"


@pytest.mark.parametrize(("kind", "is_grave", "facts"), CASES)
def test_each_fault_is_found_alone_and_says_what_to_do(kind, is_grave, facts):
    (found,) = faults_of(facts, yard_of.yard(), OLD)
    assert (found.kind, found.is_grave) == (kind, is_grave)
    assert found.what.endswith(".")
    assert found.remedy.endswith((".", ")"))


def test_the_gravest_stand_first():
    facts = replace(WELL, channels={"mail": "it hangs"}, away="No connection.", away_remedy="Go.")
    assert [one.kind for one in faults_of(facts, yard_of.yard(), OLD)] == [
        HealthFaultKind.BROKER,
        HealthFaultKind.MESSAGES,
    ]


@pytest.mark.parametrize(
    ("refusal", "remedy"),
    [
        (StoreBusyError("all its connections are in use"), "End the program that holds its lock"),
        (StoreReadonlyError("this user may not write it"), "Let laidup's user write"),
        (StoreError("attempt to write a readonly database"), "See that its disk"),  # words alone
        (StoreError("connection refused"), "See that its disk, or the database's server"),
    ],
)
def test_a_store_that_refuses_has_the_remedy_of_its_reason(refusal, remedy):
    facts = replace(WELL, probe=ProbeAnswer(seen=SEEN, refusal=refusal))
    (found,) = faults_of(facts, yard_of.yard(), OLD)
    assert found.remedy.startswith(remedy)


def test_since_when_a_fault_stands_outlives_a_setting_of_the_clock():
    now, elapsed_s, facts = [NOW], [100.0], [replace(WELL, catching_up=True)]

    class SetClock:
        def now(self):
            return now[0]

        def elapsed_s(self):
            return elapsed_s[0]

    watch = HealthWatch(
        yard_of.yard(), SetClock(), lambda: facts[0], OLD, monotonic=lambda: elapsed_s[0]
    )
    assert watch.make_account().faults[0].since == NOW
    elapsed_s[0] += 60.0
    now[0] = NOW + timedelta(days=1)
    facts[0] = replace(
        seen(at=now[0], newest_reading_at=now[0], judged_at=now[0]), now=now[0], catching_up=True
    )
    assert watch.make_account().faults[0].since == now[0] - timedelta(seconds=60)
    facts[0] = replace(facts[0], catching_up=False)
    assert watch.make_account().faults == ()
    facts[0] = replace(facts[0], catching_up=True)
    assert watch.make_account().faults[0].since == now[0], "a fault that comes back is a new one"


def test_readings_and_judgements_are_as_old_as_they_were_when_the_store_was_asked():
    """On a hurried clock hours go by between two questions."""
    later = replace(WELL, now=NOW + timedelta(hours=1))
    assert faults_of(later, yard_of.yard(), OLD) == []


def test_each_job_that_fails_is_named_with_a_remedy_of_its_own():
    found = faults_of(replace(WELL, jobs=dict.fromkeys(JobName, "failed: x")), yard_of.yard(), OLD)
    assert len({one.what for one in found}) == len({one.remedy for one in found}) == len(JobName)


@pytest.mark.parametrize(
    ("kind", "changes", "allowed"),
    [
        # The yard's slowest sensor speaks every 10 min, and may miss three in a row.
        (HealthFaultKind.READINGS, {"newest_reading_at": NOW - timedelta(days=3)}, 2 * OLD),
        (HealthFaultKind.READINGS, {"newest_reading_at": None}, 2 * OLD),
        (HealthFaultKind.JUDGEMENT, {"judged_at": NOW - timedelta(days=3)}, OLD),
        (HealthFaultKind.JUDGEMENT, {"judged_at": None}, OLD),
    ],
)
def test_what_a_watch_had_no_time_to_hear_or_judge_is_a_fault_of_its_start(kind, changes, allowed):
    for running, of_start in ((timedelta(seconds=3), True), (allowed, True),
                              (allowed + timedelta(seconds=1), False)):  # fmt: skip
        facts = replace(seen(**changes), running_s=running.total_seconds())
        (found,) = (one for one in faults_of(facts, yard_of.yard(), OLD) if one.kind is kind)
        assert found.is_grave
        assert found.is_of_start is of_start
    # Whoever asks the store, and not a daemon that has just started, hears of it as it is.
    (found,) = (one for one in faults_of(seen(**changes), yard_of.yard(), OLD) if one.kind is kind)
    assert not found.is_of_start


def test_no_other_fault_waits_for_the_start_to_be_over():
    for kind, _, facts in CASES:
        if kind not in (HealthFaultKind.READINGS, HealthFaultKind.JUDGEMENT):
            found = faults_of(replace(facts, running_s=0.0), yard_of.yard(), OLD)
            assert not any(one.is_of_start for one in found if one.kind is kind)
