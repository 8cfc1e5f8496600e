"""A case over one circuit in lines: facts as they are on record, no blame, no guess."""

from dataclasses import dataclass
from datetime import datetime, time
from math import inf
from typing import Any

from monitor.craft.canonical import utc_text
from monitor.craft.findings import Finding
from monitor.craft.layup import LayupEntry
from monitor.craft.profile import Profile
from monitor.craft.protection import LayupState
from monitor.phrases.alarm_lines import headline_text, reason_text
from monitor.phrases.claim_words import claim_words_of
from monitor.phrases.names import plain, plain_line, space_name
from monitor.phrases.owner_catalogue import Counted
from monitor.phrases.owner_languages import catalogue_of
from monitor.phrases.work_told import evidence_line, limit_words
from monitor.reports.circuit_case import AlarmOfCase, CircuitCase, WatchGap
from monitor.reports.circuit_nights import CircuitNight, was_proven
from monitor.store.outbox_reports import MessageFate
from monitor.units import json_number
from monitor.wording import Wording
from monitor.yard.alarm import Alarm
from monitor.yard.space import Yard


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseLine:
    """One line of a case, and what stands below it."""

    line: str
    more: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseLines:
    """A case as a reader has it."""

    title: str
    found: str
    summary: tuple[str, ...]
    near: tuple[CaseLine, ...]
    alarms: tuple[CaseLine, ...]
    messages: tuple[str, ...]
    work: tuple[CaseLine, ...]
    left_undone: tuple[str, ...]
    gaps: tuple[str, ...]
    other_nights: tuple[CaseLine, ...]


def case_lines(
    case: CircuitCase, yard: Yard, words: Wording, *, with_subjects: bool = True
) -> CaseLines:
    """Write a case for one reader.

    Parameters
    ----------
    case : CircuitCase
    yard : Yard
    words : Wording
        The reader's units and the yard's clock.
    with_subjects : bool
        Whether the subjects of messages are told: one message may name craft of several owners.
    """
    say, near = claim_words_of(words.language), case.near
    name = plain(catalogue_of(words.language).part_name(case.circuit.circuit.name))
    return CaseLines(
        title=f"{plain(case.record.craft.name)}: {name}",
        found=found_line(case.finding, case.record.profile, words) if case.finding else "",
        summary=tuple(_summary(case, words)),
        near=tuple(_night_told(one, yard, words) for one in near),
        alarms=tuple(_alarm_told(one, words) for one in case.alarms),
        messages=tuple(_message_line(one, words, with_subjects) for one in case.messages),
        work=tuple(_work_told(case, words, yard)),
        left_undone=tuple(
            [_entry_line(one, case.record.profile, words) for one in case.left_undone]
            + [
                say.set_aside.format(
                    headline=_headline(one.alarm, words),
                    state=say.alarm_states[change.after],
                    at=words.full_time(change.at),
                    by=plain(words.person(change.by)),
                    why=reason_text(change, one.alarm, _recorded(words)),
                )
                for one in case.alarms
                for change in one.set_aside
            ]
        ),
        gaps=tuple(_gap_line(one, yard, words) for one in case.gaps),
        other_nights=tuple(
            _night_told(one, yard, words)
            for one in case.nights
            if not one.is_near_limit and not one.is_unseen
        ),
    )


def found_line(finding: Finding, profile: Profile, words: Wording) -> str:
    """What was found, when and by whom, and whether it is settled; a circuit's id by its name."""
    say, seen = claim_words_of(words.language), finding.seen
    settled = finding.settled_at
    return say.found.format(
        part=_part_name(seen.part, profile, words),
        kind=f" ({say.kinds[seen.kind]})" if seen.kind else "",
        words=plain(seen.words, limit=300),
        at=words.full_time(finding.found_at),
        by=plain(words.person(finding.by)),
        end=say.settled.format(at=words.full_time(settled)) if settled else say.not_settled,
    )


def _part_name(part: str, profile: Profile, words: Wording) -> str:
    """What people call a part: a circuit by its name, anything else as it was written."""
    name = next((one.circuit.name for one in profile.circuits if one.circuit.id == part), part)
    return plain(catalogue_of(words.language).part_name(name))


def _summary(case: CircuitCase, words: Wording) -> list[str]:
    say, near = claim_words_of(words.language), case.near
    unseen_h = sum((one.until - one.since).total_seconds() / 3600.0 for one in case.gaps)
    said = [
        say.summary.format(
            since=words.day(case.since),
            until=words.day(case.until),
            nights=_count(len(case.nights), say.nights),
            near=len(near),
            past=sum(one.is_past_limit for one in near),
        )
    ]
    if case.unseen:
        said.append(_count(len(case.unseen), say.unseen))
    if case.gaps:
        said.append(_count(len(case.gaps), say.unread, hours=say.write_hours(unseen_h, words)))
    said.append(
        say.alarms_told.format(
            alarms=_count(len(case.alarms), say.alarms_count),
            taken=sum(one.acknowledged is not None for one in case.alarms),
            messages=_count(len(case.messages), say.messages_count),
        )
    )
    return said


