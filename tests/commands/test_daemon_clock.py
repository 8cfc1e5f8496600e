"""Commands beside a daemon that goes by its sensors' clock go by the same."""

from datetime import UTC, datetime, timedelta

import pytest

from monitor.commands.opening import daemon_clock
from monitor.yard.assessment import Assessment, Hazard, Standing, Subject
from monitor.yard.health import IntakeFaultKind
from tests.reports import kettlemoss as yard_of
from tests.written import written


@pytest.mark.parametrize(
    ("ahead", "judged", "told"),
    [
        (timedelta(days=-1), timedelta(days=1), timedelta(days=1)),  # the daemon runs
        (timedelta(hours=5), timedelta(hours=-5), timedelta(hours=-5)),
        (timedelta(days=-1), timedelta(minutes=-2), timedelta(0)),  # the clock has been set since
        (None, timedelta(hours=-9), timedelta(0)),  # no fault, and a daemon that stands still
    ],
)
def test_the_time_is_that_of_the_latest_judgement_where_the_machine_is_wrong(
    tmp_path, ahead, judged, told
):
    store = yard_of.open_store(tmp_path)
    now = datetime.now(UTC)
    with store.transaction() as tx:
        if ahead is not None:
            tx.intake_faults.note_fault(IntakeFaultKind.OWN_CLOCK, ahead.total_seconds(), now)
        tx.assessments.replace_judgements(
            [
                Assessment(
                    subject=Subject("barn"),
                    hazard=Hazard.AIR,
                    standing=Standing.STEADY,
                    at=now + judged,
                    **written("steady"),
                )
            ]
        )
    assert abs(daemon_clock(store).now() - now - told) < timedelta(minutes=1)
    store.close()
