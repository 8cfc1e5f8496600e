"""A craft as judgement sees it: where it stands, its parts, and what each circuit can stand."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from monitor.craft.circuit import Circuit
from monitor.craft.protection import Protection


class Chemistry(StrEnum):
    """Kind of battery."""

    FLOODED = "flooded"
    AGM = "agm"
    GEL = "gel"
    LIFEPO4 = "lifepo4"


class BatteryPlace(StrEnum):
    """Where a craft's battery spends the winter."""

    ABOARD = "aboard"
    BENCH = "bench"
    AWAY = "away"  # with its owner
    UNKNOWN = "unknown"  # judged as aboard


@dataclass(frozen=True, slots=True, kw_only=True)
class Battery:
    """A craft's battery and where it stands."""

    chemistry: Chemistry
    capacity_ah: float
    lag_low_h: float
    lag_high_h: float
    place: BatteryPlace
    space: str  # whose air cools it; empty when AWAY
    maintained: bool  # the record says that a maintainer feeds it
    rested_v: float | None = None  # last rested voltage on record
    rested_at: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Surface:
    """Bare metal that sweats: how slowly it follows the air, and its height."""

    id: str
    name: str
    lag_low_h: float
    lag_high_h: float
    length_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredCraft:
    """One craft in the yard's care at one time.

    Invariant: every circuit has exactly one protection, under its own id.
    """

    id: str
    name: str
    profile: str
    owner: str  # a person's id; empty when the yard has none on file
    space: str
    berth: str
    circuits: tuple[Circuit, ...]
    protection: dict[str, Protection]
    surfaces: tuple[Surface, ...] = ()
    battery: Battery | None = None
    hull_number: str = ""
    since: datetime | None = None  # it stands in this space; None: longer than is on record

    def __post_init__(self) -> None:
        circuits = {circuit.id for circuit in self.circuits}
        if circuits != set(self.protection):
            odd = ", ".join(sorted(circuits ^ set(self.protection)))
            raise ValueError(f"craft {self.id}: circuits and protections differ in {odd}")
