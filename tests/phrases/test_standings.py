"""The table of standings: one row for every pair that is judged, and no other."""

from datetime import UTC, datetime

import pytest

from monitor.phrases.standings import StandingRow, Weight, check_standings
from monitor.yard.assessment import STANDINGS, Assessment, Hazard, Standing, Subject
from tests.written import written

STALE = StandingRow(Hazard.FORECAST, Standing.STALE, "old", Weight.GRAVE)
FRESH = StandingRow(Hazard.FORECAST, Standing.STEADY, "steady", Weight.WELL)
FULL = StandingRow(Hazard.DISK, Standing.FULL, "full", Weight.GRAVE)
KNOWN = {Hazard.FORECAST: frozenset({Standing.STALE, Standing.STEADY})}


def test_rows_take_their_place_in_lists_from_the_order_of_the_table():
    rows = check_standings([STALE, FRESH], KNOWN)
    assert rows[Hazard.FORECAST, Standing.STALE].place == 0
    assert rows[Hazard.FORECAST, Standing.STEADY].place == 1


@pytest.mark.parametrize(
    ("rows", "problem"),
    [
        ([STALE], "forecast, steady: has no row"),
        ([STALE, FRESH, FULL], "disk, full: has a row, but no judgement makes it"),
        ([STALE, FRESH, FRESH], "forecast, steady: has two rows"),
    ],
)
def test_a_standing_without_its_one_row_is_refused(rows, problem):
    with pytest.raises(ValueError, match=problem):
        check_standings(rows, KNOWN)


def test_the_rows_of_one_standing_may_not_be_torn_apart_for_they_rank_alike():
    unheard = StandingRow(Hazard.SILENCE, Standing.STEADY, "steady", Weight.WELL)
    known = KNOWN | {Hazard.SILENCE: frozenset({Standing.STEADY})}
    with pytest.raises(ValueError, match="silence, steady: stands apart"):
        check_standings([FRESH, STALE, unheard], known)


def test_every_hazard_and_every_standing_is_judged_somewhere():
    assert set(STANDINGS) == set(Hazard)
    assert frozenset().union(*STANDINGS.values()) == set(Standing)


def test_a_judgement_that_its_hazard_cannot_have_is_refused():
    with pytest.raises(ValueError, match="disk is never judged sweating"):
        Assessment(
            subject=Subject("yard"),
            hazard=Hazard.DISK,
            standing=Standing.SWEATING,
            at=datetime(2026, 11, 15, tzinfo=UTC),
            **written("As found."),
        )
