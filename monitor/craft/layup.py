"""One piece of lay-up work: what was done, when, by whom, with what, and what was seen."""

import re
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from math import isfinite

from monitor.errors import BadValueError
from monitor.physics.kinds import HIGHEST_MASS_FRACTION

# What a name or a part may be written in: one line, and none of the marks that turn the writing
# direction of what stands after them.
ONE_LINE = r"^[^\x00-\x1f\x7f-\x9f\u2028-\u202e\u2066-\u2069]*$"
# Line breaks and tabs may stand in a note, and no other control characters or turning marks.
SEVERAL_LINES = r"^[^\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u2028-\u202e\u2066-\u2069]*$"

PHOTO_SHA256 = r"[0-9a-f]{64}"


class Act(StrEnum):
    """What was done to a craft, or happened to it."""

    ARRIVED = "arrived"
    TAKEN_OUT = "taken-out"  # of the yard, to come back
    BROUGHT_BACK = "brought-back"
    HANDED_OVER = "handed-over"  # to its owner, for good
    SOLD = "sold"  # out of the yard's care, and no more its owner's
    ENTERED_IN_ERROR = "entered-in-error"  # a craft that never was in the yard
    REPAIRED = "repaired"
    OWNER_STATEMENT = "owner-statement"  # "it's done", by word only
    FLUSHED = "flushed"  # with fresh water
    FUEL_STABILISED = "fuel-stabilised"
    FUEL_RUN_THROUGH = "fuel-run-through"  # a run on water until treated fuel is at the engine
    FUEL_DRAINED = "fuel-drained"  # bowls, filter and lines of an engine; nothing of the tank
    FUEL_TANK_EMPTIED = "fuel-tank-emptied"
    DRAINED = "drained"
    BLOWN_OUT = "blown-out"
    ANTIFREEZE_RUN_THROUGH = "antifreeze-run-through"  # with the engine or the circuit's pump
    ANTIFREEZE_POURED = "antifreeze-poured"
    FOGGED_RUNNING = "fogged-running"
    FOGGED_PLUG_HOLES = "fogged-plug-holes"
    OIL_CHANGED = "oil-changed"  # pump housing, drive, gearcase, engine
    SPRAYED_DOWN = "sprayed-down"
    DESICCANT_PLACED = "desiccant-placed"
    BATTERY_REMOVED = "battery-removed"
    BATTERY_LEFT_ABOARD = "battery-left-aboard"
    BATTERY_ON_MAINTAINER = "battery-on-maintainer"
    BATTERY_OFF_MAINTAINER = "battery-off-maintainer"
    BATTERY_EQUALISED = "battery-equalised"  # its maintainer's equalise stage, set off on purpose
    BATTERY_DISCONNECTED = "battery-disconnected"  # negative lead off, or its main switch
    BATTERY_CONNECTED = "battery-connected"
    COVER_FITTED = "cover-fitted"
    COVER_OFF = "cover-off"
    CLOSED_UP = "closed-up"  # hatches, lockers and vents shut
    OPENED_UP = "opened-up"  # lockers and vents open, so that air moves through
    BILGE_WET = "bilge-wet"  # water stands in it
    BILGE_DRIED = "bilge-dried"
    COVER_TORN = "cover-torn"
    COLLECTION_TOLD = "collection-told"  # its owner says when they fetch it; nothing is done yet
    DECLINED = "declined"  # work that the yard offered, and its owner did not want; nothing is done
    SNOW_LOAD = "snow-load"  # snow or ice seen to lie on cover or wrap
    SNOW_CLEARED = "snow-cleared"
    RODENT_CARE = "rodent-care"
    KEPT_WARM = "kept-warm"  # left untreated on purpose: only heat protects it
    STOOD = "stood"  # set down tilted, upright, bow up
    RUN_ON_WATER = "run-on-water"
    CIRCUIT_OPENED = "circuit-opened"
    PORT_LEFT_OPEN = "port-left-open"  # a sensor port, after pouring or reading
    WORK_BEGUN = "work-begun"  # taken in hand: what is opened or run until it ends is planned
    WORK_ENDED = "work-ended"
    INSPECTED = "inspected"
    READIED = "readied"  # one step before the first start in spring; `ReadyStep` says which
    SIGNED_OFF = "signed-off"  # every step before the first start is done: it may be started
    COMMISSIONED = "commissioned"  # made ready for the water again
    WITHDRAWN = "withdrawn"  # the entry that this one replaces never happened


