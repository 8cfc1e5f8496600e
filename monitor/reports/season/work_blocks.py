"""The work of a season record, its alarms and messages, as blocks of a page."""

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import replace

from monitor.craft.entry_words import change_words
from monitor.phrases.causes import cause_title
from monitor.phrases.names import plain, plain_line, space_name
from monitor.phrases.work_told import evidence_line
from monitor.reports.season.figures import (
    SeasonAlarm,
    SeasonFigures,
    SeasonWork,
    StaffTold,
    WorkStatus,
)
from monitor.reports.season.page_blocks import MOST_ROWS, Block, Told, span_words
from monitor.reports.season.record_words import (
    act_words,
    as_recorded,
    channel_words,
    done_words,
    part_words,
    record_wording,
    record_words_of,
)
from monitor.reports.season.short_words import unjudged_line
from monitor.wording import Wording
from monitor.yard.message import DeliveryOutcome
from monitor.yard.space import Yard

_MOST_WORK = 60
_MOST_LETTERS = 600  # of what stands beside a piece of work


def work_blocks(figures: SeasonFigures, words: Wording) -> Iterator[Block]:
    """The work with its evidence and corrections, and what the owner declined."""
    say = record_words_of(words)
    if not figures.work:
        yield say.no_work
    else:
        circuits, shown = figures.craft.circuits, figures.work[:_MOST_WORK]
        yield Told(
            title=say.work_title,
            heads=(say.when_whom, say.what, say.evidence),
            rows=[_work_row(one, circuits, words) for one in shown],
            shares=(1.3, 1.7, 2.6),
            left_out=len(figures.work) - len(shown),
        )
    if figures.declined:
        yield Told(
            title=say.declined_title,
            heads=(say.when_told, say.what),
            rows=[
                (done_words(one.last, words), plain(one.last.note, 300) or say.note_not_said)
                for one in figures.declined
            ],
            shares=(1.3, 3.0),
        )
    else:
        yield say.no_declined


def _work_row(work: SeasonWork, circuits: Mapping[str, str], words: Wording) -> tuple[str, ...]:
    say, own = record_words_of(words), record_wording(words)
    last, first = work.versions[-1], work.versions[0]
    shown = first if work.status is WorkStatus.WITHDRAWN else last
    # What it replaces stands beside it.
    noted = evidence_line(replace(shown.entry, replaces=""), own)
    said = [as_recorded(plain(noted, _MOST_LETTERS), words) if noted else say.nothing_noted]
    if photos := shown.entry.evidence.photos:
        said.append(say.count_of(len(photos), say.photos))
    if last.is_late and last.written_at is not None:
        said.append(say.written_down.format(at=say.write_moment(last.written_at, words)))
    what = act_words(shown.entry, circuits, words)
    if work.status is WorkStatus.WITHDRAWN:
        what = say.withdrawn.format(what=what)
        taken_back = say.taken_back_at if last.written_at else say.taken_back
        at = say.write_moment(last.written_at, words)
        said.append(taken_back.format(person=plain(words.person(last.entry.by)), at=at))
    elif work.status is WorkStatus.CORRECTED:
        changes = "; ".join(change_words(first.entry, last.entry, own))
        changes = as_recorded(plain(changes, _MOST_LETTERS), words) if changes else say.the_same
        said.append(say.corrected.format(changes=changes))
    return (done_words(shown.entry, words), what, plain("; ".join(said), _MOST_LETTERS))


