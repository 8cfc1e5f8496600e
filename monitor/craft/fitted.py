"""What a type of craft carries besides its circuits: kinds of battery, metal that sweats."""

from dataclasses import dataclass
from enum import StrEnum


class Chemistry(StrEnum):
    """Kind of battery."""

    FLOODED = "flooded"
    AGM = "agm"
    GEL = "gel"
    LIFEPO4 = "lifepo4"


@dataclass(frozen=True, slots=True, kw_only=True)
class Surface:
    """Bare metal that sweats: how slowly it follows the air, and its height."""

    id: str
    name: str
    lag_low_h: float
    lag_high_h: float
    length_m: float
