"""The work of a season record, its alarms and messages, as blocks of a page."""

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import replace

from monitor.craft.entry_words import change_words
from monitor.phrases.causes import cause_title
from monitor.phrases.names import plain, plain_line, space_name
from monitor.phrases.work_told import act_on_circuits, done_by, evidence_line
from monitor.reports.season.figures import (
    SeasonAlarm,
    SeasonFigures,
    SeasonWork,
    StaffTold,
    WorkStatus,
)
from monitor.reports.season.page_blocks import (
    MOST_ROWS,
    Block,
    Told,
    count_words,
    moment_words,
    span_words,
)
from monitor.reports.season.short_words import unjudged_line
from monitor.wording import Wording
from monitor.yard.message import DeliveryOutcome
from monitor.yard.space import Yard

_MOST_WORK = 60


def work_blocks(figures: SeasonFigures, words: Wording) -> Iterator[Block]:
    """The work with its evidence and corrections, and what the owner declined."""
    if not figures.work:
        yield (
            "No work of this season is on record. A circuit that nothing on record protects counts"
            " as plain water."
        )
    else:
        circuits, shown = figures.craft.circuits, figures.work[:_MOST_WORK]
        yield Told(
            title="What was done, by whom, with what was seen",
            heads=("When, by whom", "What", "Evidence, as entered"),
            rows=[_work_row(one, circuits, words) for one in shown],
            shares=(1.3, 1.7, 2.6),
            left_out=len(figures.work) - len(shown),
        )
    if figures.declined:
        yield Told(
            title="Offered by the yard, and declined by the owner",
            heads=("When, told by whom", "What"),
            rows=[
                (done_by(one.last, words), plain(one.last.note, 300) or "not said")
                for one in figures.declined
            ],
            shares=(1.3, 3.0),
        )
    else:
        yield "No work is on record as declined by the owner."


def _work_row(work: SeasonWork, circuits: Mapping[str, str], words: Wording) -> tuple[str, ...]:
    last, first = work.versions[-1], work.versions[0]
    shown = first if work.status is WorkStatus.WITHDRAWN else last
    # What it replaces stands beside it.
    said = [evidence_line(replace(shown.entry, replaces=""), words) or "nothing noted"]
    photos = shown.entry.evidence.photos
    if photos:
        said.append(f"{count_words(len(photos), 'photo')} by hash in the JSON")
    if last.is_late and last.written_at is not None:
        said.append(f"written down {moment_words(last.written_at, words)}")
    what = act_on_circuits(shown.entry, circuits)
    if work.status is WorkStatus.WITHDRAWN:
        what = f"Withdrawn: {what}"
        at = f", {moment_words(last.written_at, words)}" if last.written_at else ""
        said.append(f"taken back by {plain(words.person(last.entry.by))}{at}")
    elif work.status is WorkStatus.CORRECTED:
        changes = change_words(first.entry, last.entry, words)
        said.append(f"corrected, first written and now: {'; '.join(changes) or 'the same'}")
    return (done_by(shown.entry, words), what, plain("; ".join(said), 600))


def told_blocks(figures: SeasonFigures, yard: Yard, words: Wording) -> Iterator[Block]:
    """Alarms with their answers, and what became of messages to the owner."""
    if figures.alarms:
        worst = sorted(figures.alarms, key=lambda one: (one.is_of_space, one.raised_at))
        yield Told(
            title="Alarms of the craft, and of its space while it stood there",
            heads=("Raised", "What", "Answered", "Waited", "Over"),
            rows=[_alarm_row(one, figures, yard, words) for one in worst[:MOST_ROWS]],
            shares=(1.2, 1.8, 1.8, 0.8, 1.2),
            left_out=max(len(worst) - MOST_ROWS, 0),
        )
    else:
        yield "No alarm was raised over it or its space."
    if unjudged := unjudged_line(figures):
        yield unjudged
    yield from staff_blocks(figures, yard, words)
    if not figures.messages:
        yield "No message to its owner is on record."
        return
    taken = [one for one in figures.messages if one.outcome is DeliveryOutcome.TAKEN]
    refused = [one for one in figures.messages if one.outcome is DeliveryOutcome.REFUSED]
    at = figures.link_opened_at
    opened = "never seen to be opened" if at is None else f"last opened {moment_words(at, words)}"
    page = f" The owner's page was {opened}." if figures.tells_page_opening else ""
    yield (
        f"{count_words(len(figures.messages), 'message')} to its owner: {len(taken)} taken by the"
        f" receiver's server, {len(refused)} refused,"
        f" {len(figures.messages) - len(taken) - len(refused)} still waiting.{page}"
    )
    urgent = [one for one in figures.messages if str(one.kind) in {"alarm", "update", "all clear"}]
    if urgent:
        yield Told(
            title="Warnings to the owner",
            heads=("Written", "Subject", "Way", "Delivered"),
            rows=[
                (
                    moment_words(one.written_at, words),
                    plain_line(one.subject, 120) or "told of other craft too",
                    plain(one.channel),
                    moment_words(one.taken_at, words)
                    if one.taken_at
                    else str(one.outcome or "waiting"),
                )
                for one in urgent[:MOST_ROWS]
            ],
            shares=(1.2, 2.6, 0.7, 1.2),
            left_out=max(len(urgent) - MOST_ROWS, 0),
        )


