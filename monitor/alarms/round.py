"""One round of alarms: from the latest judgements to alarms, their events and people's messages."""

import logging
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from types import MappingProxyType

from monitor.alarms.acts.answers import Answers
from monitor.alarms.causes.alarm_write_filter import AlarmWriteFilter
from monitor.alarms.causes.conditions import JudgedYard
from monitor.alarms.causes.lifecycle import AlarmStep, step_alarm
from monitor.alarms.causes.own_faults import judge_own_faults, parts_of_channel
from monitor.alarms.definitions import DEFINITIONS, Definition
from monitor.alarms.entry import Letter, Standpoint, entries_of
from monitor.alarms.letters.bare_letter import write_bare_message
from monitor.alarms.letters.message import write_message
from monitor.alarms.letters.night_and_reasons import Airs
from monitor.alarms.letters.owner_letter import Answers as OwnerAnswers
from monitor.alarms.letters.owner_letter import GivenAnswer
from monitor.alarms.named_alarms import with_named_alarms
from monitor.alarms.telling.grouping import letters_due
from monitor.alarms.telling.pace import DAY
from monitor.alarms.telling.takers import notices_of_takers
from monitor.clock import Clock
from monitor.craft.stored import DepartedCraft, StoredCraft
from monitor.phrases.alarm_lines import headline_text, reason_text
from monitor.store.store import Store
from monitor.store.transaction import Transaction
from monitor.store.watches import AnswerLink
from monitor.wording import Wording
from monitor.yard.alarm import Alarm, AlarmEvent, AlarmState, Topic
from monitor.yard.assessment import Assessment, Hazard
from monitor.yard.health import StoreCondition
from monitor.yard.message import Message, MessageKind
from monitor.yard.readers import words_for
from monitor.yard.space import Yard
from monitor.yard.watch import Conversation, Watch, WatchKey

log = logging.getLogger("laidup.alarms")

_REMEMBERED = timedelta(hours=24)  # how long a cleared alarm is remembered, in case it comes back
_TRIES = 3  # to work a round out while nobody acts
_ANSWERS_REMEMBERED = timedelta(days=7)  # an older one is told without its hour
_STALE = timedelta(minutes=30)  # judgements older than this say nothing about now


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmSummary:
    """What one round did."""

    raised: int
    cleared: int
    open: int
    messages: int


ReadDeparted = Callable[[Transaction, Collection[str]], Mapping[str, DepartedCraft]]


def _none_departed(_: Transaction, __: Collection[str]) -> Mapping[str, DepartedCraft]:
    return {}


