"""A craft as judgement sees it: where it stands, its parts, and what each circuit can stand."""

from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum

from monitor.craft.circuit import Circuit
from monitor.craft.craft_condition import UNKNOWN_KEEPING, Keeping, Unsettled
from monitor.craft.plan.start import PlanStart
from monitor.craft.profile import Chemistry, Surface
from monitor.craft.protection import Protection


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
    equalised_at: datetime | None = None  # its maintainer's equalise stage was set off on purpose
    disconnected: bool = False  # the record says that nothing draws from it
    since: datetime | None = None  # it stands in this air; None: longer than is on record
    came_from: str = ""  # space in whose air it stood before; empty: not on record

    @property
    def may_be_drawn_from(self) -> bool:
        """Aboard, or nobody knows where, and nobody noted that its lead is off."""
        aboard = self.place in {BatteryPlace.ABOARD, BatteryPlace.UNKNOWN}
        return aboard and not self.disconnected

    @property
    def has_lead_cells(self) -> bool:
        """Its acid can freeze, and a cell of it can die alone."""
        return self.chemistry is not Chemistry.LIFEPO4


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
    came_from: str = ""  # space in whose air it stood before; empty: from outside the yard
    keeping: Keeping = UNKNOWN_KEEPING
    unsettled: tuple[Unsettled, ...] = ()  # what happened to it, and was not put right yet
    unreadable: str = ""  # what of its record cannot be read: it is judged as unprotected
    profile_digest: str = field(default="", compare=False, repr=False)
    # What its job plan starts from. Whatever of it changes a judgement stands above as well.
    plan_start: PlanStart | None = field(default=None, compare=False, repr=False)

    def __post_init__(self) -> None:
        circuits = {circuit.id for circuit in self.circuits}
        if circuits != set(self.protection):
            odd = ", ".join(sorted(circuits ^ set(self.protection)))
            raise ValueError(f"craft {self.id}: circuits and protections differ in {odd}")


@dataclass(frozen=True, slots=True, kw_only=True)
class DepartedCraft:
    """A craft as it stood in the moment in which it left the yard's care."""

    craft: StoredCraft
    left_at: datetime
