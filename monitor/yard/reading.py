"""What a sensor said: channels, quality flags, and readings as arrays."""

from dataclasses import dataclass, replace
from enum import IntEnum, StrEnum
from functools import reduce
from math import inf
from operator import or_
from typing import TYPE_CHECKING

if TYPE_CHECKING:  # a question about one craft names channels, and has no arrays
    import numpy as np
    from numpy.typing import NDArray


class Channel(StrEnum):
    """What is measured. The value's unit is the channel's, everywhere inside laidup."""

    TEMPERATURE = "temperature"  # °C
    HUMIDITY = "humidity"  # % RH over water
    VOLTAGE = "voltage"  # V, at a battery's posts
    CURRENT = "current"  # A, into a battery
    CHARGE = "charge"  # % of a battery's energy left, as its maintainer says
    MAINS = "mains"  # 1 while the maintainer has mains, else 0
    SENSOR_BATTERY = "sensor_battery"  # % left in the sensor's own battery

    @property
    def resolution(self) -> float:
        """Smallest step that the store keeps: a value is stored as a whole number of these."""
        return _RESOLUTION[self]

    @property
    def senml_unit(self) -> str:
        """Unit of the channel in the SenML units registry (RFC 8428, section 12.1)."""
        return _SENML_UNIT[self]


_RESOLUTION = {
    Channel.TEMPERATURE: 0.01,
    Channel.HUMIDITY: 0.01,
    Channel.VOLTAGE: 0.001,
    Channel.CURRENT: 0.001,
    Channel.CHARGE: 0.1,
    Channel.MAINS: 1.0,
    Channel.SENSOR_BATTERY: 0.1,
}
_SENML_UNIT = {
    Channel.TEMPERATURE: "Cel",
    Channel.HUMIDITY: "%RH",
    Channel.VOLTAGE: "V",
    Channel.CURRENT: "A",
    Channel.CHARGE: "%EL",
    Channel.MAINS: "/",
    Channel.SENSOR_BATTERY: "%EL",
}


class Flag(IntEnum):
    """QARTOD quality flags (US IOOS, Manual for Real-Time Quality Control)."""

    PASS = 1
    NOT_EVALUATED = 2
    SUSPECT = 3
    FAIL = 4
    MISSING = 9


JUDGED_ON = (Flag.PASS, Flag.NOT_EVALUATED)


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One value of one channel of one sensor at one time.

    Invariants: the value is finite and in the channel's unit; ``raw`` is what the sensor sent,
    before any calibration.
    """

    sensor: str
    channel: Channel
    at_ms: int  # UTC, milliseconds since 1970
    value: float
    raw: float
    flag: Flag = Flag.NOT_EVALUATED


@dataclass(frozen=True, slots=True, kw_only=True)
class Trace:
    """Readings of one channel of one sensor in time order, as arrays of one length."""

    sensor: str
    channel: Channel
    at_ms: "NDArray[np.int64]"
    value: "NDArray[np.float64]"
    flag: "NDArray[np.int8]"
    update_s: float | None = None  # longest time until its next reading, if the sensor says so

    def cut_between(self, begin_ms: float, end_ms: float) -> "Trace":
        """Only what was read from ``begin_ms`` on and before ``end_ms``."""
        if begin_ms == -inf and end_ms == inf:
            return self
        kept = slice(*(int(one) for one in self.at_ms.searchsorted([begin_ms, end_ms])))
        return replace(self, at_ms=self.at_ms[kept], value=self.value[kept], flag=self.flag[kept])

    def usable(self) -> "Trace":
        """Only what may be judged on: flags 1 and 2."""
        if (self.flag == Flag.PASS).all():  # as nearly every trace
            return self
        keep = reduce(or_, [self.flag == each for each in JUDGED_ON])
        if keep.all():
            return self
        return Trace(
            sensor=self.sensor,
            channel=self.channel,
            at_ms=self.at_ms[keep],
            value=self.value[keep],
            flag=self.flag[keep],
            update_s=self.update_s,
        )
