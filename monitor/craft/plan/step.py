"""One step of a job plan: what is done to which circuits, with what, and what has to be seen."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from monitor.craft.findings import Finding
from monitor.craft.layup import Act, Posture
from monitor.craft.plan.shelf import ShelfProduct


class StepKind(StrEnum):
    """What a step asks for; its words stand in ``monitor.phrases.plan``."""

    THAW = "thaw"  # ice is in it now
    # autumn, in working order
    INSPECT_AFTER_ICE = "inspect after ice"
    MEND_FINDING = "mend finding"
    EMPTY_TANK = "empty tank"
    CLEAR_BLOCKAGE = "clear blockage"
    FLUSH = "flush"  # two kinds of glycol, or one that no scale reads, where nothing drains it
    STABILISE_FUEL = "stabilise fuel"
    RUN_TREATED_FUEL = "run treated fuel"
    DRAIN_FUEL = "drain fuel"
    DRAIN_ENGINE = "drain engine"
    REFIT_DRAINS = "refit drains"  # before anything is filled in behind them
    FILL_BY_HAND = "fill by hand"
    RUN_ANTIFREEZE = "run antifreeze"  # by the engine
    FOG = "fog"
    DRAIN = "drain"  # what empties itself, or by hand: nothing is filled in after
    PUMP_ANTIFREEZE = "pump antifreeze"  # by the circuit's own pump
    BLOW_OUT = "blow out"
    READ_SAMPLE = "read sample"
    TEST_COOLANT = "test coolant"
    RENEW_COOLANT = "renew coolant"
    CHANGE_OIL = "change oil"
    CHANGE_ENGINE_OIL = "change engine oil"
    WARM = "warm"  # no mix and no drain holds that low: only heat does
    SPRAY_METAL = "spray metal"
    DRY_BILGE = "dry bilge"
    BENCH_BATTERY = "bench battery"
    CLOSE_OPENINGS = "close openings"
    COVER = "cover"
    OTHER = "other"  # work that a profile wants and that has no words of its own
    # spring
    UNCOVER = "uncover"
    LOOK_AFTER_ICE = "look after ice"
    LOOK_AT_UNPROVEN = "look at unproven"
    SETTLE_FINDING = "settle finding"
    CATCH_ANTIFREEZE = "catch antifreeze"
    FLUSH_PLUMBING = "flush plumbing"
    CLOSE_DRAINS = "close drains"
    LOOK_AT_OILS = "look at oils"
    FIT_BATTERY = "fit battery"
    LOOK_AT_FUEL = "look at fuel"
    CLEAR_CYLINDERS = "clear cylinders"
    AIR_OUT = "air out"
    SIGN_OFF = "sign off"
    FIRST_START = "first start"
    COMMISSION = "commission"


class Ask(StrEnum):
    """What a person has to see, read or note, so that a step counts."""

    DRY = "seen dry"
    OUTFLOW = "outflow at full colour"
    CLEAR_WATER = "clear water at the outlet"
    READING = "reading"
    HOT_ENGINE = "engine hot"
    CLEAR_OIL = "oil clear"
    TREATED_FUEL = "treated fuel seen"
    RESTED_VOLTAGE = "rested voltage"


class Care(StrEnum):
    """Cautions that a step calls for; the words are ``monitor.yard.caution``'s."""

    CARBON_MONOXIDE = "carbon monoxide"
    FUEL_VAPOUR = "fuel vapour"
    HYDROGEN = "hydrogen"
    FROZEN_BATTERY = "frozen battery"
    GLYCOL = "glycol"


class Instead(StrEnum):
    """What would also do in a step's place."""

    PROBE_DRY = "probe dry"
    FILL = "fill"
    POUR = "pour"
    BLOW_OUT = "blow out"
    RUN_ANTIFREEZE = "run antifreeze"
    STAY_WARM = "stay warm"


class Note(StrEnum):
    """What the record says that a step's words depend on."""

    ENGINE_FIRST = "engine first"  # as it runs on a hose
    WATER_FIRST = "water first"
    AS_RUN_ENDS = "as the run ends"
    SCREENED = "screened"  # intakes, vents and exhaust
    FOGGED = "fogged"
    ANTIFREEZE_LEFT = "antifreeze left"  # what a drain leaves comes out with the first water
    DIESEL = "diesel"
    FUEL_DRAINED = "fuel drained"
    TANK_EMPTIED = "tank emptied"
    FUEL_TREATED = "fuel treated"
    FUEL_UNTREATED = "fuel untreated"
    WATER_IN_OIL = "water in the oil"
    POISON = "poison"  # in water that people drink or wash with
    GLYCOL_UNNAMED = "glycol unnamed"  # of what is to be read
    ON_BENCH = "on the bench"
    ABOARD = "aboard"
    WITH_OWNER = "with its owner"
    NOWHERE = "nowhere on record"


@dataclass(frozen=True, slots=True, kw_only=True)
class JobStep:
    """One step, in its place in the order.

    Invariant: whoever is asked for a reading is told what it has to reach.
    """

    kind: StepKind
    circuits: tuple[str, ...] = ()
    minutes: float = 0.0  # of one person
    product: ShelfProduct | None = None
    quantity_l: float | None = None  # of the product
    reading_c: float | None = None  # a sample must read this or colder
    posture: Posture | None = None  # how craft or engine must stand for it
    asks: tuple[Ask, ...] = ()
    cautions: tuple[Care, ...] = ()
    instead: tuple[Instead, ...] = ()
    finding: Finding | None = None  # of MEND_FINDING and SETTLE_FINDING
    notes: tuple[Note, ...] = ()  # what of the record changes its words
    at: datetime | None = None  # when that was
    volts: float | None = None  # last rested voltage on record, of FIT_BATTERY
    act: Act | None = None  # what it is entered as; None: no entry is needed

    def __post_init__(self) -> None:
        if (Ask.READING in self.asks) != (self.reading_c is not None):
            raise ValueError(f"{self.kind}: a reading is asked for, or told, without the other")

    @property
    def keeps_frost_out(self) -> bool:
        """Whether it makes circuits stand the cold; all else keeps the craft in other ways."""
        return self.kind in AGAINST_FROST


AGAINST_FROST = frozenset(
    {
        StepKind.THAW,
        StepKind.INSPECT_AFTER_ICE,
        StepKind.EMPTY_TANK,
        StepKind.CLEAR_BLOCKAGE,
        StepKind.FLUSH,
        StepKind.DRAIN_ENGINE,
        StepKind.REFIT_DRAINS,
        StepKind.FILL_BY_HAND,
        StepKind.RUN_ANTIFREEZE,
        StepKind.DRAIN,
        StepKind.PUMP_ANTIFREEZE,
        StepKind.BLOW_OUT,
        StepKind.READ_SAMPLE,
        StepKind.TEST_COOLANT,
        StepKind.RENEW_COOLANT,
        StepKind.CHANGE_OIL,
        StepKind.WARM,
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class JobPlan:
    """The whole job on one craft, in working order; without a step nothing is left to do."""

    craft: str
    low_c: float  # the low that it is made for
    steps: tuple[JobStep, ...]
    unreadable: str = ""  # what of the record cannot be read, so that no work on it counts

    @property
    def minutes(self) -> float:
        """One person's time for all of it."""
        return sum(step.minutes for step in self.steps)

    @property
    def frost_steps(self) -> tuple[JobStep, ...]:
        """Those without which ice comes."""
        return tuple(step for step in self.steps if step.keeps_frost_out)
