"""How each standing of each hazard is called, ranked and shown: one row for every pair.

The rows hold only what depends on the pair. Alarms, reports, the page and the order of work all
read them here, so that a new standing is entered once, and nothing that ranks or names it can be
forgotten: a pair without its row fails when this module is imported.
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum

from monitor.yard.assessment import STANDINGS, Assessment, Hazard, Standing, Subject


class Weight(StrEnum):
    """How strongly a standing is shown in a list."""

    WELL = "well"  # nothing needs doing
    NOTE = "note"  # worth a look
    GRAVE = "grave"


WELL, NOTE, GRAVE = Weight.WELL, Weight.NOTE, Weight.GRAVE
# News rises only where the act changes: ice that forms, has gone through or has thawed again asks
# for the same quarantine, and has one rank.
ICED = 4


@dataclass(frozen=True, slots=True)
class StandingRow:
    """What is said and done about one standing of one hazard."""

    hazard: Hazard
    standing: Standing
    word: str
    weight: Weight
    news: int = 1  # rank as news: a person is told again where it rises
    # Of one person's work on one part, where it calls for an act (common practice, no source).
    minutes: float | None = None  # None: no act of the night's work
    asks: bool = True  # False: asks for nothing, unless a cause of alarm names it
    too_late: bool = False  # ice has done what it does: after all that can still be saved
    place: int = -1  # in lists, 0 for the worst; from the order of the table


def _row(
    hazard: Hazard,
    standing: Standing,
    weight: Weight = GRAVE,
    *,
    word: str = "",
    news: int = 1,
    minutes: float | None = None,
    asks: bool = True,
    too_late: bool = False,
) -> StandingRow:
    said = word or str(standing)
    return StandingRow(hazard, standing, said, weight, news, minutes, asks, too_late)


def _not_known(*hazards: Hazard) -> Iterable[StandingRow]:
    return (_row(each, Standing.NOT_KNOWN, NOTE, minutes=10.0) for each in hazards)


_H, _S = Hazard, Standing
# From worst to best. Rows of one standing stand together: they rank alike in lists. Not known
# stands above thin: what nobody can see is no comfort.
_WORST_FIRST = (
    _row(_H.FROST, _S.SOLID, word="frozen through", news=ICED, minutes=15.0, too_late=True),
    # A tag on the helm and some gentle warmth.
    _row(_H.FROST, _S.ICING, word="ice inside", news=ICED, minutes=15.0, too_late=True),
    _row(_H.FROST, _S.SUSPECT, news=ICED, minutes=45.0, too_late=True),
    # Not too late: a maintainer that is still on charges it.
    _row(_H.BATTERY, _S.SUSPECT, word="may have frozen", news=3, minutes=10.0),
    # A part of a craft whose job nobody can plan: drain, or pour and read.
    _row(_H.FROST, _S.EXPOSED, news=3, minutes=30.0),
    _row(_H.AIR, _S.EXPOSED, news=3, minutes=30.0),
    _row(_H.BATTERY, _S.FREEZING, news=3, minutes=10.0),
    _row(_H.RECORD, _S.OUT_OF_HEAT, word="moved out of the heat", news=2),
    _row(_H.CHARGING, _S.OVERCHARGED, news=3, minutes=5.0),  # off at the mains
    _row(_H.CHARGING, _S.HOT, word="battery too hot", news=3, minutes=5.0),
    _row(_H.AIR, _S.FALLING, word="losing heat", news=2, minutes=15.0),
    # Heat that is seen to be lost after this is worse.
    _row(_H.POWER, _S.CUT_OFF, word="power or gateway lost", minutes=15.0),
    _row(_H.SILENCE, _S.SILENT, minutes=10.0),
    _row(_H.BATTERY, _S.LOST, word="maintainer lost", news=2, minutes=10.0),
    _row(_H.SILENCE, _S.LOST, news=2, minutes=10.0),  # a path by which people are told
    _row(_H.DISK, _S.FULL, word="the disk is full"),
    _row(_H.STORE, _S.DAMAGED, word="the store is damaged"),
    _row(_H.STORE, _S.REWRITTEN, word="the lay-up record was cut or rewritten"),
    _row(_H.OWN_CLOCK, _S.CLOCK_WRONG, word="laidup's clock is wrong"),
    _row(_H.BROKER, _S.DROPPED, word="broker drops messages"),
    _row(_H.SENDER, _S.FOREIGN, word="readings came from elsewhere"),
    _row(_H.RECORD, _S.UNREADABLE, word="record cannot be read", news=2),
    _row(_H.RECORD, _S.NOT_TAKEN_IN, word="craft file not taken in", news=2),
    _row(_H.RECORD, _S.VOIDED, word="lay-up undone", news=2),
    *_not_known(_H.FROST, _H.DAMP, _H.BATTERY, _H.CHARGING, _H.AIR, _H.SILENCE, _H.POWER),
    _row(_H.FROST, _S.SLUSH, word="slush inside", asks=False),
    _row(_H.FROST, _S.THIN, NOTE, asks=False),
    _row(_H.AIR, _S.THIN, NOTE, asks=False),
    _row(_H.RECORD, _S.SNOWED),
    _row(_H.DAMP, _S.FROSTING, NOTE, news=2, minutes=5.0),
    _row(_H.DAMP, _S.SWEATING, NOTE, news=2, minutes=5.0),
    _row(_H.DAMP, _S.DEW_AHEAD, NOTE, news=2, minutes=5.0),  # that it came as told is no news
    _row(_H.BATTERY, _S.LOW, NOTE, minutes=10.0),
    _row(_H.AIR, _S.LOW, NOTE, minutes=10.0),
    _row(_H.SENSOR_BATTERY, _S.LOW, NOTE, word="its own battery is low", minutes=10.0),
    _row(_H.RECORD, _S.TORN, word="cover torn"),
    _row(_H.SENSING, _S.APART, word="sensors differ"),
    _row(_H.SENSING, _S.DOUBTED, word="sensor in doubt"),
    _row(_H.FORECAST, _S.STALE, word="forecast is old"),
    _row(_H.DISK, _S.FILLING, word="little room on the disk"),
    _row(_H.SILENCE, _S.LATE, NOTE, asks=False),
    _row(_H.DAMP, _S.DAMP, word="damp for a day"),
    _row(_H.DAMP, _S.WETTING, NOTE, asks=False),
    _row(_H.FROST, _S.HOLDING, WELL, asks=False),
    _row(_H.BATTERY, _S.CHARGED, WELL, asks=False),
    _row(_H.AIR, _S.STEADY, WELL, asks=False),
    _row(_H.SILENCE, _S.STEADY, WELL, asks=False),
    _row(_H.POWER, _S.STEADY, WELL, asks=False),
    _row(_H.FORECAST, _S.STEADY, WELL, asks=False),
    _row(_H.DAMP, _S.DRY, WELL, asks=False),
)


def check_standings(
    rows: Iterable[StandingRow], known: Mapping[Hazard, frozenset[Standing]]
) -> dict[tuple[Hazard, Standing], StandingRow]:
    """Key the rows by hazard and standing, each with its place in lists.

    Raises
    ------
    ValueError
        If a pair that is judged has no row, a row is of no such pair, or one comes twice; if the
        rows of one standing do not stand together.
    """
    found: dict[tuple[Hazard, Standing], StandingRow] = {}
    places: dict[Standing, int] = {}
    before: Standing | None = None
    for row in rows:
        pair = f"{row.hazard}, {row.standing}"
        if (row.hazard, row.standing) in found:
            raise ValueError(f"{pair}: has two rows among the standings")
        if row.standing in places and row.standing is not before:
            raise ValueError(f"{pair}: stands apart from the other rows of this standing")
        before = row.standing
        place = places.setdefault(row.standing, len(places))
        found[row.hazard, row.standing] = replace(row, place=place)
    judged = {(hazard, standing) for hazard, those in known.items() for standing in those}
    for hazard, standing in sorted(judged ^ found.keys()):
        lack = "no row" if (hazard, standing) in judged else "a row, but no judgement makes it"
        raise ValueError(f"{hazard}, {standing}: has {lack} among the standings")
    return found


_ROWS = check_standings(_WORST_FIRST, STANDINGS)
PLACES = len({row.standing for row in _WORST_FIRST})  # one more than the best one's place


def row_of(seen: Assessment) -> StandingRow:
    """What is said and done about a judgement's standing."""
    return _ROWS[seen.hazard, seen.standing]


