"""Quantities and times in a reader's language, with the names and signs of Unicode's CLDR."""

import re
from dataclasses import dataclass
from datetime import datetime

from babel.dates import format_date
from babel.numbers import get_decimal_symbol

from monitor.phrases.owner_languages import catalogue_of
from monitor.wording import Wording

_POINT = re.compile(r"(?<=\d)\.(?=\d)")


@dataclass(frozen=True, slots=True, kw_only=True)
class LocalWording(Wording):
    """Writes as `Wording` does, in a language that has a catalogue with patterns for days."""

    def date(self, at: datetime) -> str:
        """Write a day of this season: ``9. November``."""
        return self._by(catalogue_of(self.language).days.date, at)

    def weekday(self, at: datetime) -> str:
        """Write a day near by, in full: ``Samstag, 14. November``."""
        return self._by(catalogue_of(self.language).days.weekday, at)

    def full_time(self, at: datetime) -> str:
        """Write a time in full: ``Samstag, 14. November, 16:00 Uhr CET``."""
        local = at.astimezone(self.zone)
        # The zone by its sign, as clocks and mails have it; CLDR spells most zones out.
        return f"{self.weekday(at)}, {self._hour(local, f'{local:%Z}')}"

    def tick_label(self, at: datetime) -> str:
        """Write a day below a plot: ``Sa 14.``."""
        return self._by(catalogue_of(self.language).days.tick, at)

    def _hour(self, local: datetime, zone: str) -> str:
        hour = catalogue_of(self.language).hour.format(hour=f"{local:%H:%M}")
        return f"{hour} {zone}" if zone else hour

    def _near_day(self, at: datetime) -> str:
        return self._by(catalogue_of(self.language).days.short, at)

    def _by(self, pattern: str, at: datetime) -> str:
        return format_date(at.astimezone(self.zone).date(), pattern, locale=self.language)

    def _written(self, value: float, code: str, digits: int = 1, *, rough: bool = False) -> str:
        # Not by super(): a class with slots is made anew, and its methods keep the first one.
        said = Wording._written(self, value, code, digits, rough=rough)
        return _POINT.sub(get_decimal_symbol(self.language), said)
