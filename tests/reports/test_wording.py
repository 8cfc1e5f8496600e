from math import nan

import pytest

from monitor.reports.wording import hours


@pytest.mark.parametrize(
    ("value", "says"), [(0.0, "none"), (0.5, "0.5 h"), (43.2, "43 h"), (nan, "not known")]
)
def test_hours_are_as_fine_as_they_can_be_known(value, says):
    assert hours(value) == says
