"""The numbers of one judgement, as a mail lists them."""

from datetime import UTC, datetime

import pytest

from monitor.phrases.numbers import numbers_in_line
from monitor.wording import Units, Wording
from monitor.yard.assessment import Assessment, Hazard, Standing, Subject
from tests.written import written

AT = datetime(2026, 11, 15, 12, 0, tzinfo=UTC)


@pytest.mark.parametrize(("unit", "says"), [("C", "0 °C"), ("F", "32 °F")])
def test_the_limit_of_water_is_where_it_freezes_and_exact(unit, says):
    water = Assessment(
        subject=Subject("long-shed", "k1", "block"),
        hazard=Hazard.FROST,
        standing=Standing.EXPOSED,
        at=AT,
        **written("by hand"),
        limit_c=0.0,
    )
    said = numbers_in_line(water, Wording(now=AT, units=Units(temperature=unit)))
    assert f"ice at {says}" in said.replace("\N{NO-BREAK SPACE}", " ")
