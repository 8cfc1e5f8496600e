"""A letter to one of the yard's people as data: what to do, in which order, and what became of it.

The first block answers what to do, by when, for which craft; then comes what is to be left, what
changed, and below a rule the reasons and figures, once for each space.
"""

from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

from monitor.alarms.entry import Entry, Letter, planned_act
from monitor.alarms.letters.alone import alone_sentence
from monitor.alarms.letters.entry_reading import (
    craft_name_if_any,
)
from monitor.alarms.letters.night_and_reasons import Airs, list_night_lows, list_reasons
from monitor.alarms.letters.work_lines import SHOWN, WorkLine, list_work, total_minutes
from monitor.craft.plan.step import JobPlan
from monitor.craft.plan.yard import sum_supplies
from monitor.phrases.names import Names, part_name, plain, space_name
from monitor.phrases.supplies import crew_words, hands_words, product_words
from monitor.wording import Wording, listed, listed_first
from monitor.yard.message import MessageKind
from monitor.yard.space import Yard

Listed = TypeVar("Listed", Entry, WorkLine)


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftLine:
    """A craft that left the yard with an alarm open."""

    name: str
    at: str  # the hour
    iced: bool  # ice had been in it, and nobody had looked


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
    left: tuple[LeftLine, ...]
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
    entries, over_entries = _entries_of(letter.open_parts), _entries_of(letter.closing_parts)
    lines = list_work(entries, yard, words)
    reminder = letter.kind is MessageKind.UPDATE and not any(line.news for line in lines)
    # What was told before is only named, or it hides what is new; so are its reasons.
    spelled, news = _new_or_all(lines), _new_or_all(entries)
    to_do, to_leave = _split_by_ice(spelled[:SHOWN])
    freezing = _freeze_without_heat(letter.open_parts, words)
    night_head, night = list_night_lows(news, yard, words, airs)
    return StaffLetter(
        to_do=to_do,
        to_leave=to_leave,
        not_listed=tuple(Counter(line.space for line in spelled[SHOWN:]).most_common()),
        crew=_crew_sentence(_split_by_ice(lines)[0], yard, words),
        alone=alone_sentence(letter.person, entries, yard, words),
        freeze_without_heat=_names_with_hours(freezing),
        as_told=_previously_notified([line for line in lines if line not in spelled], freezing),
        unanswered=_unanswered_sentence(letter, yard, reminder=reminder),
        safe=_safe_craft(letter, words),
        left=_left_craft(letter, words),
        over=_over(over_entries, letter, yard),
        over_had_ice=any(entry.needs_inspection for entry in over_entries if entry.left_at is None),
        take_along=_take_along(entries, words),
        night_head=night_head,
        night=night,
        reasons=list_reasons(news, yard, words, spelled),
        is_reminder=reminder,
        is_closing=not letter.open_parts,
    )


def _entries_of(letters: Iterable[Letter]) -> list[Entry]:
    return [entry for letter in letters for entry in letter.entries]


def _new_or_all(things: Sequence[Listed]) -> Sequence[Listed]:
    """What is news among them; all of them where nothing is."""
    return [thing for thing in things if thing.news] or things


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
    pressing = [line.name for line in timed if line.due == "now"]
    return crew_words(total_minutes(timed), late, hands_words(yard, words), pressing=pressing)


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
        name = craft_name_if_any(entry)
        first.setdefault(name, words.clock(entry.alarm.deadline))
    return first


def _hour(entry: Entry) -> float:
    return 0.0 if entry.alarm.deadline is None else entry.alarm.deadline.timestamp()


def _names_with_hours(hours: Mapping[str, str]) -> str:
    """Each craft with its hour, where one is known."""
    return listed_first(
        [f"{name} by {hour}" if hour else name for name, hour in hours.items()], SHOWN
    )


def _previously_notified(lines: Iterable[WorkLine], named_above: Collection[str]) -> str:
    """What was told before, by name: what is still to do with its hour, and what has ice."""
    to_do, to_leave = _split_by_ice([line for line in lines if line.name not in named_above])
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


def _safe_craft(letter: Letter, words: Wording) -> tuple[Ended, ...]:
    """Each craft that is safe now, since when and by whose work."""
    return tuple(
        Ended(
            name=plain(one.name),
            since=words.clock(one.at),
            by=plain(words.person(one.by)) if one.by else "",
        )
        for one in letter.craft_safe
    )


def _left_craft(letter: Letter, words: Wording) -> tuple[LeftLine, ...]:
    """Each craft that left with an alarm open: when, and whether ice was in it."""
    return tuple(
        LeftLine(name=plain(one.name), at=words.clock(one.at), iced=one.iced)
        for one in letter.craft_left
    )


def _over(entries: Sequence[Entry], letter: Letter, yard: Yard) -> tuple[Ended, ...]:
    """What a thread that closes was about, but for the craft that are told to be safe."""
    told = {one.craft for one in letter.craft_safe}
    found: dict[tuple[str, str], Ended] = {}
    for entry in entries:
        look = entry.needs_inspection
        if entry.left_at is not None or (entry.alarm.craft in told and not look):
            continue
        name = craft_name_if_any(entry)
        name = name or space_name(yard, entry.alarm.space)
        part = ""
        if look:
            part = part_name(entry.craft, entry.alarm.part)
        elif entry.alarm.part and not entry.alarm.craft:
            part = Names(yard).sensor_place(entry.alarm.part)
        what = "" if entry.alarm.craft else entry.definition.title.lower()
        found.setdefault((name, part), Ended(name=name, part=part, what=what))
    for space in (space for each in letter.parts for space in each.ended):
        name = space_name(yard, space)
        found.setdefault((name, ""), Ended(name=name))
    return tuple(found.values())[:SHOWN]
