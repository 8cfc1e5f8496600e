"""What the owner of a craft is told of it: a fact a sentence, and no work that is the yard's."""

import re
from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from math import isnan

from monitor.craft.acts import ACTS, Work
from monitor.craft.layup import LayupEntry
from monitor.phrases.causes import cause_title
from monitor.phrases.names import plain
from monitor.phrases.numbers import nights_like_this
from monitor.wording import Wording, listed, listed_first
from monitor.yard.space import Yard

_JUST_NOW = timedelta(minutes=5)
_HOUR = re.compile(r"\d\d:\d\d")
_HOUR_AFTER_DAY = re.compile(r" (?=\d\d:\d\d)")
# What an owner makes nothing of by a cause's own title.
_OF_CAUSE = {"voided": "Its lay-up no longer counts, and has to be done again before a frost"}
NOTHING_TO_DO = "You have nothing to do."
_PARTS = 2  # of a craft that are named
_ACTS = 3
# What happens to a craft, and what corrects a record, is no work that was done for its owner.
_NO_WORK = frozenset({Work.HAPPENED, Work.SPRING})


def first_sentence(waiting: Sequence[str], iced: Sequence[str]) -> str:
    """Whether an owner has something to do, the first thing that a letter says.

    Parameters
    ----------
    waiting : sequence of str
        Names of craft that are in danger and have no ice in them.
    iced : sequence of str
        Names of craft that had ice in them, and that nobody has looked into since.
    """
    if iced:
        return (
            f"Please do one thing: leave {listed(list(iced))} alone. Do not start"
            f" {_it_or_them(iced)} and do not charge {_its(iced)} until the yard has looked inside."
        )
    if waiting:
        return f"{NOTHING_TO_DO} Please do not start {listed(list(waiting))} before we write again."
    return NOTHING_TO_DO


def _it_or_them(names: Sequence[str]) -> str:
    return "it" if len(names) == 1 else "them"


def _its(names: Sequence[str]) -> str:
    return "its battery" if len(names) == 1 else "their batteries"


def frost_sentences(
    parts: Sequence[str], hour: datetime | None, chance: float, words: Wording
) -> tuple[str, ...]:
    """When frost may reach a craft, how likely, and what of it can freeze.

    Parameters
    ----------
    parts : sequence of str
        Their names, the most pressing first.
    hour : datetime or None
        First ice by the early hour; None where it is not known.
    chance : float
        Of ice, from 0 to 1; NaN where it is not known.
    words : Wording
    """
    since = f" from {words.clock(hour)} on" if hour is not None and hour > words.now else ""
    often = "" if isnan(chance) else f", {nights_like_this(chance)}"
    return (f"Ice may form in it{since}{often}.", *_parts_sentence("What can freeze", parts))


def cause_sentence(cause: str) -> str:
    """What is wrong with a craft that is no matter of frost alone."""
    return f"{_OF_CAUSE.get(cause) or cause_title(cause)}."


def ice_sentences(parts: Sequence[str]) -> tuple[str, ...]:
    """That there is or was ice in a craft, and what nobody knows yet."""
    return (
        *_parts_sentence("Ice has most likely been in it", parts),
        "Nobody knows before it has thawed whether it did harm.",
    )


def _parts_sentence(opening: str, parts: Sequence[str]) -> tuple[str, ...]:
    # Names of parts have commas of their own: ``filter, pump and hoses``.
    named = listed_first([f"{part[:1].lower()}{part[1:]}" for part in parts], _PARTS, "; ")
    return (f"{opening}: {named}.",) if named else (f"{opening}.",)


