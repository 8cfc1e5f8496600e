"""How sentences write quantities and times: kept as SI inside the text, read in a reader's units.

A sentence that is stored does not know who will read it. It carries each quantity in brackets
that nobody types, with its UCUM code: ``⟦-3.61 Cel⟧``, ``⟦2.0 K⟧``, ``⟦0.41 L⟧``, ``⟦~0.8 L⟧``
for one that is meant roughly; and of a person the id alone, ``⟦@sam⟧``. `in_reader_units` puts them
into a reader's units and names; all else in the text stays as it is, names with brackets of
their own and sentences of earlier seasons too.
"""

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta, tzinfo

from monitor.units import (
    FLUID_OUNCE_L,
    TemperatureUnit,
    VolumeUnit,
    difference_text,
    temperature_text,
    volume_text,
)

_STORED_QUANTITY = re.compile(r"⟦(~?)(-?\d{1,9}(?:\.\d{1,6})?) (Cel|K|L)⟧")
_STORED_PERSON = re.compile(r"⟦@([^⟦⟧]{1,80})⟧")
_READ_BELOW = 1e8  # what is kept of larger numbers is not read
_DECIMALS = 4  # kept; 0.01 would now and then round to another tenth of a degree Fahrenheit
_GALLON_L = 128 * FLUID_OUNCE_L
_LONG_AGO = datetime(1970, 1, 1, tzinfo=UTC)
NEAR = timedelta(hours=20)  # so long a bare "06:48" can only mean the next one
THIS_WEEK = timedelta(days=6)


@dataclass(frozen=True, slots=True, kw_only=True)
class Units:
    """What a reader reads in; ``data`` for machines: SI, no typesetting."""

    temperature: TemperatureUnit = "C"
    volume: VolumeUnit = "L"
    data: bool = False


