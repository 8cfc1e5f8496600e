"""The week's letter to the owner of craft as data: safe or not, and what the yard does and did."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import Enum, auto
from math import inf, isfinite, nan

from monitor.craft.stored import StoredCraft
from monitor.phrases.craft_tonight import is_pressing
from monitor.phrases.names import judged_part_name, plain, space_name
from monitor.phrases.owner_catalogue import OWNER_CAUSES, OwnerCatalogue
from monitor.phrases.owner_languages import catalogue_of
from monitor.phrases.owner_lines import (
    answer_sentence,
    at_words,
    cause_sentence,
    close_gaps,
    contact_sentence,
    danger_subject,
    first_sentence,
    from_words,
    frost_sentences,
    ice_sentences,
    named_acts,
    names_in_subject,
    since_words,
)
from monitor.phrases.standings import is_well, row_of
from monitor.reports.picture import CraftPicture, Picture
from monitor.reports.sentences import is_out_of_date
from monitor.reports.week import AlarmOfWeek, WeeklyReport
from monitor.wording import Wording
from monitor.yard.alarm import ACTIVE
from monitor.yard.assessment import Assessment, Standing
from monitor.yard.frost_facts import FrostFacts
from monitor.yard.space import Person

_BATTERY_IN_FROST = frozenset({Standing.FREEZING, Standing.SUSPECT})
SHOWN = 6  # craft that a letter spells out


class NightAhead(Enum):
    """How a craft stands against the frost of the coming night; the worst first."""

    ICED = auto()  # there is or was ice in it, and nobody has looked since
    UNSAFE = auto()
    UNKNOWN = auto()  # a part of it cannot be judged
    SAFE = auto()


@dataclass(frozen=True, slots=True, kw_only=True)
class CraftOfWeek:
    """One craft: its name and place, how it stands, and what is said of it."""

    name: str
    place: str
    night: NightAhead
    battery_wants: bool  # whether somebody is to see to its battery
    is_answered: bool  # whether the yard has taken on all that is open of it
    sentences: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnerWeek:
    """What the letter says, in the order in which it says it."""

    subject: str
    first: str  # whether the craft are safe, and whether there is something to do
    dates: str
    craft: tuple[CraftOfWeek, ...]
    not_listed: int
    again: str
    contact: str


def compose_owner_week(report: WeeklyReport, person: Person, words: Wording) -> OwnerWeek:
    """Gather what an owner reads of a week.

    Parameters
    ----------
    report : WeeklyReport
        Of this owner's craft alone.
    person : Person
        The owner.
    words : Wording
        In the owner's units and language.
    """
    said, picture = catalogue_of(words.language), report.picture
    is_blind = picture.judged_at is None or is_out_of_date(picture)
    lines = [_craft_line(one, report, words, is_blind=is_blind) for one in picture.craft]
    lines.sort(key=lambda line: line.night.value)
    subject = _state_subject(lines, words, is_blind=is_blind)
    week = report.since.isocalendar().week
    title = said.week_title.format(week=week, yard=plain(picture.yard.name))
    return OwnerWeek(
        subject=said.week_subject.format(title=title, state=subject),
        first=_first_words(lines, picture, words, is_blind=is_blind),
        dates=said.week_dates.format(
            first=words.weekday(report.since),
            last=words.weekday(report.last_instant),
            name=plain(person.name),
        ),
        craft=tuple(lines[:SHOWN]),
        not_listed=max(0, len(lines) - SHOWN),
        again=said.week_again,
        contact=contact_sentence(picture.yard, words),
    )


def _names_of(lines: Iterable[CraftOfWeek], night: NightAhead) -> list[str]:
    return [line.name for line in lines if line.night is night]


def _state_subject(lines: Sequence[CraftOfWeek], words: Wording, *, is_blind: bool) -> str:
    """How the craft stand, for a lock screen: the worst of them, else that all are safe."""
    said = catalogue_of(words.language)
    for night in (NightAhead.ICED, NightAhead.UNSAFE):
        if names := _names_of(lines, night):
            answered = all(line.is_answered for line in lines if line.night is night)
            is_iced = night is NightAhead.ICED
            return danger_subject(
                names, words, any_ice=is_iced, is_answered=answered, cause="frost"
            )
    unknown = [line.name for line in lines] if is_blind else _names_of(lines, NightAhead.UNKNOWN)
    if unknown:
        return said.week_subject_unknown.format(names=names_in_subject(unknown, words))
    if wanting := [line.name for line in lines if line.battery_wants]:
        return said.week_subject_battery.format(names=names_in_subject(wanting, words))
    safe = [line.name for line in lines]
    return said.week_subject_safe.for_count(len(safe)).format(names=names_in_subject(safe, words))


def _first_words(
    lines: Sequence[CraftOfWeek], picture: Picture, words: Wording, *, is_blind: bool
) -> str:
    said = catalogue_of(words.language)
    if iced := _names_of(lines, NightAhead.ICED):
        return first_sentence([], iced, words)
    if is_blind:
        since = since_words(picture.judged_at, words)
        return close_gaps(said.week_blind.format(since=since, yard=plain(picture.yard.name)))
    for night, template in (
        (NightAhead.UNSAFE, said.week_unsafe),
        (NightAhead.UNKNOWN, said.week_unknown),
    ):
        if names := _names_of(lines, night):
            return template.for_count(len(names)).format(names=said.list_names(names))
    if names := [line.name for line in lines if line.battery_wants]:
        return said.week_battery_first.format(names=said.list_names(names))
    names = [line.name for line in lines] or [said.your_craft]
    return said.week_safe.for_count(len(names)).format(names=said.first_of(names, SHOWN))


def _craft_line(
    one: CraftPicture, report: WeeklyReport, words: Wording, *, is_blind: bool
) -> CraftOfWeek:
    night = night_ahead(one.circuits)
    alarms = [each for each in report.alarms if _is_of(each, one.craft)]
    is_open = [each for each in alarms if each.alarm.state in ACTIVE]
    battery = _battery_sentence(one.battery, catalogue_of(words.language))
    battery_first = night is NightAhead.SAFE and _battery_wants(one.battery)
    sentences = (
        battery if battery_first else "",
        *_standing_sentences(one, night, report.picture, words, is_blind=is_blind),
        _answer(is_open, night, report.picture, words),
        _past_danger(alarms, night, report.picture, words),
        _done_this_week(one.craft, report, words),
        _coldest_air(one.craft, report, words),
        "" if battery_first else battery,
    )
    return CraftOfWeek(
        name=plain(one.craft.name),
        place=space_name(report.picture.yard, one.craft.space),
        night=night,
        battery_wants=_battery_wants(one.battery),
        is_answered=bool(is_open) and not _unanswered(is_open),
        sentences=tuple(each for each in sentences if each),
    )


def night_ahead(circuits: Iterable[Assessment]) -> NightAhead:
    """How a craft stands by its circuits' judgements, the worst of them."""
    found = NightAhead.SAFE
    for seen in circuits:
        here = NightAhead.SAFE
        if row_of(seen).too_late:
            here = NightAhead.ICED
        elif seen.standing is Standing.EXPOSED:
            here = NightAhead.UNSAFE
        elif seen.standing is Standing.NOT_KNOWN:
            here = NightAhead.UNKNOWN
        found = min(found, here, key=lambda night: night.value)
    return found


