"""What is known of a battery: its charge and how, its maintainer, the cold at which it freezes."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from math import isfinite, nan
from typing import Literal

from monitor.craft.stored import BatteryPlace


class ChargeSource(StrEnum):
    """How a charge is known."""

    MAINTAINER = "maintainer"  # heard now
    RESTED = "rested"  # a voltage at rest on record, less what went since
    HEARD_BEFORE = "heard before"  # what a maintainer last told, less what went since
    NOTHING = "nothing"


class LossKind(StrEnum):
    """Why a maintainer does not count as feeding its battery."""

    NEVER_HEARD = "never heard"  # not within the days looked at
    SILENT = "silent"
    NO_MAINS = "no mains"
    NOT_CHARGING = "not charging"


@dataclass(frozen=True, slots=True, kw_only=True)
class MaintainerLoss:
    """A maintainer that no longer feeds its battery."""

    kind: LossKind
    sensor: str
    heard_at: datetime | None = None


class FaultKind(StrEnum):
    """What a battery or its maintainer does that a sound one does not."""

    DEAD_CELL = "dead cell"
    CHARGED_BELOW_ZERO = "charged below zero"  # lithium
    GASSING = "gassing"  # above ``high_v``
    FALLS_FAST = "falls fast"
    NEVER_FULL = "never full"  # took ``taken_ah``
    LONG_ABSORPTION = "long absorption"
    TAKES_MORE = "takes more"
    FLOAT_OFF = "float off"  # at ``held_v``, where ``low_v`` to ``high_v`` are right


@dataclass(frozen=True, slots=True, kw_only=True)
class BatteryFault:
    """One fault, with the figures that show it."""

    kind: FaultKind
    high_v: float = nan
    low_v: float = nan
    held_v: float = nan
    taken_ah: float = nan


@dataclass(frozen=True, slots=True, kw_only=True)
class BatteryMemory:
    """What one round hands to the next of a battery."""

    may_be_frozen_at: datetime | None = None  # last time at which ice could not be ruled out
    charge_known_at: datetime | None = None  # a voltage last told its charge
    charge_known_fraction: float = nan


NOTHING_BEFORE = BatteryMemory()


@dataclass(frozen=True, slots=True, kw_only=True)
class BatteryFacts:
    """One battery: its charge and how that is known, what feeds it, where its acid freezes."""

    form: Literal["battery"] = "battery"
    place: BatteryPlace
    has_lead_cells: bool
    maintained: bool  # the record says that a maintainer feeds it
    capacity_ah: float
    source: ChargeSource
    source_at: datetime | None = None  # of the voltage, or of what was last heard
    source_fraction: float = nan  # charge that was told then
    source_v: float = nan
    loss: MaintainerLoss | None = None
    phase: int = 0  # of its maintainer (`monitor.physics.maintainer.Phase`)
    charge_fraction: float = nan
    charge_low_fraction: float = nan  # if the usual load draws from it
    load_a: float = 0.0
    voltage_v: float = nan
    fault: BatteryFault | None = None
    likely_freezes_c: float = nan  # at the likely charge; at the lower one is the judgement's limit
    only_feared: bool = False  # what may have been drawn counts, not the known charge
    chance_freezing: float = nan  # in what share of the night's courses its acid freezes
    act_from_chance: float = nan  # from there on an act pays
    low_band_low_c: float = nan  # four fifths of the courses have its low between these
    low_band_high_c: float = nan
    long_empty_h: float = 0.0  # 0: not so long that the acid is weaker
    flat_at: datetime | None = None  # left alone it wants charging by then
    flat_in_h: float = nan
    test_at: datetime | None = None  # somebody has to have tested it by then
    test_in_h: float = nan
    memory: BatteryMemory = NOTHING_BEFORE

    @property
    def charge_is_known(self) -> bool:
        """Whether anything tells how much charge is in it."""
        return isfinite(self.charge_fraction)
