"""Quantities at the edges: text with a unit in, SI out, and back in the yard's own units.

Inside laidup a number's unit ends its name (``air_c``, ``volume_l``); only people and files
speak in °F or fluid ounces, and they do so through this module.
"""

import math
import re
from dataclasses import dataclass
from typing import Literal

from monitor.errors import QuantityError

TemperatureUnit = Literal["C", "F"]
VolumeUnit = Literal["L", "fl oz"]

FLUID_OUNCE_L = 0.0295735295625  # US fluid ounce, exact: NIST SP 811, appendix B


@dataclass(frozen=True, slots=True)
class Dimension:
    """One kind of quantity: its SI unit and how others turn into it (value × scale + offset)."""

    name: str
    unit: str
    units: dict[str, tuple[float, float]]
    example: str
    low: float = -math.inf
    high: float = math.inf


_C_PER_F = 5.0 / 9.0

TEMPERATURE = Dimension(
    "temperature",
    "C",
    {"c": (1, 0), "°c": (1, 0), "f": (_C_PER_F, -32 * _C_PER_F), "°f": (_C_PER_F, -32 * _C_PER_F)},
    "-4C or 25F",
    low=-273.15,
)
TEMPERATURE_DIFFERENCE = Dimension(
    "temperature difference", "K", {"k": (1, 0), "c": (1, 0), "f": (_C_PER_F, 0)}, "2K"
)
HUMIDITY = Dimension("relative humidity", "%", {"%": (1, 0), "%rh": (1, 0)}, "80%", 0, 100)
BRIX = Dimension("Brix reading", "Bx", {"bx": (1, 0), "brix": (1, 0), "%": (1, 0)}, "20Bx", 0, 60)
STRENGTH = Dimension("strength", "1", {"%": (0.01, 0)}, "30%", 0, 1)
VOLUME = Dimension(
    "volume",
    "L",
    {
        "l": (1, 0),
        "ml": (0.001, 0),
        "floz": (FLUID_OUNCE_L, 0),
        "oz": (FLUID_OUNCE_L, 0),
        "pt": (16 * FLUID_OUNCE_L, 0),
        "qt": (32 * FLUID_OUNCE_L, 0),
        "gal": (128 * FLUID_OUNCE_L, 0),
    },
    "0.4L or 14floz",
    low=0,
)
VOLTAGE = Dimension("voltage", "V", {"v": (1, 0), "mv": (0.001, 0)}, "12.4V")
CURRENT = Dimension("current", "A", {"a": (1, 0), "ma": (0.001, 0)}, "0.35A")
CHARGE = Dimension("battery capacity", "Ah", {"ah": (1, 0), "mah": (0.001, 0)}, "18Ah", low=0)
DURATION = Dimension(
    "duration",
    "h",
    {"h": (1, 0), "min": (1 / 60, 0), "s": (1 / 3600, 0), "d": (24, 0)},
    "6h or 90min",
    low=0,
)
HEAT_CAPACITY = Dimension(
    "heat capacity", "kJ/K", {"kj/k": (1, 0), "j/k": (0.001, 0)}, "20kJ/K", low=0
)
LENGTH = Dimension(
    "length",
    "m",
    {"m": (1, 0), "cm": (0.01, 0), "mm": (0.001, 0), "ft": (0.3048, 0), "in": (0.0254, 0)},
    "1.5m or 5ft",
    low=0,
)
PRESSURE = Dimension("pressure", "Pa", {"pa": (1, 0), "hpa": (100, 0), "kpa": (1000, 0)}, "1013hPa")

# Units as people write them out; US measures, as all others of this module.
_WRITTEN_OUT = {
    **dict.fromkeys(("gallon", "gallons", "gals", "usgal", "usgallon", "usgallons"), "gal"),
    **dict.fromkeys(("quart", "quarts", "qts"), "qt"),
    **dict.fromkeys(("pint", "pints", "pts"), "pt"),
    **dict.fromkeys(("fluidounce", "fluidounces", "ounce", "ounces", "ozs", "usfloz"), "floz"),
    **dict.fromkeys(("liter", "liters", "litre", "litres", "ltr"), "l"),
    **dict.fromkeys(("millilitre", "millilitres", "milliliter", "milliliters"), "ml"),
    **dict.fromkeys(("degf", "degreesf", "degreef", "fahrenheit", "degreesfahrenheit"), "f"),
    **dict.fromkeys(("degc", "degreesc", "degreec", "celsius", "degreescelsius"), "c"),
    **dict.fromkeys(("volt", "volts"), "v"),
    **dict.fromkeys(("hour", "hours", "hrs", "hr"), "h"),
    **dict.fromkeys(("minute", "minutes", "mins"), "min"),
    **dict.fromkeys(("percent", "pct"), "%"),
    **dict.fromkeys(("feet", "foot"), "ft"),
    **dict.fromkeys(("inch", "inches"), "in"),
}
_DEGREE_SIGNS = str.maketrans(dict.fromkeys("\u00ba\u02da", "°"))  # that look like one

