"""The tests of QARTOD (US IOOS, real-time quality control): which flag a reading gets."""

from dataclasses import dataclass

from monitor.yard.reading import Channel, Flag


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What one channel may say. Limits belong to the good side; units are the channel's."""

    possible: tuple[float, float]  # outside: no measurement of this quantity at all
    sensor: tuple[float, float]  # outside what such sensors can tell: fail
    operator: tuple[float, float]  # outside what a yard has seen: suspect


# Common practice, no source, but for absolute zero. A temperature probe that says 85.0 has just
# been switched on, one that says -127 does not answer. Relative humidity goes a little over 100 in
# sensors that are wet. A maintainer that says 0 V has lost its clamps: that is news, not noise.
LIMITS = {
    Channel.TEMPERATURE: Limits(
        possible=(-273.15, 2000.0), sensor=(-60.0, 84.9), operator=(-50.0, 60.0)
    ),
    Channel.HUMIDITY: Limits(possible=(-50.0, 200.0), sensor=(0.0, 105.0), operator=(2.0, 105.0)),
    Channel.VOLTAGE: Limits(possible=(-1000.0, 1000.0), sensor=(-1.0, 80.0), operator=(-1.0, 64.0)),
    Channel.CURRENT: Limits(
        possible=(-10_000.0, 10_000.0), sensor=(-100.0, 100.0), operator=(-60.0, 60.0)
    ),
    Channel.CHARGE: Limits(possible=(-1.0, 110.0), sensor=(0.0, 100.0), operator=(0.0, 100.0)),
    Channel.MAINS: Limits(possible=(0.0, 1.0), sensor=(0.0, 1.0), operator=(0.0, 1.0)),
    Channel.SENSOR_BATTERY: Limits(
        possible=(-1.0, 110.0), sensor=(0.0, 100.0), operator=(0.0, 100.0)
    ),
}


def gross_range(value: float, limits: Limits) -> Flag:
    """QARTOD test "gross range": fail outside the sensor's span, suspect outside the operator's."""
    if not limits.sensor[0] <= value <= limits.sensor[1]:
        return Flag.FAIL
    if not limits.operator[0] <= value <= limits.operator[1]:
        return Flag.SUSPECT
    return Flag.PASS