def _is_of(one: AlarmOfWeek, craft: StoredCraft) -> bool:
    return one.alarm.craft == craft.id and one.alarm.cause in OWNER_CAUSES


def _unanswered(alarms: Iterable[AlarmOfWeek]) -> bool:
    return any(not each.alarm.is_answered(each.acknowledged_at) for each in alarms)


def _standing_sentences(
    one: CraftPicture, night: NightAhead, picture: Picture, words: Wording, *, is_blind: bool
) -> tuple[str, ...]:
    """How it stands, each thing once."""
    if night is NightAhead.ICED:
        iced = [judged_part_name(a, one.craft) for a in one.circuits if row_of(a).too_late]
        return ice_sentences(iced, words)
    if night is NightAhead.UNSAFE:
        exposed = [a for a in one.circuits if a.standing is Standing.EXPOSED]
        hours = [a.deadline for a in exposed if a.deadline is not None and a.deadline > words.now]
        chance = max(filter(isfinite, map(_chance_of_ice, exposed)), default=nan)
        parts = [judged_part_name(a, one.craft) for a in exposed]
        return frost_sentences(parts, min(hours, default=None), chance, words)
    left = _undone_sentence(one.craft.id, picture, words)
    if is_blind:
        return (left,)
    if night is NightAhead.UNKNOWN:
        said = catalogue_of(words.language)
        return (said.week_not_read.format(space=space_name(picture.yard, one.craft.space)), left)
    return (_room_sentence(one.circuits, words), left)


