"""How the record's sentences write days, temperatures and volumes: the yard's own way."""

from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo

from monitor.units import FLUID_OUNCE_L, TemperatureUnit, VolumeUnit, temperature_text, volume_text


@dataclass(frozen=True, slots=True, kw_only=True)
class Wording:
    """The yard's zone and units, as sentences need them."""

    zone: tzinfo = UTC
    temperature_unit: TemperatureUnit = "C"
    volume_unit: VolumeUnit = "L"

    def day(self, at: datetime) -> str:
        """Write a day such as ``9 Nov 2026``."""
        local = at.astimezone(self.zone)
        return f"{local.day} {local:%b %Y}"

    def temperature(self, value_c: float) -> str:
        """Write a temperature in the yard's unit."""
        return temperature_text(value_c, self.temperature_unit)

    def volume(self, value_l: float) -> str:
        """Write a volume in the yard's unit; from a gallon on, in gallons."""
        gallons = value_l / (128 * FLUID_OUNCE_L)
        if self.volume_unit == "fl oz" and gallons >= 1.0:
            return f"{gallons:.1f} gal"
        return volume_text(value_l, self.volume_unit)


def listed(words: tuple[str, ...] | list[str], last: str = "and") -> str:
    """Write ``a, b and c``; names that hold commas themselves are set apart by semicolons."""
    if len(words) < 2:
        return "".join(words)
    comma = "; " if any("," in word for word in words) else ", "
    return f"{comma.join(words[:-1])}{';' if comma == '; ' else ''} {last} {words[-1]}"
