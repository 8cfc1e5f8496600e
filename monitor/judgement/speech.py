"""How a judgement's sentences write times, temperatures and volumes: the yard's own way."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from monitor.units import difference_text, temperature_text, volume_text
from monitor.yard.space import Yard


@dataclass(frozen=True, slots=True)
class Speech:
    """The yard's zone and units, and the present, as sentences need them."""

    yard: Yard
    now: datetime

    def clock(self, at: datetime) -> str:
        """Write ``06:48``, with the day's name if it is not within the next twelve hours."""
        local = at.astimezone(self.yard.zone)
        near = timedelta(hours=-12) < at - self.now < timedelta(hours=12)
        return f"{local:%H:%M}" if near else f"{local:%a %H:%M}"

    def temperature(self, value_c: float) -> str:
        """Write a temperature in the yard's unit."""
        return temperature_text(value_c, self.yard.temperature_unit)

    def difference(self, value_k: float) -> str:
        """Write a temperature difference in the yard's unit."""
        return difference_text(value_k, self.yard.temperature_unit)

    def about(self, value_l: float) -> str:
        """Write how much to take along, in the yard's unit and no finer than that is known."""
        if self.yard.volume_unit == "L":
            return f"{value_l:.0f} L" if value_l >= 9.5 else f"{value_l:.1f} L"
        return volume_text(value_l, self.yard.volume_unit)


def sentence(*parts: str) -> str:
    """Join parts that are not empty with spaces, the first letter large."""
    text = " ".join(part for part in parts if part)
    # A sensor's own name keeps its letters.
    return text if text.startswith("urn:") else text[:1].upper() + text[1:]