def answer_sentence(
    yard: Yard,
    words: Wording,
    *,
    told_at: datetime | None,
    is_answered: bool,
    answered_at: datetime | None = None,
    by: str = "",
) -> str:
    """Whether the yard has taken it on, and when; who, only where the yard says names.

    Parameters
    ----------
    yard : Yard
    words : Wording
    told_at : datetime or None
        When the yard's own people were told; None where it is not known.
    is_answered : bool
    answered_at : datetime, optional
        None where it is not known any more.
    by : str, optional
        Id of who answered.
    """
    name = plain(yard.name)
    if is_answered:
        who = f"{plain(words.person(by))} at {name}" if by and yard.owners.names_staff else name
        return f"{who} took it on{_at_words(answered_at, words)}."
    if told_at is not None and timedelta(0) <= words.now - told_at < _JUST_NOW:
        return f"{name} has just been told as well."
    return f"{name} was told{_at_words(told_at, words)} and has not answered yet."


def _at_words(at: datetime | None, words: Wording) -> str:
    """`` at 14:05`` of today, `` on Fri at 14:05`` of another day; empty for None."""
    said = words.clock(at)
    if not said:
        return ""
    return f" at {said}" if _HOUR.match(said) else f" on {_HOUR_AFTER_DAY.sub(' at ', said)}"


def done_sentence(entries: Iterable[LayupEntry]) -> str:
    """What was done to a craft, in the record's own words; empty where nothing was."""
    rows = [ACTS[entry.act] for entry in sorted(entries, key=lambda each: each.at)]
    names = list(dict.fromkeys(row.name for row in rows if row.work not in _NO_WORK))
    return f"Done since: {listed_first(names, _ACTS)}." if names else ""


def next_sentence(*, any_ice: bool) -> str:
    """When an owner hears again."""
    if any_ice:
        return "We write again when the yard has looked inside."
    return "We write again when it is safe, or if ice forms."


def contact_sentence(yard: Yard) -> str:
    """Whom an owner asks, by the ways that the yard's file gives."""
    call = f"call {yard.telephone}" if yard.telephone else ""
    reply = "reply to this mail" if yard.reply_to else ""
    ways = " or ".join(way for way in (call, reply) if way)
    return f"Questions: {ways or f'ask {plain(yard.name)}'}."


def danger_subject(names: Sequence[str], *, any_ice: bool, is_answered: bool, what: str) -> str:
    """Subject line of a letter that tells of danger.

    Parameters
    ----------
    names : sequence of str
        Craft that it is about; of those with ice alone where there is any.
    any_ice : bool
    is_answered : bool
    what : str
        What they are not safe from; a cause's own title where it is not frost.
    """
    said = names_in_subject(names)
    if any_ice:
        return f"Ice in {said}: please do not start {_it_or_them(names)}"
    yard = "the yard is on it" if is_answered else "the yard has been told"
    if what == "frost":
        return f"{said} {'is' if len(names) == 1 else 'are'} not safe from frost; {yard}"
    return f"{said}: {what}; {yard}"


def closing_subject(names: Sequence[str], *, iced: Sequence[str]) -> str:
    """Subject line of a letter after which nothing is open."""
    if iced:
        return f"The frost is over, but please do not start {names_in_subject(iced)} yet"
    return f"{names_in_subject(names)} {'is' if len(names) == 1 else 'are'} safe again"


def safe_sentence(name: str, since: datetime | None, by: str, yard: Yard, words: Wording) -> str:
    """That a craft is safe, since when, and by whose work where the yard says names."""
    if since is None:
        return f"{name} is in no danger any more, as far as laidup can judge."
    who = f", by {plain(words.person(by))}" if by and yard.owners.names_staff else ""
    return f"{name} is safe since {words.clock(since)}{who}, as far as laidup can judge."


def look_sentence(name: str) -> str:
    """That ice was in a craft which the frost has left, and that nobody looked yet."""
    return f"The frost is over for {name}. Ice has been in it, and nobody has looked inside yet."


def names_in_subject(names: Sequence[str]) -> str:
    """Two names and how many more, for a lock screen."""
    return listed_first([plain(name, 40) for name in names], _PARTS) or "Your craft"