def staff_blocks(figures: SeasonFigures, yard: Yard, words: Wording) -> Iterator[Block]:
    """Who of the yard's people was told of these alarms, by which way, and what came of it.

    What did not get through stands first: nobody looks for it further down.
    """
    if not figures.alarms:
        return
    told = [(alarm, one) for alarm in figures.alarms for one in alarm.told]
    fates = Counter(one.fate for _, one in told)
    untaken = [a for a in figures.alarms if a.told_is_whole and a.first_taken_at is None]
    unknown = sum(not one.told_is_whole for one in figures.alarms)
    if told:
        yield (
            f"The yard's people were told of these alarms {count_words(len(told), 'time')}, each"
            f" alarm in each message counted: {fates['taken']} taken by the receiver's server,"
            f" {fates['refused']} refused, {fates['given up']} given up,"
            f" {fates['waiting']} still waiting. Whether a message was read nobody can see."
        )
    if untaken:
        yield (
            f"Of {count_words(len(untaken), 'alarm')} no message to the yard's people was taken."
        )
    if unknown:
        yield (
            f"For {count_words(unknown, 'alarm')} messages may be missing here: an earlier version"
            " of laidup did not keep which alarms a message told of."
        )
    if told:
        told.sort(key=lambda one: (one[1].fate == "taken", one[0].is_of_space, one[1].at))
        yield Told(
            title="Who of the yard's people was told of them, first what did not get through",
            heads=("Written", "Alarm", "To", "Way", "Taken", "First answer"),
            rows=[_told_row(*one, figures, yard, words) for one in told[:MOST_ROWS]],
            shares=(1.1, 1.6, 1.4, 0.7, 1.1, 1.0),
            left_out=max(len(told) - MOST_ROWS, 0),
        )


def _told_row(
    alarm: SeasonAlarm, told: StaffTold, figures: SeasonFigures, yard: Yard, words: Wording
) -> tuple[str, ...]:
    taken, answered = told.taken_at, alarm.answered_at
    if answered is None:
        answer = "nobody answered"
    elif taken is None or answered < taken:
        answer = moment_words(answered, words)
    else:
        answer = f"{span_words((answered - taken).total_seconds())} later"
    tries = "" if told.tries == 0 else f", {'1 try' if told.tries == 1 else f'{told.tries} tries'}"
    return (
        moment_words(told.at, words),
        _alarm_words(alarm, figures, yard),
        f"{plain(words.person(told.person))} ({told.role})",
        plain(told.channel),
        f"{told.fate}{tries}" if taken is None else moment_words(taken, words),
        answer,
    )


def _alarm_words(alarm: SeasonAlarm, figures: SeasonFigures, yard: Yard) -> str:
    """Its cause, and the part or the space that it is of."""
    part = figures.craft.circuits.get(alarm.part, "")
    where = space_name(yard, alarm.space) if alarm.is_of_space else plain(part)
    return ": ".join(filter(None, (cause_title(alarm.cause), where)))


def _alarm_row(
    alarm: SeasonAlarm, figures: SeasonFigures, yard: Yard, words: Wording
) -> tuple[str, ...]:
    answered = "nobody answered"
    if alarm.answered_at is not None:
        who = plain(words.person(alarm.answered_by))
        answered = f"{who}, {moment_words(alarm.answered_at, words)}"
    waited_s = alarm.waited_s
    raised = moment_words(alarm.raised_at, words)
    if alarm.times_raised > 1:  # one answer is not one for each
        raised = f"{raised}, and {count_words(alarm.times_raised - 1, 'time')} more"
        answered = answered if alarm.answered_at is None else f"{answered} (the first)"
    return (
        raised,
        _alarm_words(alarm, figures, yard),
        answered,
        "–" if waited_s is None else span_words(waited_s),
        moment_words(alarm.over_at, words) if alarm.over_at else "not seen to end",
    )
