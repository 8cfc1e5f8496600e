"""The form of a profile file: its tables and keys, each checked."""

from typing import Annotated, Literal

from pydantic import AfterValidator, Field

from monitor.craft.circuit import Drainage, Way
from monitor.craft.layup import Act, FlowOrder, Posture
from monitor.craft.profile import (
    Chemistry,
    CircuitKind,
    FuelSystem,
    Proof,
    Shape,
)
from monitor.errors import BadValueError
from monitor.settings.faults import Block
from monitor.settings.words import Duration, Id, Text, above_zero, quantity_validator
from monitor.units import CHARGE, HEAT_CAPACITY, LENGTH, VOLUME

TOP_LEVEL = 99  # any folder: what a name means everywhere but in a file that extends its own name
Mark = Literal["estimate", "measured"]


def _check_rising(ends: tuple[float, float]) -> tuple[float, float]:
    if ends[0] > ends[1]:
        raise BadValueError("the short end comes first", "swap the two")
    return ends


class VolumeFigure(Block):
    """A volume and where it comes from."""

    value: Annotated[float, quantity_validator(VOLUME), AfterValidator(above_zero)]
    mark: Mark
    source: Text


class HeatFigure(Block):
    """A heat capacity and where it comes from."""

    value: Annotated[float, quantity_validator(HEAT_CAPACITY), AfterValidator(above_zero)]
    mark: Mark
    source: Text


class LagFigure(Block):
    """The short and the long end of a time constant, and where they come from."""

    value: Annotated[tuple[Duration, Duration], AfterValidator(_check_rising)]
    mark: Mark
    source: Text


class CircuitBlock(Block):
    """``[circuits.ID]``: one water-bearing volume."""

    name: Text
    kind: CircuitKind
    shape: Shape | None = None  # None: the one that is hardest to prove, see `careful_shape`
    dead_leg: bool | None = None  # None: a passage has one
    where: Text
    material: Text
    drainage: Drainage
    flow: str = ""
    posture: Posture | None = None
    when_draining: str = ""
    before_use: str = ""
    volume: VolumeFigure
    lag: LagFigure
    heat_capacity: HeatFigure
    treatments: Annotated[
        dict[Way, Annotated[tuple[Proof, ...], Field(min_length=1)]], Field(min_length=1)
    ]


class SurfaceBlock(Block):
    """``[surfaces.ID]``: bare metal that sweats."""

    name: Text
    lag: LagFigure
    length: Annotated[float, quantity_validator(LENGTH), AfterValidator(above_zero)]


class BatteryBlock(Block):
    """``[battery]``: what this type usually carries."""

    chemistry: Chemistry
    capacity: Annotated[float, quantity_validator(CHARGE), AfterValidator(above_zero)]
    lag: LagFigure


class WantBlock(Block):
    """``[wants.ID]``: work that a complete lay-up holds."""

    acts: Annotated[tuple[Act, ...], Field(min_length=1)]
    reason: Text


class ProfileFile(Block):
    """A complete profile, with everything that it extends and carries merged in."""

    name: Text
    fuel: FuelSystem = FuelSystem.NONE
    flow_order: FlowOrder | None = None
    circuits: Annotated[dict[Id, CircuitBlock], Field(min_length=1)]
    surfaces: Annotated[dict[Id, SurfaceBlock], Field(default_factory=dict)]
    battery: BatteryBlock | None = None
    wants: Annotated[dict[Id, WantBlock], Field(default_factory=dict)]


class PartBlock(Block):
    """``[parts.ID]``: another profile that this type carries whole, such as each engine."""

    profile: Id
    prefix: Id | None = None
    name: Text | None = None


class LinksBlock(Block):
    """The keys that tie a file to other profiles; gone before the rest is checked."""

    extends: Id | None = None
    drop: tuple[Id, ...] = ()
    parts: Annotated[dict[Id, PartBlock], Field(default_factory=dict)]
