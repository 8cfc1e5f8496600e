"""What ``laidup status`` says of the sensors themselves: wrong clocks, calibrations due."""

from collections.abc import Iterator, Mapping
from datetime import date

from monitor.intake.trust import wrong_by
from monitor.store.intake_state import WrongClock
from monitor.wording import Wording
from monitor.yard.calibration import Calibration
from monitor.yard.reading import Channel
from monitor.yard.space import Sensor, Yard


def clock_lines(clocks: Mapping[str, WrongClock], yard: Yard, wording: Wording) -> Iterator[str]:
    """One sentence for each clock that is wrong."""
    known = {sensor.name for sensor in yard.sensors}
    for name, clock in sorted(clocks.items()):
        if name in known:
            yield (
                f"The clock of {name} is {wrong_by(clock.ahead_s)},"
                f" since {wording.clock(clock.since)}: set it."
            )


def calibration_lines(yard: Yard, today: date) -> Iterator[str]:
    """What is overdue, one sentence each, and what comes next."""
    coming: list[tuple[date, str]] = []
    for sensor in yard.sensors:
        for channel, last in sorted(_in_force(sensor).items()):
            what = f"{sensor.name} ({channel}, last against {last.standard} on {last.made_on})"
            if last.due_on is None:
                continue
            if last.due_on < today:
                yield f"Calibration overdue since {last.due_on}: {what}."
            else:
                coming.append((last.due_on, what))
    if coming:
        due_on, what = min(coming)
        yield f"Next calibration due on {due_on}: {what}."


def _in_force(sensor: Sensor) -> dict[Channel, Calibration]:
    """The newest calibration of each channel."""
    ordered = sorted(sensor.calibrations, key=lambda one: one.made_on)
    return {one.channel: one for one in ordered}
