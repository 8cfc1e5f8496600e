"""What the owner of a craft is told of it, put together from the templates of one language."""

import re
from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from itertools import accumulate
from math import isnan

from monitor.craft.acts import ACTS
from monitor.craft.layup import LayupEntry
from monitor.phrases.names import plain
from monitor.phrases.numbers import as_nights
from monitor.phrases.owner_catalogue import NO_WORK, OwnerCatalogue
from monitor.phrases.owner_languages import catalogue_of
from monitor.wording import Wording
from monitor.yard.space import Yard

_JUST_NOW = timedelta(minutes=5)
_PARTS = 2  # of a craft that are named
_PART_WORDS = 9  # of all their names; one is named in any case
_ACTS = 3
_NAME = 40  # signs of a craft's name on a lock screen
_BEFORE_SIGN = re.compile(r" +(?=[,.])")
_COMMA_BEFORE_END = re.compile(r",(?=\.)")


def first_sentence(waiting: Sequence[str], iced: Sequence[str], words: Wording) -> str:
    """Whether an owner has something to do, the first thing that a letter says.

    Parameters
    ----------
    waiting : sequence of str
        Names of craft that are in danger and have no ice in them.
    iced : sequence of str
        Names of craft that had ice in them, and that nobody has looked into since.
    words : Wording
    """
    said = catalogue_of(words.language)
    if iced:
        return said.leave_alone.for_count(len(iced)).format(names=said.list_names(iced))
    if waiting:
        return f"{said.nothing_to_do} {said.do_not_start.format(names=said.list_names(waiting))}"
    return said.nothing_to_do


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
    said = catalogue_of(words.language)
    ahead = hour if hour is not None and hour > words.now else None
    ice = said.ice_may_form.format(
        since=from_words(ahead, words),
        often="" if isnan(chance) else nights_words(chance, said),
    )
    named = _named_parts(parts, said)
    return (close_gaps(ice), *([said.what_can_freeze.format(parts=named)] if named else []))


def nights_words(chance: float, said: OwnerCatalogue) -> str:
    """Say a chance as nights of a number, such as ``7 nights in 10 like this``."""
    at_least, nights, of = as_nights(chance)
    if not nights:
        return said.hardly_a_night
    template = said.over_nights if at_least else said.nights.for_count(nights)
    return template.format(nights=nights, of=of)


def cause_sentence(cause: str, words: Wording) -> str:
    """What is wrong with a craft that is no matter of frost alone."""
    said = catalogue_of(words.language)
    return said.of_cause.get(cause, said.of_cause["frost"])


def ice_sentences(parts: Sequence[str], words: Wording) -> tuple[str, ...]:
    """That there is or was ice in a craft, and what nobody knows yet."""
    said = catalogue_of(words.language)
    named = _named_parts(parts, said)
    ice = said.ice_has_been.format(parts=named) if named else said.ice_has_been_somewhere
    return ice, said.harm_not_known


def _named_parts(parts: Sequence[str], said: OwnerCatalogue) -> str:
    # Names of parts have commas of their own: ``filter, pump and hoses``.
    named = [said.part_name(part) for part in dict.fromkeys(parts)]
    if said.language == "en":
        named = [f"{part[:1].lower()}{part[1:]}" for part in named]
    words = list(accumulate(len(name.split()) for name in named[:_PARTS]))
    shown = max(1, sum(count <= _PART_WORDS for count in words))
    return said.first_of(named, shown, "; ")


def answer_sentence(
    yard: Yard,
    words: Wording,
    *,
    notified_at: datetime | None,
    is_answered: bool,
    answered_at: datetime | None = None,
    by: str = "",
) -> str:
    """Whether the yard has taken it on, and when; who, only where the yard says names.

    Parameters
    ----------
    yard : Yard
    words : Wording
    notified_at : datetime or None
        When the yard's own people were told; None where it is not known.
    is_answered : bool
    answered_at : datetime, optional
        None where it is not known any more.
    by : str, optional
        Id of who answered.
    """
    said, name = catalogue_of(words.language), plain(yard.name)
    if is_answered:
        who = name
        if by and yard.owners.names_staff:
            who = said.who_of_yard.format(person=plain(words.person(by)), yard=name)
        at, since = at_words(answered_at, words), since_words(answered_at, words)
        return close_gaps(said.taken_on.format(who=who, at=at, since=since))
    if notified_at is not None and timedelta(0) <= words.now - notified_at < _JUST_NOW:
        return said.yard_just_told.format(yard=name)
    return close_gaps(said.yard_told.format(yard=name, at=at_words(notified_at, words)))


def at_words(at: datetime | None, words: Wording) -> str:
    """``at 14:05`` of today, ``on Fri at 14:05`` of another day; empty for None."""
    said = catalogue_of(words.language)
    return _hour_words(said.at_hour, said.at_day, at, words)


def since_words(at: datetime | None, words: Wording) -> str:
    """``since 14:05`` of today, ``since Fri 14:05`` of another day; empty for None."""
    said = catalogue_of(words.language)
    return _hour_words(said.since_hour, said.since_day, at, words)