_NUMBER = re.compile(r"\s*([+-]?(?:\d+[.,]?\d*|[.,]\d+)(?:e[+-]?\d+)?)\s*(.*?)\s*", re.IGNORECASE)
_THOUSANDS = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}")  # 1,000 here, 1.0 there: nobody can tell
# What laidup itself and word processors write for a minus, and hyphens that look like one.
_MINUS = str.maketrans(dict.fromkeys("\u2212\u2010\u2011\u2012\u2013\uff0d", "-"))


def parse_quantity(text: str, dimension: Dimension) -> float:
    """Turn ``14floz``, ``25 F`` or ``80%`` into a number in the dimension's SI unit.

    Parameters
    ----------
    text : str
        A number and its unit; white space and letter case do not matter. The decimal mark may
        be a comma, and the minus the one that laidup itself writes.
    dimension : Dimension
        What the number should be a quantity of.

    Returns
    -------
    float
        The value in ``dimension.unit``.

    Raises
    ------
    QuantityError
        If there is no number, the unit is missing or not one of the dimension's, or the value
        lies outside what is physically possible.
    """
    match = _NUMBER.fullmatch(text.translate(_MINUS))
    known = ", ".join(unit for unit in dimension.units if not unit.startswith("°"))
    if not match:
        raise QuantityError(
            f"{text!r} is no {dimension.name}",
            f"write it like {dimension.example}",
        )
    number, unit = match.groups()
    if _THOUSANDS.fullmatch(number):
        point, joined = number.replace(",", "."), number.replace(",", "")
        raise QuantityError(
            f"{text!r} may be {joined} or {point}", f"write {joined} or {point} {unit}".rstrip()
        )
    number = number.replace(",", ".")
    key = unit.lower().translate(_DEGREE_SIGNS).replace(" ", "").replace(".", "")
    key = _WRITTEN_OUT.get(key, key)
    if key not in dimension.units:
        problem = f"unit {unit!r}" if unit else "no unit"
        raise QuantityError(
            f"{text!r} has {problem}",
            f"a {dimension.name} takes one of {known}, like {dimension.example}",
        )
    scale, offset = dimension.units[key]
    value = float(number) * scale + offset
    if not (math.isfinite(value) and dimension.low <= value <= dimension.high):
        shown, per = ("%", 100) if dimension.unit == "1" else (dimension.unit, 1)
        limits = f"{dimension.low * per:g} to {dimension.high * per:g} {shown}"
        raise QuantityError(f"{text!r} is outside what a {dimension.name} can be ({limits})")
    return value


def in_unit(value_c: float, unit: TemperatureUnit) -> float:
    """A temperature as a number in °C or °F."""
    return value_c if unit == "C" else value_c * 1.8 + 32.0


def in_celsius(value: float, unit: TemperatureUnit) -> float:
    """A number in °C or °F as a temperature in °C."""
    return value if unit == "C" else (value - 32.0) / 1.8


def temperature_text(value_c: float, unit: TemperatureUnit = "C", digits: int = 1) -> str:
    """Write a temperature as the yard reads it: ``-4.0 °C`` or ``24.8 °F``."""
    if not math.isfinite(value_c):
        return "not known" if math.isnan(value_c) else "no limit"
    value = in_unit(value_c, unit)
    return f"{round(value, digits) + 0.0:.{digits}f} °{unit}"


def difference_text(value_k: float, unit: TemperatureUnit = "C", digits: int = 1) -> str:
    """Write a temperature difference as the yard reads it; °F differences are 1.8 times larger."""
    if not math.isfinite(value_k):
        return "not known" if math.isnan(value_k) else "no limit"
    value = value_k if unit == "C" else value_k * 1.8
    return f"{round(value, digits) + 0.0:.{digits}f} °{unit}"


def volume_text(value_l: float, unit: VolumeUnit = "L") -> str:
    """Write a volume as the yard reads it: ``0.41 L``, ``20.0 L`` or ``14 fl oz``."""
    if unit == "L":
        return f"{value_l:.2f} L" if value_l < 9.995 else f"{value_l:.1f} L"
    return f"{value_l / FLUID_OUNCE_L:.0f} fl oz"


def volume_in_both(value_l: float) -> str:
    """Write a volume for readers of either measure: ``5.68 L (1.5 gal)``, ``0.1 L (3 fl oz)``."""
    gallons = value_l / (128 * FLUID_OUNCE_L)
    us = f"{gallons:.3g} gal" if gallons >= 1.0 else volume_text(value_l, "fl oz")
    return f"{value_l:.3g} L ({us})"


def temperature_in_both(value_c: float) -> str:
    """Write a temperature for readers of either scale: ``-28.9 °C (-20 °F)``."""
    return f"{round(value_c, 1):g} °C ({round(in_unit(value_c, 'F')):g} °F)"


def json_number(value: float, decimals: int | None = None) -> float | None:
    """A number as JSON takes it, rounded if asked; None, which is null there, for NaN and inf."""
    if not math.isfinite(value):
        return None
    return float(value) if decimals is None else round(value, decimals)