class AlarmRound:
    """Turns the latest judgements into alarms, and alarms into messages."""

    def __init__(
        self,
        store: Store,
        yard: Yard,
        clock: Clock,
        *,
        definitions: Mapping[str, Definition] = DEFINITIONS,
        answers: Answers | None = None,
        condition: Callable[[], StoreCondition] = StoreCondition,
        refused: Mapping[str, str] = MappingProxyType({}),
        read_departed: ReadDeparted = _none_departed,
    ) -> None:
        """Make a round for one yard.

        Parameters
        ----------
        store : Store
        yard : Yard
        clock : Clock
        definitions : mapping of cause to Definition
            The alarm set; a yard may have limits and delays of its own.
        answers : Answers, optional
            Makes the links by which staff acknowledge from the message; without it there are none.
        condition : callable
            Tells how the store fares.
        refused : mapping of craft id to str
            Why what a craft file says of a craft was not taken in.
        read_departed : callable
            Gives craft that are in care no more as they stood when they left; without it nobody
            is told of them by name.
        """
        self._store = store
        self._yard = yard
        self._clock = clock
        self._definitions = definitions
        self._answers = answers
        self._condition = condition
        self._refused = refused
        self._read_departed = read_departed
        self._written = AlarmWriteFilter()

    def take_yard(self, yard: Yard) -> None:
        """Go from now on by the yard as people have changed it."""
        self._yard = yard

    def run(self, craft: Mapping[str, StoredCraft]) -> AlarmSummary:
        """Take every alarm one step on and write what people are to be told.

        Alarms, their events, what is remembered and the messages share one transaction. What goes
        into it is worked out before it opens, so that it holds up nobody else's writing; if
        somebody has acted on an alarm meanwhile, it is worked out again.

        Parameters
        ----------
        craft : mapping of craft id to StoredCraft
            Every craft in the yard's care now; the alarms of others are closed.
        """
        for _ in range(_TRIES):
            with self._store.snapshot() as tx:
                draft = self._draft(tx, craft)
            composed = self._composed(draft)
            with self._store.transaction() as tx:
                steady = tx.alarms.count_changes() == draft.changes
                new = self._keep(tx, draft, composed) if steady else 0
            if steady:
                break
            log.debug("Somebody acted on an alarm meanwhile; this round begins again.")
        else:
            with self._store.transaction() as tx:  # people act without a pause: hold them up
                draft = self._draft(tx, craft)
                composed = self._composed(draft)
                new = self._keep(tx, draft, composed)
        self._log(draft, composed)
        stand = [done.alarm for done in draft.steps.values() if done.alarm is not None]
        return _summary(draft.before, stand, draft.untouched, new)

    def _draft(self, tx: Transaction, craft: Mapping[str, StoredCraft]) -> "_Draft":
        """Work out what becomes of every alarm, and what people are to be told."""
        now = self._clock.now()
        changes = tx.alarms.count_changes()
        fresh = [each for each in tx.assessments.latest_judgements() if now - each.at <= _STALE]
        fresh += judge_own_faults(tx, self._yard, craft, self._condition(), self._refused, now)
        judged_yard = JudgedYard.lay_out(self._yard, craft, fresh)
        before = {WatchKey.of(alarm): alarm for alarm in tx.alarms.open_alarms()}
        watches = tx.watches.all_watches()
        steps: dict[WatchKey, AlarmStep] = {}
        judged: dict[str, Assessment | None] = {}
        for definition in self._definitions.values():
            for seen in judged_yard.observe_cause(definition, before, watches):
                watch = watches.get(seen.key) or Watch(key=seen.key)
                done = step_alarm(before.get(seen.key), watch, seen, definition, now)
                steps[seen.key] = done
                if done.alarm is not None:
                    judged[done.alarm.id] = seen.assessment
        stand = [done.alarm for done in steps.values() if done.alarm is not None]
        untouched = [alarm for key, alarm in before.items() if key not in steps]
        away = {one.craft for one in (*stand, *untouched) if one.craft} - craft.keys()
        entries = entries_of(
            [*stand, *untouched],
            judged,
            craft,
            self._definitions,
            self._read_departed(tx, away) if away else {},
        )
        known = tx.conversations.open_threads(closed_since=now - DAY)
        told, conversations = letters_due(self._yard, entries, known, now)
        return _Draft(
            now=now,
            changes=changes,
            before=before,
            watches=watches,
            steps=steps,
            untouched=untouched,
            letters=told,
            conversations=conversations,
            answers=_answers_to_tell(tx, told, now),
            craft=craft,
            airs={
                each.subject.space: each
                for each in fresh
                if each.hazard is Hazard.AIR and not each.subject.part
            },
        )

    def _composed(self, draft: "_Draft") -> "_Composed":
        """Put the letters into words, each for every channel that its reader wants it on."""
        messages: list[Message] = []
        links: list[AnswerLink] = []
        for letter in draft.letters:
            for channel in self._reached(letter):
                address, link = self._offer(letter, draft.now)
                links += [link] if link is not None else []
                message = self._write(letter, channel, address, draft)
                messages.append(with_named_alarms(message, letter, self._yard))
        return _Composed(messages=messages, links=links)

    def _write(self, letter: Letter, channel: str, answer_link: str, draft: "_Draft") -> Message:
        """Put one letter into words; with names and hours alone where a fault keeps it from more.

        A fault in one letter's words must not hold up the others, nor the round.
        """
        try:
            return write_message(
                letter,
                self._yard,
                channel,
                answer_link=answer_link,
                airs=draft.airs,
                answers=draft.answers,
            )
        except Exception:
            log.exception("A letter could not be written in full.")
            log.debug("It was to %s.", letter.person.id)
            return write_bare_message(letter, self._yard, channel, answer_link)

    def _reached(self, letter: Letter) -> list[str]:
        """The channels that reach a letter's reader."""
        person = letter.person
        reached = list(person.reached_by)
        if letter.topic is Topic.PATH:  # not by the very path that has failed, if there is another
            parts_in_letter = {entry.alarm.part for entry in letter.entries}
            sound = [
                each for each in reached if not parts_in_letter & parts_of_channel(each, self._yard)
            ]
            reached = sound or reached
        if not reached:
            roles = ", ".join(sorted(person.roles))
            log.warning("Somebody of [[people]] (%s) has no address: nobody was told.", roles)
            log.debug("It is %s.", person.id)
        return reached

    def _offer(self, letter: Letter, now: datetime) -> tuple[str, AnswerLink | None]:
        """Where a letter's reader acknowledges; empty where there is nothing to answer."""
        if self._answers is None or letter.standpoint is Standpoint.OWNER:
            return "", None
        if letter.kind is MessageKind.ALL_CLEAR:
            return "", None
        alarms = (entry.alarm.id for entry in letter.listed_entries)
        return self._answers.offer(letter.person.id, letter.thread, alarms, now)

    def _keep(self, tx: Transaction, draft: "_Draft", composed: "_Composed") -> int:
        """Write what changed, and only that; tells how many messages were new."""
        steps, watches = draft.steps, draft.watches
        in_state, facts_alone = self._written.choose_due(draft.before, steps, draft.now)
        tx.alarms.put(in_state)
        tx.alarms.put_facts(facts_alone)
        tx.alarms.record_changes(event for done in steps.values() for event in done.events)
        idle = {key for key, done in steps.items() if _idle(done, draft.now)}
        tx.watches.drop_watches(key for key in idle if key in watches)
        tx.watches.put(
            done.watch
            for key, done in steps.items()
            if key not in idle and done.watch != watches.get(key)
        )
        tx.conversations.put(draft.conversations)
        Answers.keep(tx, composed.links, draft.now)
        taken = notices_of_takers(tx, self._yard, draft.craft, self._definitions, draft.now)
        return tx.outbox.add([*composed.messages, *taken])

    def _log(self, draft: "_Draft", composed: "_Composed") -> None:
        """Say what happened for whoever reads the log."""
        words = words_for(self._yard, draft.now)
        for done in draft.steps.values():
            for event in done.events:
                if done.alarm is not None:
                    _log(done.alarm, event, words)
        for message in composed.messages:
            log.info("To tell by %s: %s", message.channel, message.subject)
            log.debug("It tells %s.", message.person)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Draft:
    """One round as worked out, not yet kept."""

    now: datetime
    changes: int  # of state on record when it was worked out
    before: Mapping[WatchKey, Alarm]
    watches: Mapping[WatchKey, Watch]
    steps: Mapping[WatchKey, AlarmStep]
    untouched: list[Alarm]
    letters: list[Letter]
    conversations: list[Conversation]
    airs: Airs
    answers: OwnerAnswers
    craft: Mapping[str, StoredCraft]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Composed:
    """The letters in words, and the links in them."""

    messages: list[Message]
    links: list[AnswerLink]


