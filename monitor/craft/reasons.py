"""Why a circuit is taken for what it is: typed facts, and their words in one table."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum, auto

from monitor.craft.layup import ANTIFREEZE, Act, LayupEntry, OilAppearance, Outflow
from monitor.craft.mixture import strength_of
from monitor.wording import Wording, listed


class Lack(StrEnum):
    """Evidence that work on a circuit did not come with."""

    WAY = auto()  # the circuit is not made safe that way
    NO_DRY_PROBE = auto()
    OUTFLOW_NOT_NOTED = auto()
    STILL_WATER = auto()  # at the outlet
    HEAT_NOT_NOTED = auto()
    COLD_ENGINE = auto()
    NO_SAMPLE = auto()
    OIL_NOT_NOTED = auto()
    POSTURE_NOT_NOTED = auto()
    STANDS_WRONG = auto()
    QUANTITY = auto()
    STRENGTH = auto()
    DEAD_LEG = auto()
    ETHANOL_READING = auto()
    WRONG_SCALE = auto()
    SCALE_NOT_NOTED = auto()
    COLDER_THAN_POURED = auto()
    POUR_NOT_MEASURED = auto()  # so that it can have made any reading, or none
    NO_POUR_SINCE_WATER = auto()
    RESIDUAL_NOT_SHOWN = auto()
    UNNAMED_BESIDE = auto()  # one of the products in it, which may be another glycol
    TWO_GLYCOLS = auto()


class Because(StrEnum):
    """What a circuit's state rests on."""

    NOTHING_ON_RECORD = auto()
    OWNERS_WORD = auto()
    # shown
    SEEN_DRY = auto()
    LOOKED_DRY = auto()
    STOOD_DRY = auto()
    OIL_CLEAR = auto()
    SAMPLE_OF_FLOW = auto()
    SAMPLE_OF_LOOK = auto()
    MIXED = auto()
    UNDILUTED = auto()
    # said, or found wanting
    EVIDENCE_LACKS = auto()
    THINNER = auto()
    PASSED_UNNAMED = auto()
    UNNAMED_BESIDE = auto()
    READ_THIN = auto()
    READ_WARMER_BEFORE = auto()
    COOLANT_READ_WARMER = auto()
    GLYCOL_UNNAMED = auto()
    LOOKED_ONLY = auto()
    WATER_FOUND = auto()
    WATER_SEEN = auto()
    OIL_WET = auto()
    BLOCKED = auto()
    STILL_BLOCKED = auto()
    TWO_GLYCOLS = auto()
    STANDS_WRONG = auto()
    KEPT_WARM = auto()
    WARM_WITHOUT_HEAT = auto()
    # undone
    RUN = auto()
    RUN_FIRST = auto()
    OPENED = auto()
    PORT_OPEN = auto()
    COMMISSIONED = auto()
    COVER_TORN = auto()
    COVER_OFF = auto()
    FOGGED_ON_WATER = auto()
    COOLANT_DRAINED = auto()
    BACK_UNSAID = auto()
    BACK_USED = auto()
    BACK_OUT_OF_HEAT = auto()
    OUT_OF_HEAT = auto()
    EARLIER_SEASON = auto()
    # said after any of these
    PART_ICE = auto()
    HEAT_KEEPS_IT = auto()
    WORSE_GLYCOL = auto()
    ADDED_UNSEEN = auto()
    TOLD_AGAIN = auto()
    TOLD_BETTER = auto()
    ORDER_NOT_TOLD = auto()
    FINDING_DOUBTS = auto()
    READING_REFUSED = auto()
    ETHYLENE_IN_PLUMBING = auto()
    UNNAMED_IN_PLUMBING = auto()


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """One fact behind a circuit's state, with what it speaks of."""

    because: Because
    entry: LayupEntry | None = None  # the work, look or event
    at: datetime | None = None  # its time, where there is no entry, or another than the entry's
    lacks: tuple[Lack, ...] = ()
    ways: tuple[str, ...] = ()  # that would make the circuit safe
    name: str = ""  # of a circuit or space
    other: str = ""  # name of another space
    posture: str = ""  # that it must stand in
    stands: str = ""  # as it stands
    share: float | None = None  # mass fraction of glycol
    ice_c: float | None = None  # what a reading comes down to


