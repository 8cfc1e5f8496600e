"""The acts of the record, a row each: its name for people, its kind of work, what is told with it.

What an act proves of a circuit is no matter of this table.
"""

import difflib
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from monitor.craft.act_table import circuits_within_reach
from monitor.craft.circuit import Way
from monitor.craft.fields import BY_PATH, Field
from monitor.craft.layup import FOGGING, RUNS, Act, Posture
from monitor.craft.profile import CircuitKind, Profile
from monitor.errors import BadValueError


class Work(StrEnum):
    """Kinds of work, in the order of a lay-up; the bench shows acts under them."""

    ARRIVAL = "arrival, repairs and looking"
    FUEL = "fuel"
    WATER = "water out"
    ANTIFREEZE = "antifreeze in"
    ENGINE = "engine and oil"
    BATTERY = "battery"
    KEEPING = "cover, damp and vermin"
    HAPPENED = "what happened to it"
    SPRING = "spring, and corrections"


@dataclass(frozen=True, slots=True, kw_only=True)
class ActRow:
    """One act.

    ``takes`` are the paths of the fields that say something with this act, in the order in which
    the bench asks; every act takes those of `EVERY_ACT` besides. ``needs`` are those of them
    without which it says nothing.
    """

    act: Act
    name: str  # as a person says it
    work: Work
    takes: tuple[str, ...] = ()
    needs: tuple[str, ...] = ()
    also: tuple[str, ...] = ()  # other names that people give it


# Names of a change of oil that tell whose oil it was: a gearcase's, not the engine's.
_GEAR_OIL = (
    "gear lube",
    "gear lube changed",
    "gear oil",
    "gear oil changed",
    "gearcase oil changed",
    "lower unit",
    "lower unit oil changed",
)

# Fields that any act may come with.
EVERY_ACT = (
    "id",
    "craft",
    "at",
    "by",
    "act",
    "evidence.photos",
    "evidence.photo_sha256",
    "evidence.witness",
    "findings",
    "settles",
    "note",
    "replaces",
    "entered_by",
    "day_began",
    "moved_from",
    "told_at",
)
_PRODUCT = (
    "product.name",
    "product.liquid",
    "product.strength",
    "product.label_burst_c",
    "product.lot",
)
_JUG = ("product.name", "product.lot", "quantity_l")
_READING = ("evidence.ice_point_c", "evidence.scale", "evidence.zeroed_on")
_ANTIFREEZE = (
    "circuits",
    *_PRODUCT,
    "quantity_l",
    "residual_l",
    "again",
    "evidence.outflow",
    *_READING,
    "evidence.engine_hot",
    "flow_order",
    "posture",
)
_RUN = ("circuits", "flow_order", "evidence.engine_hot", "evidence.treated_fuel_seen")
_DRY = ("circuits", "evidence.dry", "posture")