def place_of(hazard: Hazard, standing: Standing) -> int:
    """Place of a standing in lists, 0 for the worst."""
    return _ROWS[hazard, standing].place


def standing_words(standing: Standing, hazard: Hazard) -> str:
    """Say a standing where the bare word would need a glossary."""
    return _ROWS[hazard, standing].word


def is_well(seen: Assessment) -> bool:
    """Whether nothing needs doing about a judgement's subject."""
    return row_of(seen).weight is WELL


@dataclass(frozen=True, slots=True, kw_only=True)
class HazardNames:
    """What the limit and the times of a hazard's judgements are called, in lists and in a line."""

    limit: str = "limit"
    limit_in_line: str = ""  # before its value; empty: not said there
    deadline: str = "act by"  # before the hour
    begins: str = ""  # the same hour among further numbers; empty: not said there
    ends: str = ""


_NAMES = {
    Hazard.FROST: HazardNames(
        limit="ice point",
        limit_in_line="ice at",
        deadline="first ice",
        begins="first ice",
        ends="frozen through",
    ),
    Hazard.BATTERY: HazardNames(
        limit="electrolyte freezes",
        limit_in_line="freezes at",
        deadline="freezes",
        begins="freezing from",
        ends="frozen through",
    ),
    # Its limit is a dew point or a frost point, by its value.
    Hazard.DAMP: HazardNames(begins="wet from", ends="dry again"),
    Hazard.AIR: HazardNames(begins="below freezing from", ends="above again"),
}
_PLAIN_NAMES = HazardNames()


def names_of_hazard(hazard: Hazard) -> HazardNames:
    """What the limit and the times of a hazard's judgements are called."""
    return _NAMES.get(hazard, _PLAIN_NAMES)


def condensation_point_name(point_c: float) -> str:
    """What the temperature is called at which air leaves water on metal, or rime below 0 °C."""
    return "frost point" if point_c < 0.0 else "dew point"


def worst_first(seen: Assessment) -> tuple[int, float, Subject]:
    """Sorting key: the worst standing first, then the smallest margin."""
    margin_k = math.inf if math.isnan(seen.margin_k) else seen.margin_k
    return (row_of(seen).place, margin_k, seen.subject)


def is_worse(seen: Assessment, other: Assessment) -> bool:
    """Whether one standing is worse than another, whatever the margins."""
    return row_of(seen).place < row_of(other).place
