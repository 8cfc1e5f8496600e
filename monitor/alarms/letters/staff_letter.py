"""A letter to one of the yard's people as data: what to do, in which order, and what became of it.

The first block answers what to do, by when, for which craft; then comes what is to be left, what
changed, and below a rule the reasons and figures, once for each space.
"""

from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from math import isfinite

from monitor.alarms.entry import Entry, Letter
from monitor.alarms.letters.alone import alone_sentence
from monitor.alarms.letters.entry_words import basis_of
from monitor.alarms.letters.work_lines import (
    WorkLine,
    has_ice,
    list_work,
    planned_act,
    total_minutes,
)
from monitor.craft.plan.step import JobPlan
from monitor.craft.plan.yard import sum_supplies
from monitor.craft.protection import LayupState
from monitor.phrases.names import part_name, plain, space_name
from monitor.phrases.supplies import crew_words, hands_words, product_words
from monitor.wording import Wording, listed, listed_first
from monitor.yard.air_facts import AirFacts
from monitor.yard.alarm import Topic
from monitor.yard.assessment import Assessment, Hazard
from monitor.yard.frost_facts import FrostFacts
from monitor.yard.message import MessageKind
from monitor.yard.space import Yard

SHOWN = 12  # lines that a letter spells out; the rest are counted, and attached as a table
_OF_A_FAULT = frozenset({"file-refused", "unreadable"})
_REASONS = 3  # of things other than frost
_REASON_WORDS = 40  # of one of them; more where it is the only thing told
_LONE_REASON_WORDS = 80
_ONE_HOUR = timedelta(minutes=40)  # lows within it are told with one
_COLD = frozenset({Topic.FROST, Topic.HEAT, Topic.BATTERY})
_NOT_PROVEN = {
    LayupState.VOID: "lay-up undone",
    LayupState.UNPROVEN: "said, not shown",
    LayupState.HEAT_ONLY: "kept by heat alone",
    LayupState.UNKNOWN: "nothing on record",
    LayupState.PROVEN: "mix too weak",
}
Airs = Mapping[str, Assessment]  # latest judgement of the air, by space


@dataclass(frozen=True, slots=True, kw_only=True)
class Ended:
    """Something that is in danger no more."""

    name: str
    since: str = ""  # the hour; empty where nobody made it safe
    by: str = ""  # whose work it was
    part: str = ""  # of a craft, where it still has to be looked at
    what: str = ""  # of a space or a sensor: the alarm that is over


@dataclass(frozen=True, slots=True, kw_only=True)
class StaffLetter:
    """What a letter says, in the order in which it says it."""

    to_do: tuple[WorkLine, ...]  # in the order of doing
    to_leave: tuple[WorkLine, ...]  # ice is or was in it
    not_listed: tuple[tuple[str, int], ...]  # how many more, by place
    crew: str  # how long it takes, and whether all can be made
    alone: str  # what one person is not to do outdoors at night, and whom to call
    freeze_without_heat: str
    as_told: str  # what was told before and still stands, by name and hour
    unanswered: str  # why it comes to this reader, or comes again
    safe: tuple[Ended, ...]
    over: tuple[Ended, ...]  # what a thread that closes was about, and nobody made safe
    over_had_ice: bool
    take_along: str  # how much of which product all of it takes
    night_head: str
    night: tuple[str, ...]  # what it comes to, space by space
    reasons: tuple[str, ...]
    is_reminder: bool
    is_closing: bool

    @property
    def lines(self) -> tuple[WorkLine, ...]:
        """All lines of its first blocks."""
        return (*self.to_do, *self.to_leave)