WITH_OWNER = "owner"  # in place of a space: the battery's owner took it along
LEAVES = frozenset({Act.TAKEN_OUT, Act.HANDED_OVER, Act.SOLD, Act.ENTERED_IN_ERROR})
RUNS = frozenset({Act.FLUSHED, Act.FUEL_RUN_THROUGH, Act.RUN_ON_WATER})  # bring water in again
ANTIFREEZE = frozenset({Act.ANTIFREEZE_RUN_THROUGH, Act.ANTIFREEZE_POURED})
FOGGING = frozenset({Act.FOGGED_RUNNING, Act.FOGGED_PLUG_HOLES})
BATTERY_ACTS = frozenset(
    {
        Act.BATTERY_REMOVED,
        Act.BATTERY_LEFT_ABOARD,
        Act.BATTERY_ON_MAINTAINER,
        Act.BATTERY_OFF_MAINTAINER,
        Act.BATTERY_EQUALISED,
        Act.BATTERY_DISCONNECTED,
        Act.BATTERY_CONNECTED,
    }
)
ENGINE_RUNS = RUNS | {Act.ANTIFREEZE_RUN_THROUGH, Act.FOGGED_RUNNING}


class Liquid(StrEnum):
    """What a product for circuits is made of."""

    PROPYLENE = "propylene"
    ETHYLENE = "ethylene"
    ETHANOL = "ethanol"  # blends: no refractometer reads them, ice point not on record
    NOT_KNOWN = "not known"


class Outflow(StrEnum):
    """What was seen at the outlet."""

    NOT_LOOKED = "not looked"
    NONE = "none"  # looked, and nothing came: the passage is blocked
    SEEN = "seen"
    FULL_COLOUR = "full colour"  # as in the jug: undiluted as far as an eye can tell
    CLEAR_WATER = "clear water"  # no colour in it: nothing of what stood in there is left


class OilAppearance(StrEnum):
    """How the oil looked that came out."""

    CLEAR = "clear"
    MILKY = "milky"  # water in it
    WATER = "water"  # water came first


class Posture(StrEnum):
    """How a craft or its engine stands."""

    UPRIGHT = "upright"  # outboard or drive run down, so that it empties itself
    TILTED = "tilted"
    BOW_UP = "bow up"
    LEVEL = "level"


OF_HULL = frozenset({Posture.BOW_UP, Posture.LEVEL})  # the others are of an engine or drive


class Cover(StrEnum):
    """What a craft is covered with: how much of its damp gets out again."""

    BREATHABLE = "breathable"  # woven, vented, held off the craft
    SHRINK_WRAP = "shrink-wrap"  # film: lets no vapour through


class FlowOrder(StrEnum):
    """Which came first when the engine ran on a hose."""

    ENGINE_FIRST = "engine first"  # engine on, water on, water off, engine off
    WATER_FIRST = "water first"  # water on, engine on, engine off, water off