_ROWS = (
    ActRow(
        act=Act.ARRIVED,
        name="arrived",
        work=Work.ARRIVAL,
        takes=("posture", "rested_v"),
        also=("came in", "taken in"),
    ),
    ActRow(
        act=Act.BROUGHT_BACK,
        name="brought back into the yard",
        work=Work.ARRIVAL,
        takes=("evidence.used_away", "posture"),
        also=("returned", "came back"),
    ),
    ActRow(
        act=Act.TAKEN_OUT,
        name="taken out of the yard, to come back",
        work=Work.HAPPENED,
        also=("away", "left", "test ride elsewhere"),
    ),
    ActRow(
        act=Act.HANDED_OVER,
        name="handed over to its owner",
        work=Work.HAPPENED,
        also=("collected", "picked up", "keys out"),
    ),
    ActRow(
        act=Act.SOLD,
        name="sold, and out of the yard's care",
        work=Work.HAPPENED,
        also=("changed hands",),
    ),
    ActRow(
        act=Act.ENTERED_IN_ERROR,
        name="a craft that never was in the yard",
        work=Work.SPRING,
        also=("wrong craft", "listed by mistake"),
    ),
    ActRow(
        act=Act.INSPECTED,
        name="inspected",
        work=Work.ARRIVAL,
        takes=(
            "circuits",
            "evidence.dry",
            *_READING,
            "evidence.oil",
            "rested_v",
            "posture",
            "readied",
        ),
        also=(
            "looked at",
            "checked",
            "sample read",
            "tested",
            "coolant tested",
            "coolant read",
            "battery read",
        ),
    ),
    ActRow(
        act=Act.OWNER_STATEMENT,
        name="owner says it is done",
        work=Work.ARRIVAL,
        takes=("circuits",),
        also=("owner said", "winterised by its owner"),
    ),
    ActRow(
        act=Act.REPAIRED,
        name="repaired",
        work=Work.ARRIVAL,
        takes=("circuits", "product.name", "product.lot"),
        also=("mended", "replaced", "fixed"),
    ),
    ActRow(
        act=Act.STOOD,
        name="set down, as it stands now",
        work=Work.ARRIVAL,
        takes=("circuits", "posture", "evidence.dry"),
        also=("tilted", "stands", "lowered", *(f"stood {posture}" for posture in Posture)),
    ),
    ActRow(act=Act.WORK_BEGUN, name="taken in hand", work=Work.ARRIVAL),
    ActRow(act=Act.WORK_ENDED, name="work ended", work=Work.ARRIVAL),
    ActRow(
        act=Act.FUEL_STABILISED,
        name="fuel stabilised",
        work=Work.FUEL,
        takes=(*_JUG, "evidence.treated_fuel_seen"),
        also=("stabilizer", "stabiliser added", "stabiliser in"),
    ),
    ActRow(
        act=Act.FUEL_RUN_THROUGH,
        name="treated fuel run through the engine",
        work=Work.FUEL,
        takes=(*_RUN, *_JUG),
        also=("last run", "run on treated fuel", "treated fuel run"),
    ),
    ActRow(
        act=Act.FUEL_DRAINED,
        name="fuel drained from bowls, filter and lines",
        work=Work.FUEL,
        takes=("circuits", "quantity_l"),
        also=("fuel drained", "bowls drained"),
    ),
    ActRow(
        act=Act.FUEL_TANK_EMPTIED,
        name="fuel tank emptied",
        work=Work.FUEL,
        takes=("quantity_l",),
        also=("tank emptied", "fuel let out of the tank"),
    ),
    ActRow(
        act=Act.FLUSHED,
        name="flushed with fresh water",
        work=Work.WATER,
        takes=(*_RUN, "evidence.outflow", "readied"),
        also=("rinsed",),
    ),
    ActRow(
        act=Act.DRAINED,
        name="drained",
        work=Work.WATER,
        takes=_DRY,
        needs=("circuits",),
        also=("drains pulled", "emptied", "probed", "pumped out"),
    ),
    ActRow(
        act=Act.BLOWN_OUT,
        name="blown out with air",
        work=Work.WATER,
        takes=_DRY,
        needs=("circuits",),
        also=("air through",),
    ),
    ActRow(
        act=Act.ANTIFREEZE_RUN_THROUGH,
        name="antifreeze run through, by the engine or a pump",
        work=Work.ANTIFREEZE,
        takes=_ANTIFREEZE,
        needs=("circuits",),
        also=("pink run through", "glycol run", "antifreeze"),
    ),
    ActRow(
        act=Act.ANTIFREEZE_POURED,
        name="antifreeze poured in",
        work=Work.ANTIFREEZE,
        takes=_ANTIFREEZE,
        needs=("circuits",),
        also=("pink poured", "poured", "filled by hand", "glycol poured", "antifreeze"),
    ),
    ActRow(
        act=Act.FOGGED_RUNNING,
        name="fogged, the engine running",
        work=Work.ENGINE,
        takes=("circuits", *_JUG, "flow_order"),
        also=("fogged",),
    ),
    ActRow(
        act=Act.FOGGED_PLUG_HOLES,
        name="fogged through the plug holes",
        work=Work.ENGINE,
        takes=("circuits", *_JUG),
        also=("fogged",),
    ),
    ActRow(
        act=Act.OIL_CHANGED,
        name="oil changed",
        work=Work.ENGINE,
        takes=("circuits", "evidence.oil", *_JUG),
        also=_GEAR_OIL,
    ),
    ActRow(
        act=Act.BATTERY_REMOVED,
        name="battery taken out",
        work=Work.BATTERY,
        takes=("space", "rested_v"),
        also=("battery out", "battery to the bench"),
    ),
    ActRow(
        act=Act.BATTERY_LEFT_ABOARD,
        name="battery left or put aboard",
        work=Work.BATTERY,
        takes=("rested_v",),
        also=("battery in",),
    ),
    ActRow(
        act=Act.BATTERY_ON_MAINTAINER,
        name="battery on a maintainer",
        work=Work.BATTERY,
        takes=("rested_v",),
        also=("charger on", "tender on"),
    ),
    ActRow(
        act=Act.BATTERY_OFF_MAINTAINER,
        name="battery off its maintainer",
        work=Work.BATTERY,
        takes=("rested_v",),
        also=("charger off",),
    ),
    ActRow(
        act=Act.BATTERY_EQUALISED,
        name="battery equalised",
        work=Work.BATTERY,
        takes=("rested_v",),
    ),
    ActRow(
        act=Act.BATTERY_DISCONNECTED,
        name="battery's lead or main switch off",
        work=Work.BATTERY,
        takes=("rested_v",),
        also=("lead off", "switch off"),
    ),
    ActRow(
        act=Act.BATTERY_CONNECTED,
        name="battery's lead or main switch on",
        work=Work.BATTERY,
        takes=("rested_v", "readied"),
        also=("lead on",),
    ),
    ActRow(
        act=Act.COVER_FITTED,
        name="cover fitted",
        work=Work.KEEPING,
        takes=("cover", "posture"),
        also=("shrink-wrapped", "covered", "wrapped"),
    ),
    ActRow(
        act=Act.COVER_OFF,
        name="cover off",
        work=Work.KEEPING,
        takes=("readied",),
        also=("uncovered", "unwrapped"),
    ),
    ActRow(
        act=Act.CLOSED_UP,
        name="hatches, lockers and vents shut",
        work=Work.KEEPING,
        takes=("posture",),
        also=("closed",),
    ),
    ActRow(
        act=Act.OPENED_UP,
        name="lockers and vents opened",
        work=Work.KEEPING,
        takes=("posture",),
        also=("aired",),
    ),
    ActRow(
        act=Act.SPRAYED_DOWN,
        name="sprayed with corrosion film",
        work=Work.KEEPING,
        takes=_JUG,
        also=("corrosion spray",),
    ),
    ActRow(act=Act.DESICCANT_PLACED, name="desiccant placed", work=Work.KEEPING, takes=_JUG),
    ActRow(
        act=Act.RODENT_CARE,
        name="screened against mice",
        work=Work.KEEPING,
        takes=_JUG,
        also=("mice", "vents screened", "exhaust plugged"),
    ),
    ActRow(
        act=Act.BILGE_DRIED,
        name="bilge dried",
        work=Work.KEEPING,
        takes=("posture",),
        also=("bilge drained", "plugs out"),
    ),
    ActRow(act=Act.BILGE_WET, name="water in the bilge", work=Work.HAPPENED, takes=("posture",)),
    ActRow(
        act=Act.COLLECTION_TOLD,
        name="owner says when it is collected",
        work=Work.HAPPENED,
        also=("collected on", "owner collects it"),
    ),
    ActRow(
        act=Act.DECLINED,
        name="work offered, and declined by its owner",
        work=Work.HAPPENED,
        takes=("circuits",),
        needs=("note",),
        also=("owner declined it", "owner does not want it"),
    ),
    ActRow(
        act=Act.RUN_ON_WATER,
        name="run on water",
        work=Work.HAPPENED,
        takes=(*_RUN, "readied"),
        also=("test run", "started on the hose", "demo ride", "launched"),
    ),
    ActRow(
        act=Act.CIRCUIT_OPENED,
        name="circuit opened",
        work=Work.HAPPENED,
        takes=("circuits", "readied"),
        needs=("circuits",),
        also=("hose changed", "pump changed", "impeller changed"),
    ),
    ActRow(
        act=Act.PORT_LEFT_OPEN,
        name="sensor port left open",
        work=Work.HAPPENED,
        takes=("circuits",),
        needs=("circuits",),
        also=("plug left out",),
    ),
    ActRow(
        act=Act.KEPT_WARM,
        name="left untreated, kept warm on purpose",
        work=Work.HAPPENED,
        takes=("circuits",),
        also=("heat only", "heated"),
    ),
    ActRow(
        act=Act.COVER_TORN,
        name="cover torn",
        work=Work.HAPPENED,
        takes=("circuits",),
        also=("wrap torn",),
    ),
    ActRow(
        act=Act.SNOW_LOAD,
        name="snow or ice on the cover",
        work=Work.HAPPENED,
        also=("ice on the wrap",),
    ),
    ActRow(act=Act.SNOW_CLEARED, name="snow cleared", work=Work.HAPPENED),
    ActRow(
        act=Act.READIED,
        name="a step before the first start done",
        work=Work.SPRING,
        takes=("readied", "circuits", "evidence.oil"),
        needs=("readied",),
        also=("made ready, one step",),
    ),
    ActRow(
        act=Act.SIGNED_OFF,
        name="signed off: may be started",
        work=Work.SPRING,
        also=("sign off", "do not start tag off"),
    ),
    ActRow(
        act=Act.COMMISSIONED,
        name="made ready for the water",
        work=Work.SPRING,
        takes=("circuits",),
        also=("dewinterized", "spring start"),
    ),
    ActRow(
        act=Act.WITHDRAWN,
        name="withdrawn: it never happened",
        work=Work.SPRING,
        needs=("replaces",),
        also=("entered by mistake", "delete", "cancel"),
    ),
)