def from_words(at: datetime | None, words: Wording) -> str:
    """``from 14:05 on`` of today, ``from Fri 14:05 on`` of another day; empty for None."""
    said = catalogue_of(words.language)
    return _hour_words(said.from_hour, said.from_day, at, words)


def _hour_words(of_today: str, of_a_day: str, at: datetime | None, words: Wording) -> str:
    if at is None:
        return ""
    day, hour = words.day_and_hour(at)
    return of_a_day.format(day=day, hour=hour) if day else of_today.format(hour=hour)


def close_gaps(text: str) -> str:
    """Close the gaps that an hour or a chance leaves which nobody knows."""
    return _COMMA_BEFORE_END.sub("", _BEFORE_SIGN.sub("", " ".join(text.split())))


def done_sentence(entries: Iterable[LayupEntry], words: Wording) -> str:
    """What was done to a craft, in the record's own words; empty where nothing was."""
    said = catalogue_of(words.language)
    named = named_acts(entries, said)
    return said.done_since.format(acts=named) if named else ""


def named_acts(entries: Iterable[LayupEntry], said: OwnerCatalogue) -> str:
    """What was done, each act once, in the order of doing."""
    done = sorted(entries, key=lambda each: each.at)
    names = [said.acts[each.act] for each in done if ACTS[each.act].work not in NO_WORK]
    return said.first_of(list(dict.fromkeys(names)), _ACTS)


def next_sentence(words: Wording, *, any_ice: bool) -> str:
    """When an owner hears again."""
    said = catalogue_of(words.language)
    return said.next_looked if any_ice else said.next_safe


def contact_sentence(yard: Yard, words: Wording) -> str:
    """Whom an owner asks, by the ways that the yard's file gives."""
    said = catalogue_of(words.language)
    call = said.by_telephone.format(telephone=yard.telephone) if yard.telephone else ""
    ways = [way for way in (call, said.by_reply if yard.reply_to else "") if way]
    asked = f" {said.or_word} ".join(ways) or said.by_yard.format(yard=plain(yard.name))
    return said.contact.format(ways=asked)


def danger_subject(
    names: Sequence[str], words: Wording, *, any_ice: bool, is_answered: bool, cause: str
) -> str:
    """Subject line of a letter that tells of danger.

    Parameters
    ----------
    names : sequence of str
        Craft that it is about; of those with ice alone where there is any.
    words : Wording
    any_ice : bool
    is_answered : bool
    cause : str
        The alarm's: what they are not safe from.
    """
    said, named = catalogue_of(words.language), names_in_subject(names, words)
    if any_ice:
        return said.subject_ice.for_count(len(names)).format(names=named)
    yard = said.yard_is_on_it if is_answered else said.yard_has_been_told
    if cause == "frost":
        return said.subject_frost.for_count(len(names)).format(names=named, yard=yard)
    title = said.cause_titles.get(cause, said.cause_titles["frost"])
    return said.subject_cause.format(names=named, what=title, yard=yard)


def closing_subject(names: Sequence[str], words: Wording, *, iced: Sequence[str]) -> str:
    """Subject line of a letter after which nothing is open."""
    said = catalogue_of(words.language)
    if iced:
        return said.subject_over_iced.format(names=names_in_subject(iced, words))
    return said.subject_over.for_count(len(names)).format(names=names_in_subject(names, words))


def safe_sentence(name: str, since: datetime | None, by: str, yard: Yard, words: Wording) -> str:
    """That a craft is safe, since when, and by whose work where the yard says names."""
    said = catalogue_of(words.language)
    if since is None:
        return said.no_danger.format(name=name)
    template = said.safe_by if by and yard.owners.names_staff else said.safe_since
    person = plain(words.person(by))
    return template.format(name=name, since=since_words(since, words), person=person)


def left_sentence(name: str, at: datetime, words: Wording, *, iced: bool) -> str:
    """That a craft left the yard, and what nobody had looked into by then."""
    said = catalogue_of(words.language)
    template = said.left_iced if iced else said.left
    return template.format(name=name, since=since_words(at, words))


def left_subject(names: Sequence[str], words: Wording, *, iced: Sequence[str]) -> str:
    """Subject line of a letter that only tells of craft that left the yard."""
    said = catalogue_of(words.language)
    if iced:
        return said.subject_left_iced.format(names=names_in_subject(iced, words))
    return said.subject_left.for_count(len(names)).format(names=names_in_subject(names, words))


def left_first_sentence(names: Sequence[str], words: Wording) -> str:
    """What such a letter says first: not that there is nothing to do."""
    said = catalogue_of(words.language)
    return said.left_first.format(names=said.list_names(names))


def inspection_sentence(name: str, words: Wording) -> str:
    """That ice was in a craft which the frost has left, and that nobody looked yet."""
    return catalogue_of(words.language).nobody_looked.format(name=name)


def names_in_subject(names: Sequence[str], words: Wording) -> str:
    """Two names and how many more, for a lock screen."""
    said = catalogue_of(words.language)
    return said.first_of([plain(name, _NAME) for name in names], _PARTS) or said.your_craft
