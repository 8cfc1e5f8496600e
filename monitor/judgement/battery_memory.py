"""What a round carries over of a battery: when it may have frozen, what its voltage last told."""

from collections.abc import Iterable
from math import isfinite

from monitor.judgement.rested import LastKnown
from monitor.yard.assessment import Assessment, Hazard
from monitor.yard.battery_facts import BatteryMemory, ChargeSource
from monitor.yard.facts import battery_memory_of

PART = "battery"


def batteries_before(earlier: Iterable[Assessment]) -> dict[str, BatteryMemory]:
    """What the last round knew of each craft's battery."""
    return {
        each.subject.craft: battery_memory_of(each.facts)
        for each in earlier
        if each.hazard is Hazard.BATTERY and each.subject.part == PART
    }


def last_heard(before: BatteryMemory) -> LastKnown | None:
    """The charge that a maintainer last told, as far as earlier rounds remember it."""
    if before.charge_known_at is None or not isfinite(before.charge_known_fraction):
        return None
    return LastKnown(
        at=before.charge_known_at,
        fraction=before.charge_known_fraction,
        source=ChargeSource.HEARD_BEFORE,
    )
