"""Which maintainers drive their battery too hard: volts no charge needs, or a battery too hot."""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from math import isfinite, nan

from monitor.clock import to_ms
from monitor.craft.profile import Chemistry
from monitor.craft.stored import Battery, BatteryPlace, StoredCraft
from monitor.judgement.air.grid import Traces
from monitor.physics.battery import float_voltage
from monitor.yard.assessment import (
    Assessment,
    Caution,
    Certainty,
    Hazard,
    Severity,
    Standing,
    Subject,
    Urgency,
)
from monitor.yard.facts import ChargingFacts
from monitor.yard.reading import Channel, Flag
from monitor.yard.space import Sensor

PART = "maintainer"
# Lead at rest in a shop: absorption ends at 14.8 V, so more than 15.5 V is no charge; lithium
# iron phosphate takes 14.6 V at the most (common practice, no source).
HIGHEST_V = {
    Chemistry.FLOODED: 15.5,
    Chemistry.AGM: 15.5,
    Chemistry.GEL: 15.5,
    Chemistry.LIFEPO4: 15.0,
}
ABSORPTION_25C_V = 14.8  # the highest of usual chargers; they raise it in the cold as float is
EQUALISED_V = 16.5  # a flooded battery's equalise stage stays below (common practice, no source)
EQUALISE_COUNTS = timedelta(hours=8)  # a stage of one to four hours, and a person's delay
HIGHEST_C = 45.0  # above it charging is to stop (common practice, no source)
_FRESH = timedelta(minutes=30)


def judge_charging(
    craft: Sequence[StoredCraft], sensors: Mapping[str, Sensor], traces: Traces, now: datetime
) -> list[Assessment]:
    """Judge what the maintainers of some batteries do to them.

    Parameters
    ----------
    craft : sequence of StoredCraft
    sensors : mapping of str to Sensor
        By craft: its maintainer.
    traces : mapping
        Readings by sensor and channel. A doubtful value counts here, a failed one does not.
    now : datetime

    Returns
    -------
    list of Assessment
        One a maintainer whose last value within half an hour is too high, and one, not known,
        where it was too high when it was last heard. All else is not judged. The margin is NaN:
        volts have no kelvin.
    """
    found = []
    for each in craft:
        sensor, battery = sensors.get(each.id), each.battery
        if sensor is None or battery is None or battery.place is BatteryPlace.AWAY:
            continue
        judged = _judge_maintainer(each, battery, sensor, traces, now)
        if judged is not None:
            found.append(judged)
    return found


def highest_v(battery: Battery, battery_c: float, now: datetime) -> float:
    """Volts above which no charge is right: higher in the cold, and while it is equalised."""
    limit = HIGHEST_V[battery.chemistry]
    if battery.chemistry is Chemistry.LIFEPO4:
        return limit
    if isfinite(battery_c):
        # A charger that minds the temperature is right to go higher in hard cold.
        limit = max(
            limit, ABSORPTION_25C_V + float(float_voltage(battery_c)) - float(float_voltage(25.0))
        )
    since = None if battery.equalised_at is None else now - battery.equalised_at
    flooded = battery.chemistry is Chemistry.FLOODED
    if flooded and since is not None and timedelta(0) <= since <= EQUALISE_COUNTS:
        return max(limit, EQUALISED_V)
    return limit


def _judge_maintainer(
    craft: StoredCraft, battery: Battery, sensor: Sensor, traces: Traces, now: datetime
) -> Assessment | None:
    volts, volts_old = _newest_value(traces, sensor, Channel.VOLTAGE, now)
    warm_c, warm_old = _newest_value(traces, sensor, Channel.TEMPERATURE, now)
    limit_v = highest_v(battery, warm_c, now)
    over, hot = volts > limit_v, warm_c > HIGHEST_C
    fresh = (over and not volts_old) or (hot and not warm_old)
    if not (over or hot) or not (fresh or battery.maintained):
        return None  # one that was taken off and is not heard any more does no harm
    standing = Standing.OVERCHARGED if over and not volts_old else Standing.HOT
    return Assessment(
        subject=Subject(battery.space or craft.space, craft.id, PART),
        hazard=Hazard.CHARGING,
        standing=standing if fresh else Standing.NOT_KNOWN,
        at=now,
        facts=ChargingFacts(
            voltage_v=volts,
            highest_v=limit_v,
            battery_c=warm_c,
            highest_c=HIGHEST_C,
            fresh=fresh,
        ),
        calls_for_act=True,
        now_c=warm_c,
        urgency=Urgency.IMMEDIATE,
        severity=Severity.SEVERE,
        certainty=Certainty.OBSERVED if fresh else Certainty.UNKNOWN,
        cautions=(Caution.HYDROGEN, Caution.FROZEN_BATTERY),
    )


def _newest_value(
    traces: Traces, sensor: Sensor, channel: Channel, now: datetime
) -> tuple[float, bool]:
    """The newest value up to now, and whether it is old; NaN where there is none."""
    trace = traces.get((sensor.name, channel))
    if trace is None:
        return nan, True
    now_ms = to_ms(now)
    # A jump of volts or warmth is what is looked for here, so doubt does not silence it.
    keep = (trace.at_ms <= now_ms) & (trace.flag != Flag.FAIL) & (trace.flag != Flag.MISSING)
    if not keep.any():
        return nan, True
    at_ms = int(trace.at_ms[keep].max())
    value = float(trace.value[keep][int(trace.at_ms[keep].argmax())])
    return value, now_ms - at_ms > _FRESH / timedelta(milliseconds=1)
