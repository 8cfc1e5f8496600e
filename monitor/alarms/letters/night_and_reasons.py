"""Below a letter's rule: how low the night goes in each space, and why each thing is judged so."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import datetime, timedelta
from math import isfinite

from monitor.alarms.entry import Entry
from monitor.alarms.letters.entry_reading import basis_of, craft_name_if_any, has_ice
from monitor.alarms.letters.work_lines import SHOWN, WorkLine
from monitor.craft.protection import LayupState
from monitor.phrases.frost import assumed_start
from monitor.phrases.names import space_name
from monitor.wording import Wording, listed, listed_first
from monitor.yard.air_facts import AirFacts
from monitor.yard.alarm import Topic
from monitor.yard.assessment import Assessment, Hazard
from monitor.yard.frost_facts import FrostFacts
from monitor.yard.space import Yard

_OF_A_FAULT = frozenset({"file-refused", "unreadable"})
_REASONS = 3  # of things other than frost
_NAMED = 3  # craft that came in together
_REASON_WORDS = 40  # of one of them; more where it is the only thing told
_LONE_REASON_WORDS = 80
_ONE_HOUR = timedelta(minutes=40)  # lows within it are told with one
_MANY = 3  # spaces whose lows are told without an hour of each
_COLD = frozenset({Topic.FROST, Topic.HEAT, Topic.BATTERY})
_NOT_PROVEN = {
    LayupState.VOID: "lay-up undone",
    LayupState.UNPROVEN: "said, not shown",
    LayupState.HEAT_ONLY: "kept by heat alone",
    LayupState.UNKNOWN: "nothing on record",
    LayupState.PROVEN: "mix too weak",
}


Airs = Mapping[str, Assessment]  # latest judgement of the air, by space


def list_night_lows(
    entries: Iterable[Entry], yard: Yard, words: Wording, airs: Airs
) -> tuple[str, tuple[str, ...]]:
    """What stands over the lows of the spaces that matter here, and each low, the coldest first."""
    spaces = {entry.alarm.space for entry in entries if entry.definition.topic in _COLD}
    known = [airs[each] for each in spaces if each in airs and isfinite(airs[each].low_c)]
    if not known:
        return "", ()
    in_order = sorted(known, key=lambda each: (each.low_c, each.subject.space))
    hours = [air.low_at for air in in_order if air.low_at]
    one_hour = bool(hours) and max(hours) - min(hours) <= _ONE_HOUR
    many = len(in_order) >= _MANY
    head = "The night's low (likely range)" if many else "The night's low"
    about = f", about {words.clock(hours[0])}" if one_hour else ""
    with_hour = not (one_hour or many)
    return f"{head}{about}:", tuple(
        _night_of(air, space_name(yard, air.subject.space), words, with_hour=with_hour, brief=many)
        for air in in_order
    )


def _night_of(air: Assessment, space: str, words: Wording, *, with_hour: bool, brief: bool) -> str:
    at = f" about {words.clock(air.low_at)}" if air.low_at and with_hour else ""
    low = words.temperature(air.low_c, 0)
    facts = air.facts
    if not isinstance(facts, AirFacts) or not isfinite(facts.low_band_low_c):
        return f"{space} {low}{at}."
    cold, warm = (words.temperature(c, 0) for c in (facts.low_band_low_c, facts.low_band_high_c))
    from_number = cold.partition("\N{NO-BREAK SPACE}")[0]  # one unit will do for both
    between = f"{from_number} to {warm}"
    likely = f" ({between})" if brief else f", most likely {between}"
    likely = likely if cold != warm else ""
    return f"{space} {low}{at}{likely}."


def list_reasons(
    entries: Iterable[Entry], yard: Yard, words: Wording, lines: Sequence[WorkLine]
) -> tuple[str, ...]:
    """Why, of what was not told before: of frost what the records lack, else what was read."""
    told = {line.name for line in lines}
    entries = [entry for entry in entries if not entry.told_before]
    lacking = _craft_by_layup(entries, told)
    said = [
        f"{why[:1].upper()}{why[1:]}: {listed_first(lacking[state], SHOWN)}."
        for state, why in _NOT_PROVEN.items()
        if state in lacking
    ]
    said += _assumed_starts(entries, told, yard, words)[:_REASONS]
    explained = {name for names in lacking.values() for name in names}
    others, own = _what_was_read(entries, yard, words)
    most_words = _LONE_REASON_WORDS if len(lines) < 2 else _REASON_WORDS
    brief = [
        why
        for name, why in others.items()
        if name not in explained and why and len(why.split()) <= most_words
    ]
    return (*said, *brief[:_REASONS], *own.values())


def _assumed_starts(
    entries: Iterable[Entry], told: Collection[str], yard: Yard, words: Wording
) -> list[str]:
    """What is taken for granted where there may be ice already: once for each space and hour."""
    of_names: dict[tuple[str, datetime | None, bool], dict[str, FrostFacts]] = {}
    for entry in entries:
        seen, name = entry.assessment, craft_name_if_any(entry)
        facts = None if seen is None else seen.facts
        if isinstance(facts, FrostFacts) and facts.ice_is_assumed and name in told:
            key = entry.alarm.space, facts.start_at, facts.came_then
            of_names.setdefault(key, {})[name] = facts
    said = []
    for (space, _, _), each in of_names.items():
        names = listed(list(each)) if len(each) <= _NAMED else listed_first(list(each), _NAMED)
        facts = next(iter(each.values()))
        said.append(assumed_start(facts, names, space_name(yard, space), words))
    return said


def _craft_by_layup(entries: Iterable[Entry], told: Collection[str]) -> dict[LayupState, list[str]]:
    """Names of those craft in lines above that frost threatens, by what their record proves."""
    found: dict[LayupState, dict[str, None]] = {}
    for entry in entries:
        facts = None if entry.assessment is None else entry.assessment.facts
        name = craft_name_if_any(entry)
        if isinstance(facts, FrostFacts) and name in told and not has_ice(entry):
            found.setdefault(facts.layup, {})[name] = None
    return {layup: list(names) for layup, names in found.items()}


def _what_was_read(
    entries: Iterable[Entry], yard: Yard, words: Wording
) -> tuple[dict[str, str], dict[str, str]]:
    """What judgements of other things than frost rest on: of the yard's things, and of laidup.

    The second is told at any length, for nothing else says what is to be mended: what laidup's own
    machine lacks, and what is wrong with a file or a record.
    """
    others: dict[str, str] = {}
    own: dict[str, str] = {}
    for entry in entries:
        seen = entry.assessment
        if seen is None or isinstance(seen.facts, FrostFacts):
            continue
        if entry.alarm.space == yard.id or entry.alarm.cause in _OF_A_FAULT:
            own.setdefault(entry.subject, basis_of(entry, yard, words))
        elif seen.hazard is not Hazard.FROST:
            of_craft = seen.hazard is Hazard.RECORD
            about = craft_name_if_any(entry) if of_craft else entry.alarm.space
            others.setdefault(about, basis_of(entry, yard, words))
    return others, own