def compose_letter(letter: Letter, yard: Yard, words: Wording, airs: Airs) -> StaffLetter:
    """Gather what a letter and those that go along with it say into one list.

    Parameters
    ----------
    letter : Letter
        To one of the yard's own people.
    yard : Yard
    words : Wording
        The reader's units and the yard's clock.
    airs : mapping of Assessment by space
    """
    parts = (letter, *letter.along)
    holding = [each for each in parts if each.kind is not MessageKind.ALL_CLEAR]
    closing = [each for each in parts if each.kind is MessageKind.ALL_CLEAR]
    entries, over_entries = _entries_of(holding), _entries_of(closing)
    lines = list_work(entries, yard, words)
    news = [line for line in lines if line.news]
    reminder = letter.kind is MessageKind.UPDATE and not news
    # What was told before is only named, or it hides what is new; so are its reasons.
    spelled = news or lines
    told_here = [entry for entry in entries if entry.news] or entries
    to_do, to_leave = _split_by_ice(spelled[:SHOWN])
    freezing = _freeze_without_heat(holding, words)
    beside = [f"{name} by {hour}" if hour else name for name, hour in freezing.items()]
    night_head, night = _nights_of(told_here, yard, words, airs)
    return StaffLetter(
        to_do=to_do,
        to_leave=to_leave,
        not_listed=tuple(Counter(line.space for line in spelled[SHOWN:]).most_common()),
        crew=_crew_sentence(_split_by_ice(lines)[0], yard, words),
        alone=alone_sentence(letter.person, entries, yard, words),
        freeze_without_heat=listed_first(beside, SHOWN),
        as_told=_as_told([e for e in lines if e not in spelled and e.name not in freezing]),
        unanswered=_unanswered_sentence(letter, yard, reminder=reminder),
        safe=_safe_craft(parts, words),
        over=_over(over_entries, parts, yard),
        over_had_ice=any(needs_a_look(entry) for entry in over_entries),
        take_along=_take_along(entries, words),
        night_head=night_head,
        night=night,
        reasons=_reason_lines(
            [entry for entry in told_here if not entry.told_before], yard, words, spelled
        ),
        is_reminder=reminder,
        is_closing=not holding,
    )


def _entries_of(letters: Iterable[Letter]) -> list[Entry]:
    return [entry for letter in letters for entry in letter.entries]


def _split_by_ice(
    lines: Sequence[WorkLine],
) -> tuple[tuple[WorkLine, ...], tuple[WorkLine, ...]]:
    """What can be saved, and what is to be left alone."""
    to_do = tuple(line for line in lines if not line.has_ice)
    return to_do, tuple(line for line in lines if line.has_ice)


def _crew_sentence(lines: Sequence[WorkLine], yard: Yard, words: Wording) -> str:
    """How long all of it takes, and what cannot be made in time."""
    timed = [line for line in lines if line.minutes]
    if len(timed) < 2:
        return ""
    late = [line.name for line in timed if line.too_late]
    return crew_words(total_minutes(timed), late, hands_words(yard, words))


def _take_along(entries: Iterable[Entry], words: Wording) -> str:
    """What all jobs pour, product by product."""
    acts = {entry.alarm.craft: planned_act(entry) for entry in entries}
    plans = [
        JobPlan(craft=craft, low_c=0.0, steps=act.steps)
        for craft, act in acts.items()
        if act is not None
    ]
    taken = [
        f"{words.about(one.litres)} of {product_words(one.product)}" for one in sum_supplies(plans)
    ]
    return f"Take along {listed(taken)}." if taken else ""


def _freeze_without_heat(holding: Iterable[Letter], words: Wording) -> dict[str, str]:
    """The craft that lost heat brings frost to, which no line tells, with the hour where known."""
    entries = [entry for each in holding for entry in each.beside if not entry.passed]
    first: dict[str, str] = {}
    for entry in sorted(entries, key=lambda each: (each.alarm.deadline is None, _hour(each))):
        name = _craft_called(entry)
        first.setdefault(name, words.clock(entry.alarm.deadline))
    return first


def _hour(entry: Entry) -> float:
    return 0.0 if entry.alarm.deadline is None else entry.alarm.deadline.timestamp()


def _as_told(lines: Sequence[WorkLine]) -> str:
    """What was told before, by name: what is still to do with its hour, and what has ice."""
    to_do, to_leave = _split_by_ice(lines)
    said = []
    if to_do:
        said.append(f"{listed_first([f'{one.name} {_hour_of(one)}' for one in to_do], SHOWN)}.")
    if to_leave:
        named = dict.fromkeys(line.name for line in to_leave)
        said.append(f"Leave alone: {listed_first(list(named), SHOWN)}.")
    return " ".join(said)


def _hour_of(line: WorkLine) -> str:
    return f"by {line.due}" if line.is_ahead else line.due


def _unanswered_sentence(letter: Letter, yard: Yard, *, reminder: bool) -> str:
    if reminder:
        return "Nobody has answered yet."
    called = set(letter.conversation.called_after)
    if not called or letter.kind is not MessageKind.ALARM:
        return ""
    names = listed([plain(each.name) for each in yard.people if each.id in called])
    return f"{names} did not answer, so it comes to you."