_SENTENCES: Mapping[Because, str] = {
    Because.NOTHING_ON_RECORD: "nothing on record",
    Because.OWNERS_WORD: "only {by}'s word of {day}; nobody here has seen it",
    Because.SEEN_DRY: "{done}; probed and seen dry",
    Because.LOOKED_DRY: "{done}: probed and seen dry",
    Because.STOOD_DRY: "{done}: it empties itself as it stands, {stands}",
    Because.OIL_CLEAR: "{done}: the oil was clear, no water in it",
    Because.SAMPLE_OF_FLOW: "{done}; the sample read {reading}",
    Because.SAMPLE_OF_LOOK: "{done}: the sample read {reading}",
    Because.MIXED: "{done}; with what stood in there that makes {percent} % glycol{unread}",
    Because.UNDILUTED: "{done}; {name} was seen dry before, so the product stands undiluted",
    Because.EVIDENCE_LACKS: "{done}; but {lacks}",
    Because.THINNER: "{done}; thinner than what stood in there",
    Because.PASSED_UNNAMED: (
        "{done}; it passed here too, and nobody named this part: the weaker of what stood here and"
        " what came by counts"
    ),
    Because.READ_THIN: "{done}; the sample read {reading}, warmer than all else on record",
    Because.READ_WARMER_BEFORE: (
        "a sample on {day} by {by} read {reading}, and nothing went in since that could make it"
        " colder: the warmer reading counts"
    ),
    Because.COOLANT_READ_WARMER: (
        "a sample on {day} by {by} read {reading}, and the warmer reading counts: if the coolant"
        " was renewed since, enter that it was opened or drained, and then read"
    ),
    Because.GLYCOL_UNNAMED: ("nobody named its glycol, and in the worse of both that is {ice}"),
    Because.LOOKED_ONLY: "{done}: it looked dry, but no eye reaches all of it",
    Because.WATER_FOUND: "{done}; probed, and water was still in it",
    Because.WATER_SEEN: "{done}: water stands in it",
    Because.OIL_WET: "{done}: the oil was {oil}, so water is in it{refilled}",
    Because.BLOCKED: "{done}; nothing came out: a blocked passage that still holds water",
    Because.STILL_BLOCKED: (
        "{done}; but the passage was found blocked before, and nobody has noted that it is cleared"
    ),
    Because.TWO_GLYCOLS: (
        "{done}; two kinds of glycol are mixed in it, which no scale reads: drain it, or flush it"
        " until clear water comes"
    ),
    Because.UNNAMED_BESIDE: (
        "{done}; one of the products in it has no name on record and may be another glycol, and no"
        " scale reads two: correct the entry that does not name it, or drain or flush it"
    ),
    Because.STANDS_WRONG: "stands {stands} since {day}, not {posture}: water collects in it",
    Because.KEPT_WARM: "left untreated on {day} by {by}: only the heat of {name} keeps it",
    Because.WARM_WITHOUT_HEAT: (
        "left untreated on {day} by {by} as kept warm, but {name} has no heat"
    ),
    Because.RUN: "{done}{undid}",
    Because.RUN_FIRST: "{done}, and nothing on record since",
    Because.OPENED: "opened on {day} by {by} and not treated since",
    Because.PORT_OPEN: (
        "a port was left open on {day} ({by}): what it held may have run out or taken in water"
    ),
    Because.COMMISSIONED: "made ready for the water on {day} by {by}",
    Because.COVER_TORN: "the cover was found torn on {day} ({by}): rain or snow may stand in it",
    Because.COVER_OFF: "the cover came off on {day} ({by}): rain or snow may stand in it",
    Because.FOGGED_ON_WATER: (
        "{done}: the engine drew water for that, as no antifreeze ran through it just before{undid}"
    ),
    Because.COOLANT_DRAINED: "{done}; a coolant loop must stay full",
    Because.BACK_UNSAID: (
        "back from outside the yard on {day}, and nobody says that it neither ran nor was afloat"
    ),
    Because.BACK_USED: "back from outside the yard on {day}, where it was run or afloat",
    Because.BACK_OUT_OF_HEAT: "back from outside the yard on {day}, where no heat kept it",
    Because.OUT_OF_HEAT: ("left untreated and moved out of the heat of {name} to {other} on {day}"),
    Because.EARLIER_SEASON: (
        "last treated on {day}, in an earlier season, and not read again since"
    ),
    Because.PART_ICE: "part of it was ice on {day}: read it again",
    Because.HEAT_KEEPS_IT: "only the heat of {name} keeps it",
    Because.WORSE_GLYCOL: (
        "so what stood in there before counts as water, and of the two glycols the one that ices"
        " and bursts sooner: drain it, or flush it until clear water comes, to have one again"
    ),
    Because.ADDED_UNSEEN: "{done} on top, and nobody can tell how strong it became: read it again",
    Because.TOLD_AGAIN: (
        "{done}, taken for the same antifreeze told once more, which can only lower what is held:"
        " correct the first entry, or enter it as a second pour"
    ),
    Because.TOLD_BETTER: "{done} says otherwise of the same time, and the worse of both counts",
    Because.ORDER_NOT_TOLD: (
        "several people or lists tell of one day without hours, and nobody knows in which order"
        " that was done: the worst for this circuit counts until the hours are entered"
    ),
    Because.FINDING_DOUBTS: (
        "{by} found of it then: “{name}”, so what was noted with that is doubtful until it is"
        " settled, or seen or read again"
    ),
    Because.READING_REFUSED: "{done}, but {lacks}",
    Because.ETHYLENE_IN_PLUMBING: (
        "ethylene glycol went in, which is poison: tag it, let nobody drink from it or wash with"
        " it, and flush it into a drum until clear water comes"
    ),
    Because.UNNAMED_IN_PLUMBING: (
        "nobody named what went in, so take it for poison: let nobody drink from it or wash with"
        " it until it is flushed and clear water comes"
    ),
}