def told_blocks(figures: SeasonFigures, yard: Yard, words: Wording) -> Iterator[Block]:
    """Alarms with their answers, and what became of messages to the owner."""
    say = record_words_of(words)
    if figures.alarms:
        worst = sorted(figures.alarms, key=lambda one: (one.is_of_space, one.raised_at))
        yield Told(
            title=say.alarms_title,
            heads=(say.raised, say.what, say.answered, say.waited, say.over),
            rows=[_alarm_row(one, figures, yard, words) for one in worst[:MOST_ROWS]],
            shares=(1.2, 1.8, 1.8, 0.8, 1.2),
            left_out=max(len(worst) - MOST_ROWS, 0),
        )
    else:
        yield say.no_alarm
    if unjudged := unjudged_line(figures, say):
        yield unjudged
    yield from staff_blocks(figures, yard, words)
    if not figures.messages:
        yield say.no_message
        return
    taken = sum(one.outcome is DeliveryOutcome.TAKEN for one in figures.messages)
    refused = sum(one.outcome is DeliveryOutcome.REFUSED for one in figures.messages)
    said = say.count_of(
        len(figures.messages),
        say.messages,
        taken=f"{taken}",
        refused=f"{refused}",
        waiting=f"{len(figures.messages) - taken - refused}",
    )
    at = figures.link_opened_at
    opened = say.page_unopened if at is None else say.page_opened
    page = opened.format(at=say.write_moment(at, words)) if figures.tells_page_opening else ""
    yield said + page
    urgent = [one for one in figures.messages if str(one.kind) in {"alarm", "update", "all clear"}]
    if urgent:
        yield Told(
            title=say.warnings_title,
            heads=(say.written, say.subject, say.way, say.delivered),
            rows=[
                (
                    say.write_moment(one.written_at, words),
                    plain_line(one.subject, 120) or say.other_craft,
                    channel_words(one.channel, words),
                    say.write_moment(one.taken_at, words)
                    if one.taken_at
                    else say.fates[str(one.outcome or "waiting")],
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
    say = record_words_of(words)
    told = [(alarm, one) for alarm in figures.alarms for one in alarm.told]
    fates = Counter(one.fate for _, one in told)
    untaken = [a for a in figures.alarms if a.told_is_whole and a.first_taken_at is None]
    unknown = sum(not one.told_is_whole for one in figures.alarms)
    if told:
        yield say.count_of(
            len(told),
            say.staff_told,
            taken=f"{fates['taken']}",
            refused=f"{fates['refused']}",
            given_up=f"{fates['given up']}",
            waiting=f"{fates['waiting']}",
        )
    if untaken:
        yield say.count_of(len(untaken), say.untaken)
    if unknown:
        yield say.count_of(unknown, say.may_lack)
    if told:
        told.sort(key=lambda one: (one[1].fate == "taken", one[0].is_of_space, one[1].at))
        yield Told(
            title=say.staff_title,
            heads=(say.written, say.alarm, say.whom, say.way, say.taken, say.first_answer),
            rows=[_told_row(*one, figures, yard, words) for one in told[:MOST_ROWS]],
            shares=(1.1, 1.6, 1.4, 0.7, 1.1, 1.0),
            left_out=max(len(told) - MOST_ROWS, 0),
        )


def _told_row(
    alarm: SeasonAlarm, told: StaffTold, figures: SeasonFigures, yard: Yard, words: Wording
) -> tuple[str, ...]:
    say, taken, answered = record_words_of(words), told.taken_at, alarm.answered_at
    if answered is None:
        answer = say.nobody_answered
    elif taken is None or answered < taken:
        answer = say.write_moment(answered, words)
    else:
        answer = say.later.format(span=span_words((answered - taken).total_seconds()))
    fate = say.fates[told.fate]
    if taken is not None:
        fate = say.write_moment(taken, words)
    elif told.tries:
        fate = say.count_of(told.tries, say.tries, fate=fate)
    return (
        say.write_moment(told.at, words),
        _alarm_words(alarm, figures, yard, words),
        f"{plain(words.person(told.person))} ({say.roles[told.role]})",
        channel_words(told.channel, words),
        fate,
        answer,
    )


def _alarm_words(alarm: SeasonAlarm, figures: SeasonFigures, yard: Yard, words: Wording) -> str:
    """Its cause, and the part or the space that it is of."""
    part = part_words(figures.craft.circuits.get(alarm.part, ""), words)
    where = space_name(yard, alarm.space) if alarm.is_of_space else part
    # A cause of an earlier program has no other name.
    cause = record_words_of(words).causes.get(alarm.cause) or as_recorded(
        cause_title(alarm.cause), words
    )
    return ": ".join(filter(None, (cause, where)))


def _alarm_row(
    alarm: SeasonAlarm, figures: SeasonFigures, yard: Yard, words: Wording
) -> tuple[str, ...]:
    say, answered = record_words_of(words), ""
    if alarm.answered_at is not None:
        who, at = plain(words.person(alarm.answered_by)), say.write_moment(alarm.answered_at, words)
        answered = say.answered_by.format(person=who, at=at)
    waited_s = alarm.waited_s
    raised = say.write_moment(alarm.raised_at, words)
    if alarm.times_raised > 1:  # one answer is not one for each
        raised = say.count_of(alarm.times_raised - 1, say.raised_again, at=raised)
        answered = say.the_first.format(answered=answered) if answered else ""
    return (
        raised,
        _alarm_words(alarm, figures, yard, words),
        answered or say.nobody_answered,
        "–" if waited_s is None else span_words(waited_s),
        say.write_moment(alarm.over_at, words) if alarm.over_at else say.not_over,
    )
