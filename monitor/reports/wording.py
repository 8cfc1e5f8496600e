"""Words that pages, mails and the command line share for states, kinds and durations."""

import math

from monitor.yard.alarm import AlarmState
from monitor.yard.assessment import Hazard, Standing
from monitor.yard.space import SpaceKind

SPACE_KIND = {
    SpaceKind.HEATED: "heated",
    SpaceKind.COLD: "cold building",
    SpaceKind.WRAPPED: "wrapped row",
    SpaceKind.OPEN: "open rack",
    SpaceKind.BENCH: "battery bench",
}
ALARM_STATE = {
    AlarmState.NORMAL: "over",
    AlarmState.UNACKNOWLEDGED: "nobody has taken it on yet",
    AlarmState.ACKNOWLEDGED: "acknowledged",
    AlarmState.RETURNED: "over, but nobody has taken note",
    AlarmState.SHELVED: "shelved",
    AlarmState.SUPPRESSED: "suppressed by design",
    AlarmState.OUT_OF_SERVICE: "out of service",
}


def standing_words(standing: Standing, hazard: Hazard) -> str:
    """Say a standing where the bare word would need a glossary."""
    return _SAID.get((hazard, standing), str(standing))


_SAID = {
    (Hazard.FROST, Standing.ICING): "ice inside",
    (Hazard.FROST, Standing.SOLID): "frozen through",
    (Hazard.BATTERY, Standing.LOST): "maintainer lost",
    (Hazard.AIR, Standing.FALLING): "losing heat",
    (Hazard.CHARGING, Standing.HOT): "battery too hot",
    (Hazard.DAMP, Standing.DAMP): "damp for a day",
    (Hazard.OWN_CLOCK, Standing.CLOCK_WRONG): "laidup's clock is wrong",
    (Hazard.BROKER, Standing.DROPPED): "broker drops messages",
    (Hazard.DISK, Standing.FILLING): "little room on the disk",
    (Hazard.DISK, Standing.FULL): "the disk is full",
    (Hazard.STORE, Standing.DAMAGED): "the store is damaged",
    (Hazard.FORECAST, Standing.STALE): "forecast is old",
    (Hazard.FROST, Standing.SLUSH): "slush inside",
    (Hazard.POWER, Standing.CUT_OFF): "power or gateway lost",
    (Hazard.RECORD, Standing.OUT_OF_HEAT): "moved out of the heat",
    (Hazard.RECORD, Standing.TORN): "cover torn",
    (Hazard.RECORD, Standing.VOIDED): "lay-up undone",
    (Hazard.RECORD, Standing.UNREADABLE): "record cannot be read",
    (Hazard.SENSING, Standing.APART): "sensors differ",
}


def hours(value_h: float) -> str:
    """Write a duration: ``6.5 h``, ``43 h``; ``none`` for zero."""
    if math.isnan(value_h):
        return "not known"
    if value_h < 0.05:
        return "none"
    return f"{value_h:.1f} h" if value_h < 10 else f"{value_h:.0f} h"


def watched(hours_h: float) -> str:
    """Write for how long a craft has been watched, where that is not the whole week."""
    if hours_h <= 0.0:
        return "not watched this week"
    lasted = f"{hours_h * 60.0:.0f} min" if hours_h < 1.0 else hours(hours_h)
    return f"watched only for {lasted} of this week"
