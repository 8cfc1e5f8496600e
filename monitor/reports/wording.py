"""How numbers and times read to a person: in the yard's units and by the yard's clock."""

import math
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from monitor.units import TemperatureUnit, difference_text, temperature_text
from monitor.yard.alarm import AlarmState
from monitor.yard.assessment import Assessment, Hazard, Standing
from monitor.yard.space import SpaceKind, Yard
from monitor.yard.typeset import typeset

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
_TODAY = timedelta(hours=18)  # so long "22:10" alone means the coming 22:10, whatever the date
_THIS_WEEK = timedelta(days=6)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wording:
    """Writes quantities for one reader at one moment."""

    zone: ZoneInfo
    temperature_unit: TemperatureUnit
    now: datetime

    @classmethod
    def of(cls, yard: Yard, now: datetime, unit: TemperatureUnit | None = None) -> "Wording":
        """The yard's own wording, or that of a person who reads another unit."""
        return cls(zone=yard.zone, temperature_unit=unit or yard.temperature_unit, now=now)

    def temperature(self, value_c: float, digits: int = 1) -> str:
        """Write ``−4.0 °C``; ``not known`` for NaN."""
        return typeset(temperature_text(value_c, self.temperature_unit, digits))

    def difference(self, value_k: float) -> str:
        """Write a difference without its sign: ``2.0 °C``."""
        return typeset(difference_text(abs(value_k), self.temperature_unit))

    def band(self, low_c: float, high_c: float) -> str:
        """Write ``−8.1 to −4.9 °C``; empty when there is no band."""
        if not (math.isfinite(low_c) and math.isfinite(high_c)):
            return ""
        low = self.temperature(low_c).rsplit(" ", 1)[0]
        return f"{low} to {self.temperature(high_c)}"

    def margin(self, assessment: Assessment) -> str:
        """Say how much room is left, in words that need no sign."""
        margin_k = assessment.margin_k
        if math.isnan(margin_k):
            return "margin not known"
        if margin_k == math.inf:
            return (
                "seen dry, nothing to freeze" if assessment.hazard is Hazard.FROST else "no limit"
            )
        if assessment.hazard is Hazard.DAMP:
            return f"{self.difference(margin_k)} {'above' if margin_k >= 0 else 'below'} dew point"
        return f"{self.difference(margin_k)} {'to spare' if margin_k >= 0 else 'short'}"

    def clock(self, at: datetime | None) -> str:
        """Write the yard's time: ``23:28``, ``Sun 08:54``, ``20 Nov 08:54``; empty for None."""
        if at is None:
            return ""
        local, away = at.astimezone(self.zone), abs(at - self.now)
        if away <= _TODAY and (
            local.date() == self.now.astimezone(self.zone).date() or at >= self.now
        ):
            return f"{local:%H:%M}"
        if away <= _THIS_WEEK:
            return f"{local:%a %H:%M}"
        return f"{local.day} {local:%b %H:%M}"

    def day(self, at: datetime) -> str:
        """Write the yard's date: ``Saturday 14 November``."""
        local = at.astimezone(self.zone)
        return f"{local:%A} {local.day} {local:%B}"


def standing_words(standing: Standing, hazard: Hazard) -> str:
    """Say a standing where the bare word would need a glossary."""
    return _SAID.get((hazard, standing), str(standing))


_SAID = {
    (Hazard.FROST, Standing.ICING): "ice inside",
    (Hazard.FROST, Standing.SOLID): "frozen through",
    (Hazard.BATTERY, Standing.LOST): "maintainer lost",
    (Hazard.AIR, Standing.FALLING): "losing heat",
}


def hours(value_h: float) -> str:
    """Write a duration: ``6.5 h``, ``43 h``; ``none`` for zero."""
    if math.isnan(value_h):
        return "not known"
    if value_h < 0.05:
        return "none"
    return f"{value_h:.1f} h" if value_h < 10 else f"{value_h:.0f} h"
