"""The numbers of one judgement, as a mail lists them."""

from datetime import UTC, datetime

import pytest

from monitor.phrases.numbers import list_numbers
from monitor.wording import Units, Wording
from monitor.yard.assessment import Assessment, Hazard, Standing, Subject
from tests.written import written

AT = datetime(2026, 11, 15, 12, 0, tzinfo=UTC)


@pytest.mark.parametrize(("unit", "says"), [("C", "0 °C"), ("F", "32 °F")])
def test_the_limit_of_a_space_is_where_water_freezes_and_exact(unit, says):
    air = Assessment(
        subject=Subject("long-shed"),
        hazard=Hazard.AIR,
        standing=Standing.FALLING,
        at=AT,
        **written("by hand"),
        limit_c=0.0,
    )
    said = dict(list_numbers(air, Wording(now=AT, units=Units(temperature=unit))))
    assert said["limit"].replace("\N{NO-BREAK SPACE}", " ") == says
