"""What a type of craft is made of: its circuits, how each is treated, and what else it carries."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum

from monitor.craft.canonical import digest_of
from monitor.craft.circuit import Circuit, Way
from monitor.craft.layup import Act, FlowOrder, Posture
from monitor.errors import BadValueError


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


class CircuitKind(StrEnum):
    """What usually stands in a circuit, and so which events undo its treatment."""

    RAW = "raw water"  # lake water enters whenever the engine runs
    COOLANT = "closed coolant"  # never drained; tested
    OIL = "oil"  # freezes only once water got in
    PLUMBING = "plumbing"  # filled by use, not by the engine
    POCKET = "pocket"  # fills with rain or spray


class Shape(StrEnum):
    """How a circuit holds its water, and so what an act can prove of it."""

    PASSAGE = "passage"  # of a block, a manifold, an exchanger
    LOW_LOOP = "low loop"  # water box, muffler: no drain empties it
    COOLANT_LOOP = "coolant loop"
    OIL_FILLED = "oil-filled"  # gearcase, pump housing
    SMALL_PART = "small part"  # pump, bowl, short hose, tap: both its ends can be seen
    TANK = "tank"  # tank, bag, heater
    POCKET = "pocket"  # hub, tray, box section: holds rain and spray


def careful_shape(kind: CircuitKind, ways: Collection[Way]) -> Shape:
    """Find the shape of a circuit whose profile states none: the one that is hardest to prove."""
    if kind is CircuitKind.RAW:
        return Shape.PASSAGE if Way.DRAIN in ways else Shape.LOW_LOOP
    return {
        CircuitKind.COOLANT: Shape.COOLANT_LOOP,
        CircuitKind.OIL: Shape.OIL_FILLED,
        CircuitKind.PLUMBING: Shape.TANK,
        CircuitKind.POCKET: Shape.POCKET,
    }[kind]


class Proof(StrEnum):
    """What a person must have seen before a treatment counts."""

    DRY = "dry"
    OUTFLOW = "outflow"
    HOT_ENGINE = "hot engine"
    ICE_POINT = "ice point"
    CLEAR_OIL = "clear oil"
    POSTURE = "posture"


@dataclass(frozen=True, slots=True, kw_only=True)
class Treatment:
    """One way to protect a circuit, and all the evidence that it needs."""

    way: Way
    needs: frozenset[Proof]


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """Where a number of the profile comes from."""

    mark: str  # "estimate" or "measured"
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CircuitProfile:
    """A circuit, what may be done to it, and where its figures come from."""

    circuit: Circuit
    kind: CircuitKind
    shape: Shape
    treatments: tuple[Treatment, ...]
    dead_leg: bool = False  # a branch that a pour does not pass, and where water stays
    flow: str = ""  # circuits with the same word are reached by one flow of antifreeze
    posture: Posture | None = None  # only dry while the craft stands so
    when_draining: str = ""  # what a person has to mind who drains it, as a clause
    before_use: str = ""  # and who makes it ready in spring
    figures: tuple[tuple[str, Figure], ...] = ()  # by figure: volume, lag, heat_capacity

    def treatment(self, way: Way) -> Treatment | None:
        """Find the treatment of that way; None if the profile does not accept it."""
        return next((one for one in self.treatments if one.way is way), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class BatteryProfile:
    """The battery that this type of craft usually carries."""

    chemistry: Chemistry
    capacity_ah: float
    lag_low_h: float
    lag_high_h: float


class FuelSystem(StrEnum):
    """How fuel reaches the engine, and so where untreated fuel stays."""

    CARBURETTOR = "carburettor"
    INJECTION = "injection"
    DIESEL = "diesel"  # it has no plugs, and runs away on oil mist: it is not fogged
    NONE = "none"


@dataclass(frozen=True, slots=True, kw_only=True)
class Want:
    """Work that a complete lay-up of this type holds: any one of ``acts``, and why."""

    acts: tuple[Act, ...]
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile:
    """A type of craft.

    Invariants: circuit ids are unique; there is at least one circuit.
    """

    id: str
    name: str
    circuits: tuple[CircuitProfile, ...]
    surfaces: tuple[Surface, ...] = ()
    battery: BatteryProfile | None = None
    fuel: FuelSystem = FuelSystem.NONE
    flow_order: FlowOrder | None = None  # which comes first when the engine runs on a hose
    wants: tuple[Want, ...] = ()
    digest: str = field(default="", compare=False)  # of all that its files say

    def __post_init__(self) -> None:
        ids = [one.circuit.id for one in self.circuits]
        if not ids:
            raise BadValueError(
                f"profile {self.id}: no circuits",
                "a craft without one needs no watch",
            )
        twice = sorted({one for one in ids if ids.count(one) > 1})
        if twice:
            raise ValueError(f"profile {self.id}: circuit {', '.join(twice)} stands there twice")

    def find(self, circuit_id: str) -> CircuitProfile:
        """Find a circuit by id; KeyError if this type has none such."""
        for one in self.circuits:
            if one.circuit.id == circuit_id:
                return one
        raise KeyError(circuit_id)

    @property
    def engine_paths(self) -> tuple[tuple[str, ...], ...]:
        """Ids of the circuits that lake water passes, one tuple for each engine."""
        paths: dict[str, list[str]] = {}
        for one in self.circuits:
            if one.kind is CircuitKind.RAW:
                paths.setdefault(one.flow or one.circuit.id, []).append(one.circuit.id)
        return tuple(tuple(names) for names in paths.values())

    @property
    def engine_names(self) -> tuple[str, ...]:
        """What the ids of each engine's circuits begin with, ``port``; empty of a craft of one."""
        paths = self.engine_paths
        names = tuple(path[0].partition("-")[0] for path in paths)
        told = len(paths) > 1 and len(set(names)) == len(names)
        alike = all(
            one.startswith(f"{name}-")
            for name, path in zip(names, paths, strict=True)
            for one in path
        )
        return names if told and alike else ()

    @property
    def circuit_ids(self) -> tuple[str, ...]:
        """Ids of all circuits, in the profile's order."""
        return tuple(one.circuit.id for one in self.circuits)


def composed(profile_id: str, fittings: Sequence[str], profiles: Mapping[str, Profile]) -> Profile:
    """A craft's own type: its profile and the fittings that it carries beyond it.

    Raises
    ------
    KeyError
        If one of them is no profile.
    ValueError
        If a fitting brings a circuit that is there already.
    """
    base = profiles[profile_id]
    parts = [profiles[name] for name in fittings]
    return replace(
        base,
        circuits=base.circuits + tuple(one for part in parts for one in part.circuits),
        surfaces=base.surfaces + tuple(one for part in parts for one in part.surfaces),
        wants=base.wants + tuple(one for part in parts for one in part.wants),
        digest=digest_of([base.digest, *(part.digest for part in parts)]) if parts else base.digest,
    )