SI = Units(data=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wording:
    """Writes quantities and times for one reader at one moment.

    ``units`` None: for whoever will read it; quantities are kept inside the text as SI.
    Without ``now`` no time is near, and every one is written with its date.
    """

    zone: tzinfo = UTC
    now: datetime = _LONG_AGO
    units: Units | None = SI
    people: Mapping[str, str] = field(default_factory=dict, compare=False)  # names by id
    language: str = "en"  # of the sentences around; code of BCP 47

    @property
    def temperature_unit(self) -> TemperatureUnit:
        """What temperatures are read in; °C where they are kept for any reader."""
        return "C" if self.units is None else self.units.temperature

    def temperature(self, value_c: float, digits: int = 1) -> str:
        """Write ``−4.0 °C``; ``not known`` for NaN, ``no limit`` for an infinite one."""
        return self._written(value_c, "Cel", digits)

    def ice_point(self, value_c: float) -> str:
        """Write where ice begins; water's own point is exact: ``0 °C``, ``32 °F``."""
        return self.temperature(value_c, 0 if value_c == 0.0 else 1)

    def difference(self, value_k: float) -> str:
        """Write a temperature difference, without its sign."""
        return self._written(abs(value_k), "K")

    def volume(self, value_l: float) -> str:
        """Write a volume as it was measured; in fluid ounces, from a gallon on in gallons."""
        return self._written(value_l, "L")

    def about(self, value_l: float) -> str:
        """Write how much to take along, no finer than that is known."""
        return self._written(value_l, "L", rough=True)

    def in_reader_units(self, text: str) -> str:
        """Put the quantities kept inside a text into the reader's units; it never raises."""
        return text if self.units is None else in_reader_units(text, self.units, self.people)

    def person(self, said: str) -> str:
        """Write who did something: their name, where the record holds their id.

        What is no id of the yard's people stays as it is: a name of an earlier season, or the id
        of someone whose name is not kept any more.
        """
        return f"⟦@{said}⟧" if self.units is None else self.people.get(said, said)

    def clock(self, at: datetime | None) -> str:
        """Write a time: ``23:28``, ``Sun 08:54``, ``20 Nov 08:54``; empty for None."""
        return "" if at is None else " ".join(filter(None, self.day_and_hour(at)))

    def day_and_hour(self, at: datetime) -> tuple[str, str]:
        """Write a time's day and hour apart: ``Sun``, ``08:54``; no day where it is near."""
        local, hour = at.astimezone(self.zone), self.hour_of_day(at)
        away = at - self.now
        today = local.date() == self.now.astimezone(self.zone).date()
        if today or timedelta(0) <= away <= NEAR:
            return "", hour
        return self._near_day(at) if abs(away) < THIS_WEEK else self.date(at), hour

    def hour_of_day(self, at: datetime) -> str:
        """Write the hour of a time: ``08:54``; where it comes twice, ``01:30 CDT``."""
        local = at.astimezone(self.zone)
        return self._hour(local, f"{local:%Z}" if _comes_twice(local) else "")

    def is_ahead(self, at: datetime) -> bool:
        """Whether a time is still to come."""
        return at > self.now

    def _hour(self, local: datetime, zone: str) -> str:
        return f"{local:%H:%M} {zone}" if zone else f"{local:%H:%M}"

    def _near_day(self, at: datetime) -> str:
        return f"{at.astimezone(self.zone):%a}"

    def date(self, at: datetime) -> str:
        """Write a day of this season: ``9 Nov``."""
        local = at.astimezone(self.zone)
        return f"{local.day} {local:%b}"

    def day(self, at: datetime) -> str:
        """Write a day: ``9 Nov 2026``."""
        return f"{self.date(at)} {at.astimezone(self.zone):%Y}"

    def weekday(self, at: datetime) -> str:
        """Write a day near by, in full: ``Saturday 14 November``."""
        local = at.astimezone(self.zone)
        return f"{local:%A} {local.day} {local:%B}"

    def tick_label(self, at: datetime) -> str:
        """Write a day below a plot: ``Sat 14``."""
        local = at.astimezone(self.zone)
        return f"{local:%a} {local.day}"

    def full_time(self, at: datetime) -> str:
        """Write a time in full: ``Saturday 14 November, 16:00 CST``."""
        return f"{self.weekday(at)}, {at.astimezone(self.zone):%H:%M %Z}"

    def _written(self, value: float, code: str, digits: int = 1, *, rough: bool = False) -> str:
        if not math.isfinite(value):
            return "not known" if math.isnan(value) else "no limit"
        if self.units is None or abs(value) >= _READ_BELOW:
            return self.in_reader_units(stored_quantity(value, code, digits, rough=rough))
        # As it would be read from what is kept, in a quarter of the time.
        if code == "Cel" and not digits:
            rough, digits = True, _DECIMALS
        read = _read_quantity(_stored_number(value, digits), code, self.units, rough=rough)
        return read if self.units.data else typeset(read)


def stored_quantity(value: float, code: str, digits: int = 1, *, rough: bool = False) -> str:
    """Write a finite number as it is kept inside a text.

    A whole number without a decimal point is read without one: ``⟦0 Cel⟧`` is ``32 °F``. A
    temperature that is to be read in whole degrees is kept as finely as any, with ``~`` before it,
    for it is rounded in its reader's unit.
    """
    if code == "Cel" and not digits and value != round(value):
        rough, digits = True, _DECIMALS
    return f"⟦{'~' if rough else ''}{_stored_number(value, digits)} {code}⟧"


def _stored_number(value: float, digits: int) -> str:
    if not digits:
        return f"{value:.0f}"
    whole, _, part = f"{value:.{_DECIMALS}f}".partition(".")
    return f"{whole}.{part.rstrip('0') or '0'}"


FREEZING = stored_quantity(0.0, "Cel", 0)  # water's, for texts


def in_reader_units(text: str, units: Units, people: Mapping[str, str] | None = None) -> str:
    """Put the quantities kept inside a text into a reader's units, and names in place of ids.

    Parameters
    ----------
    text : str
        Any text; what is not a kept quantity stays as it is.
    units : Units
    people : mapping of str to str, optional
        Names by id.

    Returns
    -------
    str
        For people with a true minus and with units that no line break parts from their number.
    """
    read = text
    if "⟦" in text:
        known = people or {}
        read = _STORED_QUANTITY.sub(lambda found: _read(found, units), read)
        read = _STORED_PERSON.sub(lambda found: known.get(found[1], found[1]), read)
    return read if units.data else typeset(read)


def _read(found: re.Match[str], units: Units) -> str:
    rough, number, code = found.groups()
    return _read_quantity(number, code, units, rough=bool(rough))


def _read_quantity(number: str, code: str, units: Units, *, rough: bool) -> str:
    value, digits = float(number), 1 if "." in number else 0
    if code == "Cel":
        return temperature_text(value, units.temperature, 0 if rough else digits)
    if code == "K":
        if units.data:
            return f"{value:.{digits}f} K"
        return difference_text(value, units.temperature, digits)
    if units.volume == "fl oz" and value >= _GALLON_L - 10**-_DECIMALS:  # as finely as it is kept
        return f"{value / _GALLON_L:.1f} gal"
    if units.volume == "L" and rough:
        return f"{value:.0f} L" if value >= 9.5 else f"{value:.1f} L"
    return volume_text(value, units.volume)


def _comes_twice(local: datetime) -> bool:
    """Whether this hour comes twice, in the night in which clocks go back."""
    return local.replace(fold=0).utcoffset() != local.replace(fold=1).utcoffset()


def listed(words: tuple[str, ...] | list[str], last: str = "and") -> str:
    """Write ``a, b and c``; names that hold commas themselves are set apart by semicolons."""
    if len(words) < 2:
        return "".join(words)
    comma = "; " if any("," in word for word in words) else ", "
    return f"{comma.join(words[:-1])}{';' if comma == '; ' else ''} {last} {words[-1]}"


def listed_first(words: Sequence[str], most: int, separator: str = ", ") -> str:
    """Write ``a, b and 3 more``: so many of them, and how many are left.

    Parameters
    ----------
    words : sequence of str
    most : int
        So many are named.
    separator : str
        Another one than a comma stands before the count, too: ``a; b; and 3 more``.
    """
    left = len(words) - most
    more = f"{'' if separator == ', ' else separator.rstrip()} and {left} more" if left > 0 else ""
    return f"{separator.join(words[:most])}{more}"


def span_in_words(seconds: float) -> str:
    """Write a span of time [s] in the largest unit that it holds twice: ``3 hours``."""
    for unit, length_s in (("days", 86400.0), ("hours", 3600.0), ("minutes", 60.0)):
        if seconds >= 2 * length_s:
            return f"{seconds / length_s:.0f} {unit}"
    return f"{seconds:.0f} seconds"


def hours_in_words(value_h: float) -> str:
    """Write a number of hours: ``6.5 h``, ``43 h``; ``none`` for next to nothing."""
    if math.isnan(value_h):
        return "not known"
    if value_h < 0.05:
        return "none"
    return f"{value_h:.1f} h" if value_h < 10 else f"{value_h:.0f} h"


_MINUS = re.compile(r"(?<![\w-])-(?=\d)")
_BEFORE_UNIT = re.compile(r"(?<=\d) (?=(?:°[CF]|%|fl oz|gal|[LVAhK]|min)(?!\w))")


def typeset(text: str) -> str:
    """Give numbers a true minus, and a space before their unit at which no line breaks."""
    return _BEFORE_UNIT.sub("\N{NO-BREAK SPACE}", _MINUS.sub("−", text))
