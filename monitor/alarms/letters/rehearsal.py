"""A rehearsal: an evening's letter with made-up craft, by every way that reaches a person."""

from datetime import datetime, timedelta

from monitor.alarms.letters.message import render_staff
from monitor.alarms.letters.staff_letter import StaffLetter
from monitor.alarms.letters.work_lines import WorkLine
from monitor.clock import Clock
from monitor.craft.plan.step import JobStep, StepKind
from monitor.errors import ActError
from monitor.phrases.names import plain
from monitor.phrases.numbers import nights_in_short
from monitor.phrases.owner_languages import catalogue_of
from monitor.phrases.owner_words import owner_words_for
from monitor.phrases.short_job import job_verb, short_job
from monitor.phrases.step_in_words import CircuitNames, capitalize_first
from monitor.phrases.supplies import crew_words, hands_words
from monitor.store.store import Store
from monitor.wording import Wording
from monitor.yard.assessment import Caution
from monitor.yard.message import Message, MessageKind
from monitor.yard.readers import messages_to, words_for
from monitor.yard.space import STAFF, Person, Yard

MARK = "Rehearsal"
_NOTICE = "REHEARSAL: nothing is wrong, and there is nothing to do. The craft are made up."
_FILL = (
    JobStep(kind=StepKind.DRAIN_ENGINE, minutes=30.0),
    JobStep(kind=StepKind.FILL_BY_HAND, minutes=60.0, quantity_l=24.0),
)
_DRAIN = (JobStep(kind=StepKind.EMPTY_TANK, minutes=20.0),)


def rehearse(store: Store, yard: Yard, clock: Clock, person_id: str) -> list[Message]:
    """Put a rehearsal for one person into the outbox, one message for each channel.

    One of the yard's own people gets an evening's letter, an owner two sentences.

    Parameters
    ----------
    store : Store
    yard : Yard
    clock : Clock
    person_id : str

    Returns
    -------
    list of Message
        What was put in; look at their keys in the outbox for what became of them.

    Raises
    ------
    ActError
        If the yard has no such person, or nothing reaches them.
    """
    try:
        person = yard.person(person_id)
    except KeyError as error:
        known = ", ".join(sorted(each.id for each in yard.people))
        raise ActError(f"this yard has no person {person_id!r}; it has {known}") from error
    now = clock.now()
    write = _write_evening if person.roles & STAFF else _write_notice
    subject, text, html = write(person, yard, now)
    messages = messages_to(
        person,
        key=f"test/{person.id}/{now:%Y%m%dT%H%M%S.%f}",
        kind=MessageKind.TEST,
        subject=subject,
        text=text,
        html=html,
        created_at=now,
        language="en" if person.roles & STAFF else person.language,
    )
    if not messages:
        raise ActError(f"nothing reaches {person.id}: there is no address and no other channel")
    with store.transaction() as tx:
        tx.outbox.add(messages)
    return messages


def _write_notice(person: Person, yard: Yard, now: datetime) -> tuple[str, str, str]:
    name, words = plain(yard.name), owner_words_for(yard, now, person)
    said = catalogue_of(words.language)
    text = (
        f"{said.rehearsal_head.format(yard=name, at=words.full_time(now))}\n\n"
        f"{said.rehearsal_text.format(name=plain(person.name))}\n\n--\n{said.not_life_safety}\n"
    )
    return said.rehearsal_subject.format(yard=name), text, ""


def _write_evening(person: Person, yard: Yard, now: datetime) -> tuple[str, str, str]:
    """The letter of an evening with three craft, each of which says that it is none."""
    words = words_for(yard, now, person)
    fill = _line("A", _FILL, 4.0, 0.6, Caution.GLYCOL, words)
    drain = _line("B", _DRAIN, 7.0, 0.3, None, words)
    acts = [f"{one.call.replace('{name}', one.name)} by {one.due}" for one in (fill, drain)]
    subject = f"{MARK}: {acts[0]}, {acts[1]}"
    said = StaffLetter(
        to_do=(fill, drain),
        to_leave=(_iced_line("C"),),
        not_listed=(),
        crew=crew_words(
            sum(one.minutes or 0.0 for one in (fill, drain)), [], hands_words(yard, words)
        ),
        alone="",
        freeze_without_heat="",
        as_told="",
        unanswered="",
        safe=(),
        over=(),
        left=(),
        over_had_ice=False,
        take_along=f"{MARK}: take along {words.about(24.0)} of antifreeze.",
        night_head="",
        night=(),
        reasons=(),
        is_reminder=False,
        is_closing=False,
    )
    text, html = render_staff(said, yard, words, subject, notice=_NOTICE)
    return subject, text, html


def _line(
    letter: str,
    steps: tuple[JobStep, ...],
    in_h: float,
    chance: float,
    caution: Caution | None,
    words: Wording,
) -> WorkLine:
    by = words.now + timedelta(hours=in_h)
    job = short_job(steps, CircuitNames.of_craft(None), words, most_words=12)
    return WorkLine(
        by=by,
        is_ahead=True,
        due=words.clock(by),
        name=f"{MARK} {letter}",
        place="made-up shed",
        space="made-up shed",
        job=f"{capitalize_first(job)}.",
        minutes=sum(step.minutes for step in steps),
        chance=f"Ice breaks it {nights_in_short(chance)}.",
        caution=caution,
        call=f"{job_verb(steps)} {{name}}",
        has_ice=False,
        part_iced=False,
        was_iced=False,
        too_late=False,
        news=True,
        alarm="",
    )


def _iced_line(letter: str) -> WorkLine:
    return WorkLine(
        by=None,
        is_ahead=False,
        due="now",
        name=f"{MARK} {letter}",
        place="made-up row",
        space="made-up row",
        job="",
        minutes=None,
        chance="",
        caution=None,
        call="leave {name} alone, ice inside",
        has_ice=True,
        part_iced=False,
        was_iced=True,
        too_late=False,
        news=True,
        alarm="",
    )
