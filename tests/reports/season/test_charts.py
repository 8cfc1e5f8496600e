"""Marks at the axis of the nights' chart: whole steps of the reader's own unit."""

import re
from dataclasses import replace
from datetime import timedelta

import pytest

from monitor.reports.season.charts import nights_chart
from monitor.wording import Units, Wording
from tests.reports.season import winter
from tests.reports.season.winter import ARRIVED, cold_nights, figures_of, put_craft


@pytest.fixture(scope="module")
def nights(tmp_path_factory):
    store = winter.open_store(tmp_path_factory.mktemp("winter"))
    put_craft(store)
    until = ARRIVED + timedelta(days=5)
    cold = [(ARRIVED + timedelta(days=2)).date()]
    winter.put_readings(store, ARRIVED, until, cold_nights(cold))
    yield figures_of(store, now=until).nights
    store.close()


def marks(nights, unit):
    said = nights_chart(nights, Wording(units=Units(temperature=unit)))
    return [int(one.replace("−", "-")) for one in re.findall(r"([-−]?\d+)\s°" + unit, said)]


@pytest.mark.parametrize("warmer_k", [-25.0, -7.0, 0.0, 1.5])
def test_fahrenheit_has_round_marks_and_the_freezing_point(nights, warmer_k):
    moved = [
        replace(one, low_c=None if one.low_c is None else one.low_c + warmer_k) for one in nights
    ]
    found = marks(moved, "F")
    assert found.count(32) == 1
    assert len(found) >= 3
    assert all(one % 5 == 0 for one in found if one != 32)


def test_celsius_has_round_marks_with_zero_once(nights):
    found = marks(nights, "C")
    assert found.count(0) == 1
    assert all(one % 5 == 0 for one in found)