_LACKS: Mapping[Lack, str] = {
    Lack.WAY: "it does not make this circuit safe ({ways} would)",
    Lack.NO_DRY_PROBE: "nobody noted that it was probed and seen dry",
    Lack.OUTFLOW_NOT_NOTED: "nobody noted whether it came out at the outlet",
    Lack.STILL_WATER: "clear water came out at the outlet, and not what went in",
    Lack.HEAT_NOT_NOTED: (
        "nobody noted a hot engine, and with its thermostat shut the antifreeze goes past the"
        " water in it"
    ),
    Lack.COLD_ENGINE: (
        "the engine was cold: its thermostat was shut, and the antifreeze went past the water in it"
    ),
    Lack.NO_SAMPLE: "no sample was read",
    Lack.OIL_NOT_NOTED: "nobody noted how the oil looked that came out",
    Lack.POSTURE_NOT_NOTED: "nobody noted that it stands {posture}, as it must to stay dry",
    Lack.STANDS_WRONG: "it stands {stands}, not {posture}: water collects in it",
    Lack.QUANTITY: "no quantity is on record, so nobody can tell how thin it became",
    Lack.STRENGTH: "neither the product's strength nor a reading is on record",
    Lack.DEAD_LEG: "a branch of it is not passed by what is poured, and no sample was read",
    Lack.ETHANOL_READING: (
        "no refractometer reads an ethanol blend, so its reading does not count"
    ),
    Lack.WRONG_SCALE: (
        "it was read on the {scale} scale, the wrong one, so the reading does not count"
    ),
    Lack.SCALE_NOT_NOTED: (
        "nobody noted the scale on which {reading} was read, and the wrong one is far off, so it"
        " does not count"
    ),
    Lack.COLDER_THAN_POURED: (
        "a reading of {reading} is colder than what went in can make, so it does not count: read"
        " a fresh sample"
    ),
    Lack.POUR_NOT_MEASURED: (
        "no quantity is on record that could have made a reading of {reading}, so it does not"
        " count: enter how much went in"
    ),
    Lack.NO_POUR_SINCE_WATER: (
        "no antifreeze is on record since water last came into it, so a reading of {reading} does"
        " not count: enter what went in"
    ),
    Lack.RESIDUAL_NOT_SHOWN: (
        "the water said to be left is less than it keeps, and no drain of it is on record, so that"
        " does not count"
    ),
    Lack.UNNAMED_BESIDE: (
        "one of the products in it has no name on record and may be another glycol, and no scale"
        " reads two: correct the entry that does not name it"
    ),
    Lack.TWO_GLYCOLS: "two kinds of glycol are mixed in it, which no scale reads",
}