def _safe_craft(parts: Iterable[Letter], words: Wording) -> tuple[Ended, ...]:
    """Each craft that is safe now, since when and by whose work."""
    safe = {one.craft: one for each in parts for one in each.safe}
    return tuple(
        Ended(
            name=plain(one.name),
            since=words.clock(one.at),
            by=plain(words.person(one.by)) if one.by else "",
        )
        for one in safe.values()
    )


def _over(entries: Sequence[Entry], parts: Iterable[Letter], yard: Yard) -> tuple[Ended, ...]:
    """What a thread that closes was about, but for the craft that are told to be safe."""
    told = {one.craft for each in parts for one in each.safe}
    found: dict[tuple[str, str], Ended] = {}
    for entry in entries:
        look = needs_a_look(entry)
        if entry.alarm.craft in told and not look:
            continue
        name = _craft_called(entry)
        name = name or space_name(yard, entry.alarm.space)
        part = part_name(entry.craft, entry.alarm.part) if look or not entry.alarm.craft else ""
        what = "" if entry.alarm.craft else entry.definition.title.lower()
        found.setdefault((name, part), Ended(name=name, part=part, what=what))
    return tuple(found.values())[:SHOWN]


def needs_a_look(entry: Entry) -> bool:
    """Whether ice was in it and nobody has looked into it since."""
    if not entry.iced:
        return False
    held = None if entry.craft is None else entry.craft.protection.get(entry.alarm.part)
    looked = None if held is None else held.inspected_at
    return looked is None or looked < entry.alarm.raised_at


def _nights_of(
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
    head = f"The night's low, about {words.clock(hours[0])}:" if one_hour else "The night's low:"
    return head, tuple(
        _night_of(air, space_name(yard, air.subject.space), words, with_hour=not one_hour)
        for air in in_order
    )


def _night_of(air: Assessment, space: str, words: Wording, *, with_hour: bool) -> str:
    at = f" about {words.clock(air.low_at)}" if air.low_at and with_hour else ""
    low = words.temperature(air.low_c, 0)
    facts = air.facts
    if not isinstance(facts, AirFacts) or not isfinite(facts.low_band_low_c):
        return f"{space} {low}{at}."
    cold, warm = (words.temperature(c, 0) for c in (facts.low_band_low_c, facts.low_band_high_c))
    from_number = cold.partition("\N{NO-BREAK SPACE}")[0]  # one unit will do for both
    likely = f", most likely {from_number} to {warm}" if cold != warm else ""
    return f"{space} {low}{at}{likely}."


def _reason_lines(
    entries: Sequence[Entry], yard: Yard, words: Wording, lines: Sequence[WorkLine]
) -> tuple[str, ...]:
    """Why: of the frost what the records lack, craft by craft; of the rest what was read."""
    told = {line.name for line in lines}
    lacking = _craft_by_layup(entries, told)
    said = [
        f"{why[:1].upper()}{why[1:]}: {listed_first(lacking[state], SHOWN)}."
        for state, why in _NOT_PROVEN.items()
        if state in lacking
    ]
    explained = {name for names in lacking.values() for name in names}
    others, own = _what_was_read(entries, yard, words)
    most_words = _LONE_REASON_WORDS if len(lines) < 2 else _REASON_WORDS
    brief = [
        why
        for name, why in others.items()
        if name not in explained and why and len(why.split()) <= most_words
    ]
    return (*said, *brief[:_REASONS], *own.values())


def _craft_by_layup(entries: Iterable[Entry], told: Collection[str]) -> dict[LayupState, list[str]]:
    """Names of those craft in lines above that frost threatens, by what their record proves."""
    found: dict[LayupState, dict[str, None]] = {}
    for entry in entries:
        facts = None if entry.assessment is None else entry.assessment.facts
        name = _craft_called(entry)
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
            about = _craft_called(entry) if of_craft else entry.alarm.space
            others.setdefault(about, basis_of(entry, yard, words))
    return others, own


def _craft_called(entry: Entry) -> str:
    """A craft's name; its id where the yard no longer keeps it, and nothing of no craft."""
    return plain(entry.craft.name if entry.craft else entry.alarm.craft)