ACTS: Mapping[Act, ActRow] = {row.act: row for row in _ROWS}


def fields_of(act: Act) -> tuple[Field, ...]:
    """The fields that an act takes, in the order in which they are asked."""
    return tuple(BY_PATH[path] for path in (*ACTS[act].takes, *EVERY_ACT))


def acts_that_take(path: str) -> tuple[Act, ...]:
    """The acts that a field says something with."""
    return tuple(act for act, row in ACTS.items() if path in (*row.takes, *EVERY_ACT))


# Every name of each act, made plain once: a list asks for them in every row.
_NAMES_OF_ACTS = [
    (" ".join(name.lower().replace("-", " ").replace(",", " ").split()), row.act)
    for row in _ROWS
    for name in (str(row.act), row.name, *row.also)
]


def act_meant(said: str) -> Act:
    """The act that somebody names: by its word, its name, or a name that no other act has.

    Raises
    ------
    ValueError
        If it is none, or more than one; names what is near.
    """
    plain = " ".join(said.lower().replace("-", " ").split())
    names = _NAMES_OF_ACTS
    found = _acts_named(plain, names)
    if len(found) == 1:
        return found[0]
    if found:
        raise BadValueError(f"{said!r} may be {' or '.join(found)}", "write the one that is meant")
    near = difflib.get_close_matches(plain, [name for name, _ in names], n=1)
    meant = next((act for name, act in names if near and name == near[0]), None)
    remedy = f"did you mean {meant}?" if meant else f"use one of {', '.join(Act)}"
    raise BadValueError(f"{said!r} is no act", remedy)