_DONE: Mapping[Act, str] = {
    Act.ANTIFREEZE_RUN_THROUGH: "antifreeze run through",
    Act.ANTIFREEZE_POURED: "antifreeze poured in",
    Act.DRAINED: "drained",
    Act.BLOWN_OUT: "blown out",
    Act.OIL_CHANGED: "oil changed",
    Act.STOOD: "set down",
    Act.INSPECTED: "inspected",
    Act.FLUSHED: "flushed with water",
    Act.FUEL_RUN_THROUGH: "run on water to bring treated fuel through",
    Act.RUN_ON_WATER: "run on water",
    Act.FOGGED_RUNNING: "fogged with the engine running",
}


def worded(reason: Reason, words: Wording) -> str:
    """Write a reason as a part of a sentence, in a reader's units and zone."""
    return _SENTENCES[reason.because].format_map(_facts(reason, words))


def lack_worded(lack: Lack, reason: Reason, words: Wording) -> str:
    """Write one thing that is missing."""
    return _LACKS[lack].format_map(_plain_facts(reason, words))


def _facts(reason: Reason, words: Wording) -> dict[str, str]:
    facts = _plain_facts(reason, words)
    lacks = listed([_LACKS[lack].format_map(facts) for lack in reason.lacks])
    entry = reason.entry
    treated = reason.at
    return {
        **facts,
        "lacks": lacks,
        "done": _done(entry, words) if entry is not None else "",
        "unread": f"; {lacks}",
        "undid": "" if treated is None else f", which undid the work of {words.day(treated)}",
    }


def _plain_facts(reason: Reason, words: Wording) -> dict[str, str]:
    entry = reason.entry
    at = entry.at if entry is not None else reason.at
    evidence = entry.evidence if entry is not None else None
    reading = evidence.ice_point_c if evidence is not None else None
    milky = evidence is not None and evidence.oil is OilAppearance.MILKY
    changed = entry is not None and entry.act is Act.OIL_CHANGED
    return {
        "by": words.person(entry.by) if entry is not None else "",
        "day": _day(entry, at, words),
        "reading": "" if reading is None else words.temperature(reading),
        "scale": "" if evidence is None else str(evidence.scale),
        "oil": "milky" if milky else "led by water",
        "refilled": "; refilled, but water clings: look at it again" if changed else "",
        "ways": listed(list(reason.ways), "or"),
        "name": reason.name,
        "other": reason.other,
        "posture": reason.posture,
        "stands": reason.stands,
        "ice": "" if reason.ice_c is None else words.temperature(reason.ice_c),
        "percent": "" if reason.share is None else f"{reason.share * 100:.0f}",
    }


def _day(entry: LayupEntry | None, at: datetime | None, words: Wording) -> str:
    if entry is not None and entry.day_began is not None:
        return f"{words.day(entry.at)} (hour not told)"
    return words.day(at) if at is not None else ""


def _done(entry: LayupEntry, words: Wording) -> str:
    evidence = entry.evidence
    done, by = _DONE.get(entry.act, str(entry.act)), words.person(entry.by)
    parts = [f"{done} on {_day(entry, entry.at, words)} by {by}"]
    if entry.act in ANTIFREEZE:
        parts.extend(_poured(entry, words))
        if evidence.outflow is Outflow.SEEN:
            parts.append("seen coming out")
        elif evidence.outflow is Outflow.FULL_COLOUR:
            parts.append("came out in the jug's colour")
    if evidence.outflow is Outflow.CLEAR_WATER:
        parts.append("clear water came out")
    if evidence.witness:
        parts.append(f"witnessed by {evidence.witness}")
    return ", ".join(parts)


def _poured(entry: LayupEntry, words: Wording) -> list[str]:
    if entry.quantity_l is None:
        return []
    volume, product = words.volume(entry.quantity_l), entry.product
    strength = strength_of(product)
    if product is None or strength is None:
        return [volume]
    if product.strength is None:
        return [
            f"{volume} of a product that states only a burst rating, taken as"
            f" {strength * 100:.0f} % glycol"
        ]
    return [f"{volume} of {strength * 100:.0f} % product"]