@dataclass(frozen=True, slots=True, kw_only=True)
class Product:
    """What was used: antifreeze, stabiliser, fogging oil, lubricant.

    Invariants: a strength is a mass fraction above 0 and at most 0.6; a concentrate is diluted
    before it is poured, and undiluted it freezes *sooner*.
    """

    name: str
    liquid: Liquid = Liquid.NOT_KNOWN
    strength: float | None = None  # mass fraction of glycol, as the maker states it
    label_burst_c: float | None = None  # a pipe-burst rating; never an ice point
    lot: str = ""

    def __post_init__(self) -> None:
        if self.strength is not None and not 0.0 < self.strength <= HIGHEST_MASS_FRACTION:
            raise BadValueError(
                f"product {self.name}: strength {self.strength * 100:g} %",
                (
                    "it must lie above 0 and at most at"
                    f" {HIGHEST_MASS_FRACTION * 100:g} %, as poured: dilute a"
                    " concentrate first"
                ),
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """What a named person saw. Nothing here is assumed: None means nobody said."""

    outflow: Outflow = Outflow.NOT_LOOKED
    dry: bool | None = None  # probed and seen dry; False: looked, and water is still there
    ice_point_c: float | None = None  # refractometer, of a sample from the outlet
    scale: Liquid | None = None  # glycol scale that it was read on
    zeroed_on: date | None = None  # when the refractometer was last set to zero with water
    engine_hot: bool | None = None  # thermostat open
    oil: OilAppearance | None = None
    treated_fuel_seen: bool | None = None  # at the filter or bowl
    used_away: bool | None = None  # outside the yard: run, or afloat
    photos: tuple[str, ...] = ()  # kept elsewhere: where
    photo_sha256: tuple[str, ...] = ()  # kept in the store, which proves nothing by itself
    witness: str = ""

    def __post_init__(self) -> None:
        reading = self.ice_point_c
        if reading is not None and not (isfinite(reading) and -80.0 <= reading <= 0.0):
            raise BadValueError(
                f"ice point {reading} °C: a refractometer reads between -80 and 0 °C",
                "was a sign or a unit lost?",
            )
        for name in self.photo_sha256:
            if not re.fullmatch(PHOTO_SHA256, name):
                raise BadValueError(
                    f"{name[:64]!r} names no photo that is kept",
                    "name it by the 64 hexadecimal letters of its SHA-256",
                )


class FindingKind(StrEnum):
    """What was found; it decides which work can settle it (`monitor.craft.settling`)."""

    ICE = "ice"
    CRACK = "crack"
    BLOCKED = "blocked"
    LEAK = "leak"
    WATER = "water"  # where none should be: in oil, in a bilge
    READING = "reading"  # one that cannot be right


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """Something found that needs work, so that autumn's findings are not forgotten by spring."""

    id: str  # unique within the craft
    part: str  # circuit, "battery", "hull", ...
    words: str
    kind: FindingKind | None = None  # None: nobody said


class ReadyStep(StrEnum):
    """A step before a craft's first start in spring that an entry ticks off."""

    UNCOVERED = "uncovered"
    ICE_TESTED = "ice-tested"  # thawed, inspected, tested under pressure
    UNPROVEN_LOOKED_AT = "unproven-looked-at"
    ANTIFREEZE_OUT = "antifreeze-out"  # let out and caught
    FLUSHED_CLEAR = "flushed-clear"  # taps, pumps and tanks, until clear water came
    CLOSED = "closed"  # drains, plugs, hoses, bilge
    CYLINDERS_CLEAR = "cylinders-clear"  # turned over by hand, plugs back in
    OILS_LOOKED_AT = "oils-looked-at"
    FUEL_LOOKED_AT = "fuel-looked-at"
    BATTERY_FITTED = "battery-fitted"
    AIRED = "aired"
    STARTED = "started"


@dataclass(frozen=True, slots=True, kw_only=True)
class LayupEntry:
    """One piece of work on one craft at one time by one person. Never edited.

    A mistake is put right by a further entry with ``replaces``. Invariants: somebody is named;
    the time has a zone; quantities are above 0; a withdrawal says what it withdraws.
    """

    id: str  # unique within the craft
    craft: str
    at: datetime
    by: str
    act: Act
    circuits: tuple[str, ...] = ()  # empty: the craft as a whole
    product: Product | None = None
    quantity_l: float | None = None
    residual_l: float | None = None  # water known to be left before pouring, all circuits together
    flow_order: FlowOrder | None = None
    posture: Posture | None = None
    cover: Cover | None = None
    space: str = ""  # where a battery went, or `WITH_OWNER`; empty: nobody says
    rested_v: float | None = None
    again: bool = False  # a second pour of the same product, not the first one told once more
    evidence: Evidence = Evidence()
    findings: tuple[Seen, ...] = ()
    settles: tuple[str, ...] = ()  # findings that this work put right
    readied: ReadyStep | None = None  # the step of spring that it ticks off
    note: str = ""
    replaces: str = ""
    entered_by: str = ""  # who wrote it down, where somebody else did the work
    # Start of the day on which it was done, where nobody told the hour; `at` is then made up.
    # Entries of before this was kept have the noon of such a day, and count at it.
    day_began: datetime | None = None
    moved_from: str = ""  # id of another craft, on which it was entered first by mistake
    told_at: datetime | None = None  # its place in the order in which it was told there

    def __post_init__(self) -> None:
        me = f"entry {self.id} of craft {self.craft}"
        if self.at.tzinfo is None:
            raise BadValueError(f"{me}: {self.at.isoformat()} has no zone", "add an offset")
        if not self.by.strip():
            raise BadValueError(f"{me}: nobody is named", "work without a person proves nothing")
        if self.quantity_l is not None and not (isfinite(self.quantity_l) and self.quantity_l > 0):
            raise BadValueError(f"{me}: quantity {self.quantity_l} L", "it must be above 0")
        if self.residual_l is not None and not (isfinite(self.residual_l) and self.residual_l >= 0):
            raise BadValueError(f"{me}: residual {self.residual_l} L", "it must not be below 0")
        if self.rested_v is not None and not 0.0 <= self.rested_v <= 60.0:
            raise BadValueError(
                f"{me}: {self.rested_v} V at rest",
                "a craft's battery has 0 to 60 V",
            )
        if self.cover is not None and self.act is not Act.COVER_FITTED:
            raise BadValueError(
                f"{me}: a {self.cover} cover with {self.act}",
                f"enter it as {Act.COVER_FITTED}",
            )
        if self.act is Act.WITHDRAWN and not self.replaces:
            raise ValueError(f"{me}: a withdrawal must say which entry it replaces")
        if self.act is Act.READIED and self.readied is None:
            raise BadValueError(f"{me}: no step is named", "say which step of spring is done")
        if len(set(self.circuits)) != len(self.circuits):
            raise ValueError(f"{me}: a circuit is named twice")


def is_of_engine_oil(entry: LayupEntry) -> bool:
    """Whether it is a change of the engine's oil: a housing's is told with its circuit."""
    return entry.act is Act.OIL_CHANGED and not entry.circuits