def _log(alarm: Alarm, event: AlarmEvent, words: Wording) -> None:
    """Say a change in a sentence for whoever reads the log."""
    headline = headline_text(alarm, words)
    log.debug("%s: %s, by %s.", headline, reason_text(event, alarm, words), event.by)
    if event.before is event.after:
        log.warning("%s: something about it changed.", headline)
    elif event.after is AlarmState.UNACKNOWLEDGED:
        log.info("Alarm: %s.", headline)
    else:
        log.info("%s: now %s.", headline, event.after)


def _answers_to_tell(tx: Transaction, letters: list[Letter], now: datetime) -> OwnerAnswers:
    """Who has taken on what, for letters to owners."""
    if not any(letter.standpoint is Standpoint.OWNER for letter in letters):
        return {}
    taken = tx.alarms.taken_on(now - _ANSWERS_REMEMBERED)
    return {alarm.id: GivenAnswer(at=at, by=by) for at, by, alarm in taken}


def _idle(done: AlarmStep, now: datetime) -> bool:
    """Whether there is nothing left to remember of a cause."""
    if done.alarm is not None and done.alarm.state is not AlarmState.NORMAL:
        return False
    if done.watch.true_since is not None:
        return False
    cleared = done.watch.cleared_at
    return cleared is None or now - cleared >= _REMEMBERED


def _summary(
    before: Mapping[WatchKey, Alarm], stand: list[Alarm], untouched: list[Alarm], messages: int
) -> AlarmSummary:
    was = {alarm.id: alarm.state for alarm in before.values()}
    over = {AlarmState.NORMAL, AlarmState.RETURNED}
    return AlarmSummary(
        raised=sum(
            alarm.state is AlarmState.UNACKNOWLEDGED
            and was.get(alarm.id) is not AlarmState.UNACKNOWLEDGED
            for alarm in stand
        ),
        cleared=sum(
            alarm.state in over and was.get(alarm.id, alarm.state) not in over for alarm in stand
        ),
        open=sum(alarm.state is not AlarmState.NORMAL for alarm in (*stand, *untouched)),
        messages=messages,
    )