def _count(number: int, said: Counted, **more: str) -> str:
    return said.for_count(number).format(count=number, **more)


def _night_told(night: CircuitNight, yard: Yard, words: Wording) -> CaseLine:
    say = claim_words_of(words.language)
    low_c, inside_c = night.air_low_c, night.inside_low_c
    came = say.air_not_read if low_c is None else say.air.format(low=words.temperature(low_c))
    if inside_c is not None:
        inside = say.inside_read if night.inside_is_read else say.inside_reckoned
        came += inside.format(low=words.temperature(inside_c))
    unread = say.write_hours(night.unseen_h, words) if night.unseen_h else ""
    more = [
        _expected_words(night, words),
        _held_words(night, words),
        _room_words(night, words),
        say.judged.format(standing=say.standings[night.judged]) if night.judged else "",
        say.night_unread.format(hours=unread) if unread else "",
    ]
    noon = datetime.combine(night.evening, time(12), words.zone)
    return CaseLine(
        line=say.night.format(
            day=say.evening.format(day=words.day(noon)),
            space=plain(space_name(yard, night.space)),
            came=came,
        ),
        more=tuple(one for one in more if one),
    )


def _expected_words(night: CircuitNight, words: Wording) -> str:
    say, said = claim_words_of(words.language), night.said
    if said is None:
        return say.not_expected
    return say.expected.format(
        at=words.full_time(said.said_at),
        expected=words.temperature(said.expected_c),
        cold=words.temperature(said.cold_c),
        warm=words.temperature(said.warm_c),
    )


def _held_words(night: CircuitNight, words: Wording) -> str:
    say, held = claim_words_of(words.language), night.held
    if held is None:
        return say.held_unknown
    state = say.states[held.state]
    if held.ice_point_c == -inf:
        return say.held_dry.format(state=state)
    state = say.proven if was_proven(night) else say.as_water.format(state=state)
    if held.state is LayupState.HEAT_ONLY:
        state = say.by_heat
    return say.held.format(limit=limit_words(held, words), state=state)


def _room_words(night: CircuitNight, words: Wording) -> str:
    say, room_k = claim_words_of(words.language), night.room_k
    if room_k is None:
        return say.room_unknown
    if room_k == inf:
        return ""
    said = say.past_limit if room_k < 0.0 else say.to_spare
    return said.format(room=words.difference(room_k))


def _recorded(words: Wording) -> Wording:
    """The same reader's units and clock in the record's own language."""
    return Wording(zone=words.zone, now=words.now, units=words.units, people=words.people)


def _headline(alarm: Alarm, words: Wording) -> str:
    say = claim_words_of(words.language)
    told = say.headlines.get(alarm.cause)
    return told or say.as_recorded.format(text=headline_text(alarm, _recorded(words)))


def _alarm_told(one: AlarmOfCase, words: Wording) -> CaseLine:
    say, alarm, taken = claim_words_of(words.language), one.alarm, one.acknowledged
    answer = say.nobody_took
    if taken is not None:
        by = plain(words.person(taken.by))
        answer = say.taken_on.format(at=words.full_time(taken.at), by=by)
    cleared = alarm.cleared_at
    return CaseLine(
        line=say.alarm.format(
            at=words.full_time(alarm.raised_at),
            headline=_headline(alarm, words),
            answer=answer,
            over=say.over.format(at=words.full_time(cleared)) if cleared else "",
        ),
        more=tuple(
            say.change.format(
                at=words.full_time(event.at),
                state=say.alarm_states[event.after],
                by=plain(words.person(event.by)),
                why=reason_text(event, alarm, _recorded(words)),
            )
            for event in one.events
        ),
    )


def _message_line(one: MessageFate, words: Wording, with_subject: bool) -> str:
    say = claim_words_of(words.language)
    ended = say.message_waits if one.outcome is None else say.outcomes[one.outcome]
    at = f" {words.full_time(one.taken_at)}" if one.taken_at else ""
    sent = say.message.format(
        at=words.full_time(one.at),
        person=plain(words.person(one.person)),
        channel=say.channels.get(one.channel, plain(one.channel)),
    )
    if not with_subject:
        return f"{sent}; {ended}{at}"
    subject = plain_line(one.subject, limit=200) or say.subject_gone
    return f"{sent}: {subject}; {ended}{at}"