def is_gear_oil(said: object) -> bool:
    """Whether words for an act tell of a change of a gearcase's oil."""
    plain = " ".join(str(said or "").lower().replace("-", " ").split())
    return bool(plain) and any(name.startswith(plain) for name in _GEAR_OIL)


def _acts_named(plain: str, names: list[tuple[str, Act]]) -> list[Act]:
    """The acts of that name; if none has it, those of which a name begins so."""
    whole = dict.fromkeys(act for name, act in names if name == plain)
    begun = dict.fromkeys(act for name, act in names if plain and name.startswith(plain))
    return list(whole or begun)


# Work that is on all engines of a craft where it names no circuit.
ON_ENGINES = FOGGING | RUNS | {Act.FUEL_DRAINED}


def all_circuits(act: Act, profile: Profile) -> tuple[str, ...]:
    """What "all circuits" means for an act on a craft: those that it can say something of."""
    if act is Act.FLUSHED:
        flushed = {CircuitKind.RAW, CircuitKind.PLUMBING}
        return tuple(one.circuit.id for one in profile.circuits if one.kind in flushed)
    if act in ON_ENGINES:
        return tuple(name for path in profile.engine_paths for name in path)
    if act is Act.STOOD:
        return tuple(
            one.circuit.id
            for one in profile.circuits
            if one.posture is not None or one.treatment(Way.STAND)
        )
    if "circuits" in ACTS[act].needs:
        return circuits_within_reach(act, profile) or profile.circuit_ids
    return circuits_within_reach(act, profile)
