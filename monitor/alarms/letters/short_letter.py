"""A letter in few signs: its subject line, for the lock screen, and its text for a phone."""

from collections.abc import Sequence
from functools import partial
from itertools import takewhile
from math import isfinite

from monitor.alarms.entry import Letter
from monitor.alarms.letters.night_and_reasons import Airs
from monitor.alarms.letters.staff_letter import StaffLetter
from monitor.alarms.letters.work_lines import WorkLine
from monitor.phrases.causes import over_words
from monitor.phrases.names import NAME_IN_TEXT, plain
from monitor.phrases.step_in_words import capitalize_first
from monitor.wording import Wording, listed
from monitor.yard.alarm import Topic
from monitor.yard.message import TEXT_SIGNS, MessageKind
from monitor.yard.space import Yard

_PLACE = 24  # signs at most, so that the first line always fits
_NAMED = 2  # acts with their hours, in a subject line
_LONGEST_NAME = 40


def short_text(said: StaffLetter, subject: str) -> str:
    """Write as many lines of a letter as a text holds, and how many more there are.

    Parameters
    ----------
    said : StaffLetter
    subject : str
        Its subject line, which stands for a letter without lines.

    Returns
    -------
    str
        At most 160 signs, where every sign is of the basic set.
    """
    lines = [*said.to_do, *said.to_leave]
    if not lines:
        return subject
    hidden = sum(n for _, n in said.not_listed)
    opening = "Not answered: " if said.is_reminder else ""
    told = [_line_words(line) for line in lines]
    for shown in range(len(told), 0, -1):
        text = f"{opening}{_joined(told[:shown], len(told) - shown + hidden)}"
        if len(text) <= TEXT_SIGNS:
            return text
    return f"{opening}{told[0]}"[:TEXT_SIGNS]


def _joined(told: Sequence[str], more: int) -> str:
    rest = [f"{more} more."] if more else []
    return " ".join([*told, *rest])


def _line_words(line: WorkLine) -> str:
    """Write act, craft, place and hour, such as ``Drain Plover, Long Shed 2, by 20:20``."""
    call = capitalize_first(line.call.replace("{name}", plain(line.name, NAME_IN_TEXT)))
    place = f", {plain(line.place, _PLACE)}" if line.place and not line.has_ice else ""
    hour = "" if line.has_ice else _hour_words(line)
    return f"{call}{place}{hour}."


def _hour_words(line: WorkLine) -> str:
    return f", by {line.due}" if line.is_ahead else f", {line.due}"


def subject_of(letter: Letter, said: StaffLetter, yard: Yard, words: Wording, airs: Airs) -> str:
    """What to do first and by when, how much more there is, and how cold it gets."""
    if said.is_closing:
        return _closing_subject(letter, said, yard)
    to_do = {line.name for line in said.to_do}
    # A craft of which a part is past saving and others are not is named for what can be done.
    leave = [line for line in said.to_leave if line.name not in to_do]
    lines = [*sorted(said.to_do, key=_subject_order), *leave]
    if not lines:
        return (
            "Not answered yet" if said.is_reminder else f"{letter.topic} at the yard".capitalize()
        )
    named, told = _named_acts(lines)
    more = len(lines) - told + sum(n for _, n in said.not_listed)
    acts = ", ".join([capitalize_first(named[0]), *named[1:]]) + (f", {more} more" if more else "")
    prefix = "Not answered: " if said.is_reminder else ""
    update = letter.kind is MessageKind.UPDATE and not said.is_reminder
    low = _low_of(letter, words, airs)
    return f"{prefix or ('Update: ' if update else '')}{acts}{f'; {low} tonight' if low else ''}"


def _subject_order(line: WorkLine) -> tuple[bool, bool]:
    """Sorting key: what is new first, and of it what was not told as frozen before."""
    return not line.news, line.was_iced


def _named_acts(lines: Sequence[WorkLine]) -> tuple[list[str], int]:
    """The first acts, those that are one and the same together, and of how many lines they are."""
    named: list[str] = []
    told = 0
    while told < len(lines) and len(named) < _NAMED:
        first, *rest = lines[told:]
        alike = [first]
        if first.by is None:
            alike += takewhile(partial(_is_same_act, first), rest)
        # Two causes may call for one act at one place: its name stands there once.
        names = list(dict.fromkeys(line.name for line in alike))
        named.append(
            first.call.replace("{name}", _few(names)) if len(names) > 1 else _act_and_hour(first)
        )
        told += len(alike)
    return named, told


def _is_same_act(one: WorkLine, other: WorkLine) -> bool:
    return other.by is None and other.call == one.call


def _act_and_hour(line: WorkLine) -> str:
    name = plain(line.name, _LONGEST_NAME)
    call = line.call.replace("{name}", name)
    if line.by is None:
        return call
    return f"{call} by {line.due}" if line.is_ahead else f"{call} now"


def _low_of(letter: Letter, words: Wording, airs: Airs) -> str:
    """How cold the coldest of its spaces gets; empty where frost is not what it is about."""
    if letter.topic is not Topic.FROST:
        return ""
    spaces = {entry.alarm.space for entry in letter.entries}
    lows = [airs[each].low_c for each in spaces if each in airs and isfinite(airs[each].low_c)]
    return words.temperature(min(lows), 0) if lows else ""


def _closing_subject(letter: Letter, said: StaffLetter, yard: Yard) -> str:
    if said.over_had_ice:
        return "The frost is over, but look first: what had ice in it is not clear"
    iced = [one.name for one in said.left if one.iced]
    if iced:
        return f"Left with ice inside, nobody looked: {_few(iced)}"
    if said.left and not (said.safe or said.over):
        return f"Left the yard: {_few([one.name for one in said.left])}"
    names = [one.name for one in (*said.safe, *said.over)]
    few = _few([each for each in dict.fromkeys(names) if each != plain(yard.name)])
    if letter.topic in {Topic.FROST, Topic.BATTERY}:
        return f"Safe again: {few}"
    hazards = {entry.definition.hazard for entry in letter.entries}
    over = capitalize_first(over_words(letter.topic, hazards))
    return f"{over}: {few}" if few else over


def _few(names: Sequence[str]) -> str:
    shown = [plain(each, _LONGEST_NAME) for each in names[:3]]
    more = len(names) - len(shown)
    return f"{', '.join(shown)} and {more} more" if more > 0 else listed(shown)
