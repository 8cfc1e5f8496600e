"""Numbers and states in one line, as a reader takes them."""

from datetime import UTC, datetime, timedelta

from monitor.reports.sentences import numbers
from monitor.reports.wording import Wording
from monitor.yard.assessment import Assessment, Hazard, Standing, Subject
from tests.reports.kettlemoss import yard

AT = datetime(2026, 11, 15, 12, 0, tzinfo=UTC)


def damp(**changes) -> Assessment:
    made = {
        "subject": Subject("long-shed", "k1", "engine"),
        "hazard": Hazard.DAMP,
        "standing": Standing.FROSTING,
        "at": AT,
        "basis": "metal by its lag against the air",
        "now_c": -9.0,
        "limit_c": -8.7,
        "deadline": AT + timedelta(hours=1),
        "ends": AT + timedelta(hours=3),
    }
    return Assessment(**(made | changes))


def said(assessment: Assessment) -> str:
    return numbers(assessment, Wording.of(yard(), AT))


def test_below_freezing_metal_meets_a_frost_point_above_it_a_dew_point():
    assert "frost point" in said(damp())
    assert "dew point" in said(damp(standing=Standing.SWEATING, now_c=3.0, limit_c=4.0))


def test_a_film_that_is_gone_when_it_comes_is_not_told_to_dry():
    assert "dry again" in said(damp())
    assert "dry again" not in said(damp(ends=AT + timedelta(hours=1)))
