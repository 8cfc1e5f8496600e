"""A letter to the owner of a craft as data: how it stands, and what the yard does about it."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from math import isfinite, nan

from monitor.alarms.entry import Entry, Letter
from monitor.alarms.letters.entry_reading import craft_name, has_ice, work_order
from monitor.craft.layup import LayupEntry
from monitor.phrases.names import part_name, plain, space_name
from monitor.phrases.owner_lines import (
    answer_sentence,
    cause_sentence,
    closing_subject,
    contact_sentence,
    danger_subject,
    done_sentence,
    first_sentence,
    frost_sentences,
    ice_sentences,
    inspection_sentence,
    left_first_sentence,
    left_sentence,
    left_subject,
    next_sentence,
    safe_sentence,
)
from monitor.wording import Wording
from monitor.yard.assessment import Hazard
from monitor.yard.frost_facts import FrostFacts
from monitor.yard.space import Yard
from monitor.yard.watch import LeftYard

SHOWN = 6  # craft that a letter spells out


@dataclass(frozen=True, slots=True, kw_only=True)
class GivenAnswer:
    """Who took an alarm on, and when."""

    at: datetime
    by: str


Answers = Mapping[str, GivenAnswer]  # by alarm id


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnerLine:
    """One craft: where it stands, how it is with it, and what the yard does."""

    name: str
    place: str
    sentences: tuple[str, ...]
    has_ice: bool
    is_answered: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnerLetter:
    """What a letter says, in the order in which it says it."""

    subject: str
    first: str  # whether there is something to do
    craft: tuple[OwnerLine, ...]
    not_listed: int
    over: tuple[str, ...]  # what became of craft that earlier letters told of
    again: str  # when the owner hears next; empty where nothing is open
    contact: str


def compose_owner_letter(
    letter: Letter, yard: Yard, words: Wording, answers: Answers
) -> OwnerLetter:
    """Gather what an owner is told, one paragraph a craft.

    Parameters
    ----------
    letter : Letter
        To the owner of the craft that it lists.
    yard : Yard
    words : Wording
        The reader's units and the yard's clock.
    answers : mapping of GivenAnswer by alarm id
        Who has taken on what.
    """
    holding, over = _by_craft(letter.open_parts), _by_craft(letter.closing_parts)
    gone = {one.craft for one in letter.craft_left}
    over = {craft: entries for craft, entries in over.items() if craft not in {*holding, *gone}}
    lines = [
        _line_of(entries, letter.yard_told_at, yard, words, answers) for entries in holding.values()
    ]
    unlooked = [_name(each) for each in over.values() if _is_unlooked(each)]
    told = {*holding, *over, *gone}
    saved = [one for one in letter.craft_safe if one.craft not in told]
    iced, waiting = _names_by_ice(lines)
    away, away_iced = _names_left(letter.craft_left)
    ended = [*map(_name, over.values()), *(plain(one.name) for one in saved)]
    if lines:
        subject = _danger_subject(lines, holding.values(), words)
    else:
        subject = _ended_subject(ended, unlooked, away, away_iced, words)
    only_left = bool(away) and not (lines or ended or away_iced)
    return OwnerLetter(
        subject=subject,
        first=left_first_sentence(away, words)
        if only_left
        else first_sentence(waiting, [*iced, *unlooked, *away_iced], words),
        craft=tuple(lines[:SHOWN]),
        not_listed=max(0, len(lines) - SHOWN),
        over=(
            *_over_sentences(over.values(), letter, yard, words),
            *(safe_sentence(plain(one.name), one.at, one.by, yard, words) for one in saved),
            *_left_sentences(letter.craft_left, words),
        ),
        again=next_sentence(words, any_ice=bool(iced or unlooked)) if lines or unlooked else "",
        contact=contact_sentence(yard, words),
    )


def _ended_subject(
    ended: Sequence[str],
    unlooked: Sequence[str],
    away: Sequence[str],
    away_iced: Sequence[str],
    words: Wording,
) -> str:
    """Of a letter after which nothing is open: what left with ice in it goes before all else."""
    if away_iced or (away and not ended):
        return left_subject(away, words, iced=away_iced)
    return closing_subject(ended, words, iced=unlooked)


def _is_unlooked(entries: Iterable[Entry]) -> bool:
    """Whether ice was in a craft, and nobody has looked into it since."""
    return any(one.needs_inspection for one in entries)


def _names_left(left: Sequence[LeftYard]) -> tuple[list[str], list[str]]:
    """Names of craft that left, and of those of them with ice that nobody looked at."""
    return [plain(one.name) for one in left], [plain(one.name) for one in left if one.iced]


def _left_sentences(left: Iterable[LeftYard], words: Wording) -> list[str]:
    return [left_sentence(plain(one.name), one.at, words, iced=one.iced) for one in left]


def _by_craft(letters: Iterable[Letter]) -> dict[str, list[Entry]]:
    """Entries of each craft, what presses most first."""
    found: dict[str, list[Entry]] = {}
    entries = [entry for letter in letters for entry in letter.entries]
    for entry in sorted(entries, key=work_order):
        found.setdefault(entry.alarm.craft or entry.alarm.space, []).append(entry)
    return found


def _names_by_ice(lines: Iterable[OwnerLine]) -> tuple[list[str], list[str]]:
    """Names of craft that have ice in them, and of those that frost only threatens."""
    lines = list(lines)
    iced = [line.name for line in lines if line.has_ice]
    return iced, [line.name for line in lines if not line.has_ice]


def _name(entries: Sequence[Entry]) -> str:
    return craft_name(entries[0])


def _line_of(
    entries: Sequence[Entry],
    notified_at: datetime | None,
    yard: Yard,
    words: Wording,
    answers: Answers,
) -> OwnerLine:
    first = entries[0]
    taken = [answers[each.alarm.id] for each in entries if each.alarm.id in answers]
    last = max(taken, key=lambda one: one.at, default=None)
    given = {one.alarm.id: answers[one.alarm.id].at for one in entries if one.alarm.id in answers}
    answered = all(each.alarm.is_answered(given.get(each.alarm.id)) for each in entries)
    answer = answer_sentence(
        yard,
        words,
        notified_at=notified_at,
        is_answered=answered,
        answered_at=None if last is None else last.at,
        by="" if last is None else last.by,
    )
    said = (*_danger_sentences(entries, words), answer, done_sentence(_work_since(entries), words))
    return OwnerLine(
        name=craft_name(first),
        place=space_name(yard, first.alarm.space),
        sentences=tuple(each for each in said if each),
        has_ice=any(map(has_ice, entries)),
        is_answered=answered,
    )


def _danger_sentences(entries: Sequence[Entry], words: Wording) -> tuple[str, ...]:
    """How it stands: ice before frost ahead, and frost before what its record says."""
    iced = [each for each in entries if has_ice(each)]
    if iced:
        return ice_sentences(_parts_of(iced), words)
    frost = [each for each in entries if each.definition.hazard is Hazard.FROST]
    if not frost:
        return tuple(dict.fromkeys(cause_sentence(each.alarm.cause, words) for each in entries))
    hours = [each.alarm.deadline for each in frost if each.alarm.deadline is not None]
    return frost_sentences(
        _parts_of(frost),
        min((hour for hour in hours if hour > words.now), default=None),
        max(filter(isfinite, map(_chance_of, frost)), default=nan),
        words,
    )


def _parts_of(entries: Iterable[Entry]) -> list[str]:
    return list(dict.fromkeys(part_name(each.craft, each.alarm.part) for each in entries))


def _chance_of(entry: Entry) -> float:
    facts = None if entry.assessment is None else entry.assessment.facts
    if not isinstance(facts, FrostFacts):
        return nan
    return facts.chance_third_ice if facts.mixed else facts.chance_first_ice


def _work_since(entries: Sequence[Entry]) -> list[LayupEntry]:
    """What was entered for a craft since its first alarm of these."""
    craft = entries[0].craft
    start = None if craft is None else craft.plan_start
    since = min(each.alarm.raised_at for each in entries)
    return [] if start is None else [each for each in start.entries if each.at >= since]


def _over_sentences(
    craft: Iterable[Sequence[Entry]], letter: Letter, yard: Yard, words: Wording
) -> tuple[str, ...]:
    """What became of each craft, and what was done for it."""
    return tuple(
        sentence
        for entries in craft
        for sentence in _sentences_of_over(entries, letter, yard, words)
    )


def _sentences_of_over(
    entries: Sequence[Entry], letter: Letter, yard: Yard, words: Wording
) -> list[str]:
    craft, name = entries[0].alarm.craft, plain(_name(entries))
    if _is_unlooked(entries):
        return [inspection_sentence(name, words)]
    safe = next((one for each in letter.parts for one in each.safe if one.craft == craft), None)
    since, by = (None, "") if safe is None else (safe.at, safe.by)
    said = [safe_sentence(name, since, by, yard, words), done_sentence(_work_since(entries), words)]
    return [each for each in said if each]


def _danger_subject(
    lines: Sequence[OwnerLine], holding: Iterable[Sequence[Entry]], words: Wording
) -> str:
    entries = [entry for of_craft in holding for entry in of_craft]
    iced, _ = _names_by_ice(lines)
    frost = any(entry.definition.hazard is Hazard.FROST for entry in entries)
    worst = min(entries, key=work_order)
    return danger_subject(
        iced or [line.name for line in lines],
        words,
        any_ice=bool(iced),
        is_answered=all(line.is_answered for line in lines),
        cause="frost" if frost else worst.alarm.cause,
    )
