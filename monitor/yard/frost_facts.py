"""What is known of one circuit against the cold: its course, its ice, and what is to be done."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from math import nan
from typing import Literal, NamedTuple

from monitor.craft.plan.step import JobStep
from monitor.craft.protection import Basis, LayupState
from monitor.yard.air_facts import LowBasis


class Occasion(StrEnum):
    """When the steps of an act are taken, and what comes before them."""

    BEFORE_ICE = "before ice"
    IF_IT_RUNS = "if it runs"  # before ice, unless it has come: first whether water still runs
    OR_HEAT_BACK = "or heat back"  # before ice too, unless the space's own heat is got going again
    BEFORE_COLDER_NIGHT = "before colder night"  # it holds tonight, with little to spare
    WHEN_CONVENIENT = "when convenient"
    AFTER_ICE = "after ice"  # nothing is started; what has thawed is looked at first


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedAct:
    """Steps of a job plan, in working order.

    A step that names no circuit is on the circuit that was judged: circuits that are alike share
    one judgement, whatever their ids are.
    """

    occasion: Occasion
    steps: tuple[JobStep, ...] = ()
    by: datetime | None = None  # first ice of the craft; None: at no known hour
    written: str = ""  # the sentence that an earlier program stored instead of steps

    @property
    def minutes(self) -> float:
        """One person's time for all steps."""
        return sum(step.minutes for step in self.steps)


@dataclass(frozen=True, slots=True)
class PastIce:
    """Ice that a circuit has been through and that nobody has looked into since."""

    as_water_at: datetime | None = None  # last time; only an inspection ends it
    as_mix_at: datetime | None = None  # last time at a third of ice; a sample read ends it too
    # The same of ice that there was only if it began as cold as the first air that was read.
    maybe_water_at: datetime | None = None
    maybe_mix_at: datetime | None = None

    @property
    def at(self) -> datetime | None:
        """The last time at which there was."""
        return max((at for at in (self.as_water_at, self.as_mix_at) if at), default=None)

    @property
    def maybe_at(self) -> datetime | None:
        """The last time at which there may have been."""
        return max((at for at in (self.maybe_water_at, self.maybe_mix_at) if at), default=None)


NO_ICE = PastIce()


class Chances(NamedTuple):
    """Shares of the equally likely courses of the night in which it comes to this, from 0 to 1."""

    first_ice: float = nan
    third_ice: float = nan
    frozen_through: float = nan


@dataclass(frozen=True, slots=True, kw_only=True)
class FrostFacts:
    """One circuit followed through the coming night. Why it holds what it holds is on record."""

    form: Literal["frost"] = "frost"
    layup: LayupState
    basis: Basis
    past_ice: PastIce = NO_ICE
    glycol_allowed_for: float = 0.0  # share of a computed mix that may not be there
    mixed: bool = False  # a mix freezes bit by bit; water does at one point
    third_ice_c: float = nan  # where a third of a mix is ice
    probed: bool = False  # its own probe, not a lag behind the air, says how cold it is
    lag_h: float = nan
    start_is_guessed: bool = False  # how cold it was before the readings began still counts
    start_at: datetime | None = None  # when they began, of a guessed start
    came_then: bool = False  # they began because it came there then
    ice_is_assumed: bool = False  # there is ice now only if it began as cold as the air then
    unknown_share: float = nan
    ice_fraction: float = nan  # now
    ice_fraction_at_low: float = nan
    first_ice_in_h: float = nan
    third_ice_in_h: float = nan
    frozen_through_in_h: float = nan
    air_low_c: float = nan
    sky_k: float = 0.0  # the most that a clear sky takes below that air
    low: LowBasis | None = None  # None: drained, so no cold matters
    chance_first_ice: float = nan  # in the liquid, before the noon after the night
    chance_third_ice: float = nan
    chance_frozen_through: float = nan
    act_from_chance: float = nan  # of ice that counts: from there on an act pays
    low_band_low_c: float = nan  # four fifths of the courses have their low between these
    low_band_high_c: float = nan
    zero_without_heat_h: float = nan  # of a warm space: hours to 0 °C if its heat stopped now
    act: PlannedAct | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class UnreadFrostFacts:
    """One circuit of which nobody knows how cold it is, and the ice that it had been through."""

    form: Literal["unread frost"] = "unread frost"
    past_ice: PastIce = NO_ICE
    never_judged: bool = False  # no round has come to it yet
