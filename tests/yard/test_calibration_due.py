"""When a sensor is to be compared again: on the day that its last one names, else the yard's."""

from datetime import date, timedelta

import pytest

from monitor.settings.load import load_settings
from monitor.yard.calibration import Calibration, Point
from monitor.yard.calibration_due import due_calibrations, next_calibrations
from monitor.yard.reading import Channel
from monitor.yard.space import Sensor
from tests.commands.yard_files import copied_yard

MADE = date(2025, 10, 1)


def compared(made_on=MADE, due_on=None, channel=Channel.TEMPERATURE):
    return Calibration(
        channel=channel, made_on=made_on, standard="ice bath",
        points=(Point(read=0.2, true=0.0),), due_on=due_on,
    )  # fmt: skip


def sensor(*calibrations, name="urn:dev:ops:a"):
    return Sensor(name=name, space="shed", calibrations=calibrations)


@pytest.mark.parametrize(
    ("calibrations", "due"),
    [
        ((), []),  # nobody ever promised anything of it
        ((compared(),), [date(2026, 10, 1)]),
        ((compared(due_on=date(2026, 3, 1)),), [date(2026, 3, 1)]),
        ((compared(due_on=date(2029, 3, 1)),), [date(2029, 3, 1)]),
        # A newer one stands for the older, wherever it is written; each channel has its own.
        ((compared(date(2026, 9, 1)), compared(due_on=date(2025, 11, 1))), [date(2027, 9, 1)]),
        (
            (compared(date(2026, 9, 1)), compared(channel=Channel.HUMIDITY)),
            [date(2026, 10, 1), date(2027, 9, 1)],
        ),
    ],
)
def test_the_next_one_is_due_on_its_own_day_or_a_year_after_the_last(calibrations, due):
    assert [one.due_on for one in next_calibrations([sensor(*calibrations)], 365)] == due


def test_it_is_due_from_its_day_on():
    one = [sensor(compared())]
    day = MADE + timedelta(days=100)
    assert due_calibrations(one, 100, day - timedelta(days=1)) == []
    assert [due.sensor for due in due_calibrations(one, 100, day)] == ["urn:dev:ops:a"]


def test_the_yards_file_says_how_often(tmp_path):
    config = copied_yard(tmp_path)
    assert load_settings(config).yard.calibration_days == 365
    text = config.read_text()
    config.write_text(text.replace("[yard]\n", "[yard]\ncalibration_days = 730\n", 1))
    assert load_settings(config).yard.calibration_days == 730