def _undone_sentence(craft: str, picture: Picture, words: Wording) -> str:
    """That later work undid its lay-up, or that some is left to do; empty if neither."""
    if any(
        alarm.cause == "voided" and alarm.craft == craft and alarm.state in ACTIVE
        for alarm in picture.alarms
    ):
        return cause_sentence("voided", words)
    is_undone = any(work.craft.id == craft for work in picture.standing_work)
    return catalogue_of(words.language).week_undone if is_undone else ""


def _room_sentence(circuits: Sequence[Assessment], words: Wording) -> str:
    said = catalogue_of(words.language)
    room_k = min((seen.margin_k for seen in circuits), default=nan)
    if room_k == inf:
        return said.week_dry
    return said.week_room.format(room=words.difference(room_k)) if room_k > 0.0 else ""


def _chance_of_ice(seen: Assessment) -> float:
    if not isinstance(seen.facts, FrostFacts):
        return nan
    return seen.facts.chance_third_ice if seen.facts.mixed else seen.facts.chance_first_ice


def _answer(
    is_open: Sequence[AlarmOfWeek], night: NightAhead, picture: Picture, words: Wording
) -> str:
    """What the yard does about it now."""
    if not is_open:
        yard = plain(picture.yard.name)
        in_danger = night in {NightAhead.ICED, NightAhead.UNSAFE}
        return catalogue_of(words.language).on_the_list.format(yard=yard) if in_danger else ""
    return _answered_words(is_open, not _unanswered(is_open), picture, words)


def _answered_words(
    alarms: Sequence[AlarmOfWeek], is_answered: bool, picture: Picture, words: Wording
) -> str:
    taken = [(one.acknowledged_at, one.acknowledged_by) for one in alarms if one.acknowledged_at]
    at, by = max(taken, default=(None, ""))
    return answer_sentence(
        picture.yard, words, notified_at=None, is_answered=is_answered, answered_at=at, by=by
    )


def _past_danger(
    alarms: Sequence[AlarmOfWeek], night: NightAhead, picture: Picture, words: Wording
) -> str:
    """From when on frost was a danger in this week, and what the yard did, if it is over."""
    frost = [each for each in alarms if each.alarm.cause != "voided"]
    over = [each for each in frost if each.alarm.state not in ACTIVE]
    if not over or night is not NightAhead.SAFE:
        return ""
    answered = [each for each in over if each.acknowledged_at is not None]
    answer = _answered_words(answered, True, picture, words) if answered else ""
    began = min(each.alarm.raised_at for each in over)
    template = catalogue_of(words.language).week_threatened
    return close_gaps(template.format(since=from_words(began, words), answer=answer))


def _done_this_week(craft: StoredCraft, report: WeeklyReport, words: Wording) -> str:
    if craft.plan_start is None:
        return ""
    said = catalogue_of(words.language)
    done = [e for e in craft.plan_start.entries if report.since <= e.at <= report.picture.at]
    named = named_acts(done, said)
    return said.week_done.format(acts=named) if named else ""


def _coldest_air(craft: StoredCraft, report: WeeklyReport, words: Wording) -> str:
    low = next((one.air.low for one in report.spaces if one.space.id == craft.space), None)
    if low is None:
        return ""
    template = catalogue_of(words.language).week_coldest
    return template.format(low=words.temperature(low.value_c), at=at_words(low.at, words))


def _battery_wants(seen: Assessment | None) -> bool:
    """Whether a battery needs work this night; of one that nobody reads nothing is said."""
    if seen is None or seen.standing is Standing.NOT_KNOWN:
        return False
    return seen.standing in _BATTERY_IN_FROST or is_pressing(seen)


def _battery_sentence(seen: Assessment | None, said: OwnerCatalogue) -> str:
    if seen is None or seen.standing is Standing.NOT_KNOWN:
        return ""
    if seen.standing in _BATTERY_IN_FROST:
        return said.week_battery_freezing
    return said.week_battery_well if is_well(seen) else said.week_battery_wanting
