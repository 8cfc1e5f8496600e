"""A case over one circuit in lines: facts as they are on record, no blame, no guess."""

from dataclasses import dataclass
from datetime import datetime, time
from math import inf
from typing import Any

from monitor.craft.canonical import utc_text
from monitor.craft.findings import Finding
from monitor.craft.protection import LayupState
from monitor.phrases.alarm_lines import headline_text, reason_text
from monitor.phrases.names import plain, space_name
from monitor.phrases.standings import standing_words
from monitor.phrases.work_told import act_line, done_by, evidence_line, limit_words
from monitor.reports.circuit_case import AlarmOfCase, CircuitCase, WatchGap
from monitor.reports.circuit_nights import CircuitNight, was_proven
from monitor.store.outbox_reports import MessageFate
from monitor.units import json_number
from monitor.wording import Wording, hours_in_words
from monitor.yard.assessment import Hazard
from monitor.yard.message import DeliveryOutcome
from monitor.yard.space import Yard

NO_JUDGEMENT = (
    "These are facts as they are on record. Whether a night did the damage is for people to judge"
    " who see the part; a night that nobody saw proves neither."
)
_ENDED = {
    DeliveryOutcome.TAKEN: "handed over",
    DeliveryOutcome.REFUSED: "refused, and not delivered",
}


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
    name = plain(case.circuit.circuit.name)
    near = case.near
    return CaseLines(
        title=f"{plain(case.record.craft.name)}: {name}",
        found=found_line(case.finding, words) if case.finding else "",
        summary=tuple(_summary(case, words)),
        near=tuple(_night_told(one, yard, words) for one in near),
        alarms=tuple(_alarm_told(one, words) for one in case.alarms),
        messages=tuple(_message_line(one, words, with_subjects) for one in case.messages),
        work=tuple(_work_told(case, words, yard)),
        left_undone=tuple(
            [
                f"{act_line(one, case.record.profile)}: {done_by(one, words)}"
                + (f"; {seen}" if (seen := evidence_line(one, words)) else "")
                for one in case.left_undone
            ]
            + [
                f"{headline_text(one.alarm, words)}: {change.after}, {words.full_time(change.at)},"
                f" {plain(words.person(change.by))}. {reason_text(change, one.alarm, words)}"
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


def found_line(finding: Finding, words: Wording) -> str:
    """What was found, when and by whom, and whether it is settled."""
    seen = finding.seen
    kind = f" ({seen.kind})" if seen.kind else ""
    end = (
        "not settled"
        if finding.settled_at is None
        else f"settled {words.full_time(finding.settled_at)}"
    )
    return (
        f"{plain(seen.part)}{kind}: {plain(seen.words, limit=300)}. Found"
        f" {words.full_time(finding.found_at)} by {plain(words.person(finding.by))}; {end}."
    )


def _summary(case: CircuitCase, words: Wording) -> list[str]:
    nights, near = len(case.nights), case.near
    past = sum(one.is_past_limit for one in near)
    unseen_h = sum((one.until - one.since).total_seconds() / 3600.0 for one in case.gaps)
    said = [
        f"From {words.day(case.since)} to {words.day(case.until)}: {_count(nights, 'night')} on"
        f" record, {len(near)} near or past what it held by the record, {past} of them past it or"
        " counted as ice by the watch."
    ]
    if case.unseen:
        said.append(
            f"Of {_count(len(case.unseen), 'night')} nobody can tell: the air, or what it held, is"
            " not on record."
        )
    if case.gaps:
        said.append(
            f"Nothing was read of its air for {hours_in_words(unseen_h)}, in"
            f" {_count(len(case.gaps), 'gap')}."
        )
    answered = sum(one.acknowledged is not None for one in case.alarms)
    said.append(
        f"{_count(len(case.alarms), 'alarm')} on it, {answered} taken on;"
        f" {_count(len(case.messages), 'message')} told of this craft."
    )
    return said


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}{'' if number == 1 else 's'}"


def _night_told(night: CircuitNight, yard: Yard, words: Wording) -> CaseLine:
    day = _evening_words(night, words)
    came = "air not read" if night.air_low_c is None else f"air {_degrees(night.air_low_c, words)}"
    if night.inside_low_c is not None:
        how = "read" if night.inside_is_read else "reckoned"
        came += f", inside {_degrees(night.inside_low_c, words)} ({how})"
    more = [
        _expected_words(night, words),
        _held_words(night, words),
        _room_words(night, words),
        f"The watch: {standing_words(night.judged, Hazard.FROST)}." if night.judged else "",
        f"{hours_in_words(night.unseen_h)} of it without a reading." if night.unseen_h else "",
    ]
    return CaseLine(
        line=f"{day}, {plain(space_name(yard, night.space))}: {came}",
        more=tuple(one for one in more if one),
    )


def _evening_words(night: CircuitNight, words: Wording) -> str:
    noon = datetime.combine(night.evening, time(12), words.zone)
    return f"Night from {words.day(noon)}"


def _degrees(value_c: float, words: Wording) -> str:
    return words.temperature(value_c)


def _expected_words(night: CircuitNight, words: Wording) -> str:
    said = night.said
    if said is None:
        return "Nothing was said of its air that evening."
    return (
        f"Expected at {words.full_time(said.said_at)}: {_degrees(said.expected_c, words)}, most"
        f" likely {_degrees(said.cold_c, words)} to {_degrees(said.warm_c, words)}."
    )


def _held_words(night: CircuitNight, words: Wording) -> str:
    held = night.held
    if held is None:
        return "What it held cannot be added up from the record."
    if held.ice_point_c == -inf:
        return f"It held: seen dry ({held.state})."
    state = "proven" if was_proven(night) else f"{held.state}, so judged as water"
    if held.state is LayupState.HEAT_ONLY:
        state = "safe by heat alone"
    return f"It held: ice from {limit_words(held, words)} ({state})."


def _room_words(night: CircuitNight, words: Wording) -> str:
    room_k = night.room_k
    if room_k is None:
        return "Nobody can tell how near that came."
    if room_k == inf:
        return ""
    if room_k < 0.0:
        return f"{words.difference(-room_k)} past its limit."
    return f"{words.difference(room_k)} to spare."


def _alarm_told(one: AlarmOfCase, words: Wording) -> CaseLine:
    alarm, taken = one.alarm, one.acknowledged
    answer = (
        "nobody took it on"
        if taken is None
        else f"taken on {words.full_time(taken.at)} by {plain(words.person(taken.by))}"
    )
    over = f"; over {words.full_time(alarm.cleared_at)}" if alarm.cleared_at else ""
    return CaseLine(
        line=f"{words.full_time(alarm.raised_at)}: {headline_text(alarm, words)}; {answer}{over}",
        more=tuple(
            f"{words.full_time(event.at)}: {event.after}, {plain(words.person(event.by))}."
            f" {reason_text(event, alarm, words)}"
            for event in one.events
        ),
    )


def _message_line(one: MessageFate, words: Wording, with_subject: bool) -> str:
    ended = "waits" if one.outcome is None else _ENDED.get(one.outcome, str(one.outcome))
    at = f" {words.full_time(one.taken_at)}" if one.taken_at else ""
    sent = f"{words.full_time(one.at)} to {plain(words.person(one.person))} by {plain(one.channel)}"
    if not with_subject:
        return f"{sent}; {ended}{at}"
    subject = plain(one.subject, limit=200) or "its text is not kept any more"
    return f"{sent}: {subject}; {ended}{at}"


def _work_told(case: CircuitCase, words: Wording, yard: Yard) -> list[CaseLine]:
    found = []
    for told in case.work:
        lines = []
        for event in told.versions:
            if event.entry is not None:
                line = (
                    f"{act_line(event.entry, case.record.profile)}: {done_by(event.entry, words)}"
                )
                seen = evidence_line(event.entry, words)
                line += f"; {seen}" if seen else ""
                if event.written_at is not None:
                    line += f"; written down {words.full_time(event.written_at)}"
                lines.append(line)
            elif event.move is not None:
                where = plain(space_name(yard, event.move.space))
                lines.append(f"Moved to {where}, {words.full_time(event.at)}")
        *former, last = lines or [""]
        if last:
            found.append(CaseLine(line=last, more=tuple(f"Before: {one}" for one in former[::-1])))
    return found


def _gap_line(gap: WatchGap, yard: Yard, words: Wording) -> str:
    lasted = (gap.until - gap.since).total_seconds() / 3600.0
    return (
        f"{plain(space_name(yard, gap.space))}: {words.full_time(gap.since)} to"
        f" {words.full_time(gap.until)}, {hours_in_words(lasted)} without a reading"
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