def _entry_line(entry: LayupEntry, profile: Profile, words: Wording) -> str:
    """What was done to which circuits, by whom and when, and all else that was noted of it."""
    say, said = claim_words_of(words.language), catalogue_of(words.language)
    on = said.list_names([_part_name(each, profile, words) for each in entry.circuits])
    act = say.acts[entry.act]
    when = say.day_and_hour if entry.day_began is None else say.hour_not_told
    hour = f"{entry.at.astimezone(words.zone):%H:%M}"
    at = when.format(day=words.date(entry.at), hour=hour)
    line = f"{act[:1].upper()}{act[1:]}{f': {on}' if on else ''}"
    line += f": {plain(words.person(entry.by))}, {at}"
    seen = evidence_line(entry, _recorded(words))
    return f"{line}; {say.as_recorded.format(text=seen)}" if seen else line


def _work_told(case: CircuitCase, words: Wording, yard: Yard) -> list[CaseLine]:
    say, found = claim_words_of(words.language), list[CaseLine]()
    for told in case.work:
        lines = []
        for event in told.versions:
            if event.entry is not None:
                line = _entry_line(event.entry, case.record.profile, words)
                if event.written_at is not None:
                    line += f"; {say.written_down.format(at=words.full_time(event.written_at))}"
                lines.append(line)
            elif event.move is not None:
                where = plain(space_name(yard, event.move.space))
                lines.append(say.moved.format(place=where, at=words.full_time(event.at)))
        *former, last = lines or [""]
        if last:
            more = tuple(say.before.format(line=one) for one in former[::-1])
            found.append(CaseLine(line=last, more=more))
    return found


def _gap_line(gap: WatchGap, yard: Yard, words: Wording) -> str:
    say, lasted = claim_words_of(words.language), gap.until - gap.since
    return say.gap.format(
        space=plain(space_name(yard, gap.space)),
        since=words.full_time(gap.since),
        until=words.full_time(gap.until),
        hours=say.write_hours(lasted.total_seconds() / 3600.0, words),
    )


def case_json(case: CircuitCase) -> dict[str, Any]:
    """The case as JSON: SI, the unit in the key, times in UTC."""
    finding = case.finding
    return {
        "craft": case.record.craft.id,
        "circuit": case.circuit.circuit.id,
        "since": utc_text(case.since),
        "until": utc_text(case.until),
        "finding": None
        if finding is None
        else {
            "id": finding.seen.id,
            "part": finding.seen.part,
            "words": finding.seen.words,
            "kind": None if finding.seen.kind is None else str(finding.seen.kind),
            "found_at": utc_text(finding.found_at),
            "by": finding.by,
            "settled_at": None if finding.settled_at is None else utc_text(finding.settled_at),
        },
        "nights": [_night_json(one) for one in case.nights],
        "alarms": [_alarm_json(one) for one in case.alarms],
        "messages": [
            {
                "at": utc_text(one.at),
                "person": one.person,
                "channel": one.channel,
                "subject": one.subject or None,
                "outcome": None if one.outcome is None else str(one.outcome),
                "taken_at": None if one.taken_at is None else utc_text(one.taken_at),
                "tries": one.tries,
            }
            for one in case.messages
        ],
        "work": [
            [event.entry.id for event in told.versions if event.entry is not None]
            for told in case.work
            if any(event.entry is not None for event in told.versions)
        ],
        "left_undone": [one.id for one in case.left_undone],
        "gaps": [
            {"space": one.space, "since": utc_text(one.since), "until": utc_text(one.until)}
            for one in case.gaps
        ],
    }


def _night_json(one: CircuitNight) -> dict[str, Any]:
    return {
        "evening": one.evening.isoformat(),
        "space": one.space,
        "expected_low_c": None if one.said is None else one.said.expected_c,
        "expected_cold_c": None if one.said is None else one.said.cold_c,
        "expected_warm_c": None if one.said is None else one.said.warm_c,
        "air_low_c": one.air_low_c,
        "inside_low_c": one.inside_low_c,
        "inside_is_read": one.inside_is_read,
        "ice_point_c": None if one.held_c is None else json_number(one.held_c),
        "held_state": None if one.held is None else str(one.held.state),
        "room_k": None if one.room_k is None else json_number(one.room_k),
        "judged": None if one.judged is None else str(one.judged),
        "near_limit": one.is_near_limit,
        "past_limit": one.is_past_limit,
        "unseen_h": one.unseen_h,
    }


def _alarm_json(one: AlarmOfCase) -> dict[str, Any]:
    taken = one.acknowledged
    return {
        "id": one.alarm.id,
        "cause": one.alarm.cause,
        "raised_at": utc_text(one.alarm.raised_at),
        "cleared_at": None if one.alarm.cleared_at is None else utc_text(one.alarm.cleared_at),
        "acknowledged_at": None if taken is None else utc_text(taken.at),
        "acknowledged_by": None if taken is None else taken.by,
    }
