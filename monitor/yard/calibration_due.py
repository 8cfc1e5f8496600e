"""When each sensor is to be compared with a standard again."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from monitor.yard.calibration import Calibration
from monitor.yard.space import Sensor

# Before each winter anew: a humidity head drifts by about a point a year, and a frost is judged by
# half a degree. Common practice, no source.
USUAL_CALIBRATION_DAYS = 365


@dataclass(frozen=True, slots=True, kw_only=True)
class NextCalibration:
    """The next comparison of one channel of a sensor that has been compared before."""

    sensor: str
    last: Calibration
    due_on: date

    def is_due(self, today: date) -> bool:
        """Whether its day has come."""
        return self.due_on <= today


def next_calibrations(sensors: Iterable[Sensor], every_days: int) -> list[NextCalibration]:
    """The next comparison of each channel that has ever been compared, the soonest first.

    It is due on the day that its last one names, else so many days after that. A channel that was
    never compared has no day: it is judged by what its maker promises.

    Parameters
    ----------
    sensors : iterable of Sensor
    every_days : int
        From one comparison to the next, where it names no day.
    """
    found = []
    for sensor in sensors:
        ordered = sorted(sensor.calibrations, key=lambda one: one.made_on)
        for last in {one.channel: one for one in ordered}.values():
            due_on = last.due_on or last.made_on + timedelta(days=every_days)
            found.append(NextCalibration(sensor=sensor.name, last=last, due_on=due_on))
    return sorted(found, key=lambda one: (one.due_on, one.sensor, one.last.channel))


def due_calibrations(
    sensors: Iterable[Sensor], every_days: int, today: date
) -> list[NextCalibration]:
    """Those whose day has come, the longest due first."""
    return [one for one in next_calibrations(sensors, every_days) if one.is_due(today)]
