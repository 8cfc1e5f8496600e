"""One round of alarms: from the latest judgements to alarms, their events and people's messages."""

import logging
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from monitor.alarms.answers import Answers
from monitor.alarms.definitions import DEFINITIONS, Definition, Topic
from monitor.alarms.entry import Letter, Standpoint, entries_of
from monitor.alarms.grouping import letters
from monitor.alarms.letters import write
from monitor.alarms.lifecycle import Step, step
from monitor.alarms.paths import failed_paths
from monitor.alarms.sight import Sight
from monitor.clock import Clock
from monitor.craft.stored import StoredCraft
from monitor.store.store import Store, Transaction
from monitor.wording import Units, told
from monitor.yard.alarm import Alarm, AlarmEvent, AlarmState
from monitor.yard.assessment import Assessment
from monitor.yard.message import Message, MessageKind
from monitor.yard.readers import units_of, words_kept
from monitor.yard.space import Yard
from monitor.yard.watch import Watch, WatchKey

log = logging.getLogger("laidup.alarms")

_REMEMBERED = timedelta(hours=24)  # how long a cleared alarm is remembered, in case it comes back
_STALE = timedelta(minutes=30)  # judgements older than this say nothing about now


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmSummary:
    """What one round did."""

    raised: int
    cleared: int
    open: int
    messages: int


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
        """
        self._store = store
        self._yard = yard
        self._clock = clock
        self._definitions = definitions
        self._answers = answers

    def run(self, craft_names: Mapping[str, StoredCraft]) -> AlarmSummary:
        """Take every alarm one step on and write what people are to be told.

        Alarms, their events, what is remembered and the messages share one transaction.

        Parameters
        ----------
        craft_names : mapping of craft id to StoredCraft
            Every craft in the yard's care now; the alarms of others are closed.
        """
        with self._store.snapshot() as tx:
            judged = tx.assessments.latest()
        with self._store.transaction() as tx:
            now = self._clock.now()
            fresh = [each for each in judged if now - each.at <= _STALE]
            fresh += failed_paths(tx, self._yard, now)
            sight = Sight.of(self._yard, craft_names, fresh, words_kept(self._yard, now))
            return self._run(tx, sight, now)

    def _run(self, tx: Transaction, sight: Sight, now: datetime) -> AlarmSummary:
        before = {_key(alarm): alarm for alarm in tx.alarms.open()}
        watches = tx.watches.all()
        steps: dict[WatchKey, Step] = {}
        judged: dict[str, Assessment | None] = {}
        for definition in self._definitions.values():
            for seen in sight.of_cause(definition, before, watches):
                watch = watches.get(seen.key) or Watch(key=seen.key)
                done = step(before.get(seen.key), watch, seen, definition, now)
                steps[seen.key] = done
                if done.alarm is not None:
                    judged[done.alarm.id] = seen.assessment
        self._keep(tx, before, watches, steps, now)

        stand = [done.alarm for done in steps.values() if done.alarm is not None]
        untouched = [alarm for key, alarm in before.items() if key not in steps]
        entries = entries_of([*stand, *untouched], judged, sight.craft, self._definitions)
        told, conversations = letters(self._yard, entries, tx.conversations.open(), now)
        tx.conversations.put(conversations)
        messages: list[Message] = []
        for letter in told:
            messages += self._written(tx, letter, now)
        new = tx.outbox.add(messages)
        for message in messages:
            log.info("To tell %s: %s", message.person, message.subject)
        return _summary(before, stand, untouched, new)

    def _written(self, tx: Transaction, letter: Letter, now: datetime) -> list[Message]:
        """One letter for each channel that its reader wants it on."""
        person = letter.person
        reached = [each for each in person.channels if each != "mail" or person.mail]
        if letter.topic is Topic.PATH:  # not by the very path that has failed, if there is another
            failed = {entry.alarm.part.split(" to ")[0] for entry in letter.entries}
            reached = [each for each in reached if each not in failed] or reached
        if not reached:
            log.warning("%s has no address: nobody was told.", person.name)
        return [
            write(letter, self._yard, channel, answer_link=self._link(tx, letter, now))
            for channel in reached
        ]

    def _link(self, tx: Transaction, letter: Letter, now: datetime) -> str:
        """Where a letter's reader acknowledges; empty where there is nothing to answer."""
        if self._answers is None or letter.standpoint is Standpoint.OWNER:
            return ""
        if letter.kind is MessageKind.ALL_CLEAR:
            return ""
        return self._answers.link(tx, letter.person.id, letter.conversation.thread, now)

    def _keep(
        self,
        tx: Transaction,
        before: Mapping[WatchKey, Alarm],
        watches: Mapping[WatchKey, Watch],
        steps: Mapping[WatchKey, Step],
        now: datetime,
    ) -> None:
        """Write what changed, and only that."""
        alarms = [
            done.alarm
            for key, done in steps.items()
            if done.alarm is not None and done.alarm != before.get(key)
        ]
        tx.alarms.put(alarms)
        tx.alarms.record(event for done in steps.values() for event in done.events)
        idle = {key for key, done in steps.items() if _idle(done, now)}
        tx.watches.drop(key for key in idle if key in watches)
        tx.watches.put(
            done.watch
            for key, done in steps.items()
            if key not in idle and done.watch != watches.get(key)
        )
        for done in steps.values():
            for event in done.events:
                if done.alarm is not None:
                    _log(done.alarm, event, units_of(self._yard))


def _log(alarm: Alarm, event: AlarmEvent, units: Units) -> None:
    """Say a change in a sentence for whoever reads the log."""
    headline, why = told(alarm.headline, units), told(event.why, units)
    if event.before is event.after:
        log.warning("%s: %s.", headline, why)
    elif event.after is AlarmState.UNACKNOWLEDGED:
        log.info("Alarm: %s.", headline)
    else:
        log.info("%s: now %s, %s.", headline, event.after, why)


def _idle(done: Step, now: datetime) -> bool:
    """Whether there is nothing left to remember of a cause."""
    if done.alarm is not None and done.alarm.state is not AlarmState.NORMAL:
        return False
    if done.watch.true_since is not None:
        return False
    cleared = done.watch.cleared_at
    return cleared is None or now - cleared >= _REMEMBERED


def _key(alarm: Alarm) -> WatchKey:
    return WatchKey(
        cause=alarm.cause,
        craft=alarm.craft,
        space="" if alarm.craft else alarm.space,
        part=alarm.part,
    )


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
