"""What people do about alarms: acknowledge, shelve, take out of service. Each with who and why."""

from collections.abc import Collection, Iterable
from contextlib import AbstractContextManager, nullcontext
from dataclasses import replace
from datetime import datetime, timedelta

from monitor.alarms.definitions import DEFINITIONS
from monitor.alarms.entry import ICE, danger_of
from monitor.clock import Clock
from monitor.errors import ActError
from monitor.store.store import Store
from monitor.store.transaction import Transaction
from monitor.yard.alarm import Alarm, AlarmEvent, AlarmState, Topic
from monitor.yard.alarm_facts import Change, ChangeFacts, FinishedLine, Reason
from monitor.yard.watch import Watch, WatchKey

LONGEST_SHELF = timedelta(days=7)
LONGEST_SHELF_NEVER_MISSED = timedelta(hours=24)  # for what must never be missed
# A slip of the thumb is seen at once; who gives work back later tells the others (no source).
GIVE_BACK_WITHIN = timedelta(minutes=10)

_AFTER_ACKNOWLEDGING = {
    AlarmState.UNACKNOWLEDGED: AlarmState.ACKNOWLEDGED,
    AlarmState.RETURNED: AlarmState.NORMAL,
}
_ON_SHELF_FROM = frozenset(
    {AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED, AlarmState.RETURNED, AlarmState.SHELVED}
)


class AlarmActs:
    """People's acts on one yard's alarms; each one transaction, or part of one that does more."""

    def __init__(self, store: Store, clock: Clock, within: Transaction | None = None) -> None:
        self._store = store
        self._within = within
        self._clock = clock

    def _begin(self) -> AbstractContextManager[Transaction]:
        """A transaction of its own, or that of whoever does more in it."""
        return self._store.transaction() if self._within is None else nullcontext(self._within)

    def acknowledge(self, alarm_id: str, by: str, why: str = "") -> Alarm:
        """Say that a person has taken the alarm on.

        Acknowledging what is acknowledged already changes nothing.

        Parameters
        ----------
        alarm_id : str
        by : str
            The person's id.
        why : str, optional
            What the person says about it.

        Returns
        -------
        Alarm
            As it stands now.

        Raises
        ------
        ActError
            If there is no such alarm, no person is named, or the alarm is in a state that asks
            for no acknowledgement.
        """
        with self._begin() as tx:
            alarm = _get_alarm(tx, alarm_id)
            if alarm.state in {AlarmState.ACKNOWLEDGED, AlarmState.NORMAL}:
                return alarm
            return acknowledge_within(tx, alarm, by, why, self._clock.now())

    def acknowledge_each(self, alarm_ids: Collection[str], by: str, why: str = "") -> list[Alarm]:
        """Take on those of some alarms that nobody has taken on yet, all of them at one moment.

        Returns
        -------
        list of Alarm
            Those that were acknowledged; empty where others had done it before.
        """
        with self._begin() as tx:
            return acknowledge_letter_within(tx, alarm_ids, by, why, self._clock.now())

    def give_back(self, alarm_ids: Collection[str], by: str, why: str = "") -> list[Alarm]:
        """Take back what a person has taken on a moment ago: the alarms ask again, as before it.

        Raises
        ------
        ActError
            If this person has taken on none of them within the last ten minutes.
        """
        now = self._clock.now()
        with self._begin() as tx:
            taken = {
                alarm.id: alarm
                for _, person, alarm in tx.alarms.taken_on(now - GIVE_BACK_WITHIN)
                if person == by and alarm.id in alarm_ids
            }
            back = [each for each in taken.values() if each.state is AlarmState.ACKNOWLEDGED]
            if not back:
                minutes = GIVE_BACK_WITHIN / timedelta(minutes=1)
                raise ActError(
                    f"nothing of it was taken on by you within the last {minutes:.0f} minutes"
                )
            said = FinishedLine(text=why or "given back")
            return [_give_back_within(tx, each, by, said, now) for each in back]

    def shelve(self, alarm_id: str, by: str, why: str, until: datetime) -> Alarm:
        """Put an alarm on the shelf: not told of until then, but watched all the while.

        Parameters
        ----------
        alarm_id, by, why : str
            Which alarm, who, and the reason.
        until : datetime
            Aware; at most 7 days ahead, 24 hours for what must never be missed.

        Raises
        ------
        ActError
            If the end is missing, past or too far, or anything else is.
        """
        now = self._clock.now()
        if until.tzinfo is None or until <= now:
            raise ActError(f"shelving needs an end in the future, not {until.isoformat()}")
        with self._begin() as tx:
            alarm = _get_alarm(tx, alarm_id)
            definition = DEFINITIONS.get(alarm.cause)
            never_missed = definition is not None and definition.never_missed
            longest = LONGEST_SHELF_NEVER_MISSED if never_missed else LONGEST_SHELF
            if until - now > longest:
                hours = longest / timedelta(hours=1)
                raise ActError(f"this alarm may be shelved for {hours:.0f} hours at most")
            if alarm.state not in _ON_SHELF_FROM:
                raise ActError(f"an alarm that is {alarm.state} cannot be shelved")
            watch = replace(_watch(tx, alarm), until=until)
            said = _needed(why, "a reason")
            reason = ChangeFacts(change=Change.SHELVED, until=until, said=said)
            return _change(tx, alarm, watch, AlarmState.SHELVED, by, reason, now)

    def unshelve(self, alarm_id: str, by: str, why: str = "") -> Alarm:
        """Take an alarm off the shelf before its time.

        Raises
        ------
        ActError
            If it is not on the shelf.
        """
        return self._bring_back(alarm_id, by, why, AlarmState.SHELVED, "taken off the shelf")

    def take_out_of_service(self, alarm_id: str, by: str, why: str) -> Alarm:
        """Take an alarm out of service for maintenance, until a person brings it back.

        Raises
        ------
        ActError
            If no reason is given, or the alarm is over.
        """
        with self._begin() as tx:
            alarm = _get_alarm(tx, alarm_id)
            if alarm.state in {AlarmState.NORMAL, AlarmState.OUT_OF_SERVICE}:
                raise ActError(f"an alarm that is {alarm.state} cannot be taken out of service")
            reason = FinishedLine(text=_needed(why, "a reason"))
            watch = replace(_watch(tx, alarm), until=None)
            state = AlarmState.OUT_OF_SERVICE
            return _change(tx, alarm, watch, state, by, reason, self._clock.now())

    def return_to_service(self, alarm_id: str, by: str, why: str = "") -> Alarm:
        """Bring an alarm back after maintenance.

        Raises
        ------
        ActError
            If it is not out of service.
        """
        return self._bring_back(alarm_id, by, why, AlarmState.OUT_OF_SERVICE, "returned to service")

    def _bring_back(self, alarm_id: str, by: str, why: str, only: AlarmState, what: str) -> Alarm:
        with self._begin() as tx:
            alarm = _get_alarm(tx, alarm_id)
            if alarm.state is not only:
                raise ActError(f"the alarm is not {only}, it is {alarm.state}")
            watch = replace(_watch(tx, alarm), until=None)
            # Nobody can tell: then it counts as there.
            gone = watch.false_since is not None
            after = AlarmState.NORMAL if gone else AlarmState.UNACKNOWLEDGED
            return _change(
                tx, alarm, watch, after, by, FinishedLine(text=why or what), self._clock.now()
            )


def _give_back_within(tx: Transaction, alarm: Alarm, by: str, why: Reason, now: datetime) -> Alarm:
    # That it was ever answered is forgotten: less evidence must not keep people from being called.
    watch = replace(_watch(tx, alarm), answered_at=None, answered_severity=None)
    return _change(tx, alarm, watch, AlarmState.UNACKNOWLEDGED, by, why, now)


def acknowledge_within(tx: Transaction, alarm: Alarm, by: str, why: str, now: datetime) -> Alarm:
    """Acknowledge one alarm inside a transaction that does more."""
    after = _AFTER_ACKNOWLEDGING.get(alarm.state)
    if after is None:
        raise ActError(f"an alarm that is {alarm.state} asks for no acknowledgement")
    watch = replace(_watch(tx, alarm), answered_at=now, answered_severity=alarm.severity)
    return _change(tx, alarm, watch, after, by, FinishedLine(text=why or "acknowledged"), now)


def acknowledge_thread_within(
    tx: Transaction, thread: str, by: str, why: str, now: datetime
) -> list[Alarm]:
    """Acknowledge what a thread has told of, inside a transaction that does more."""
    conversation = tx.conversations.get(thread)
    if conversation is None:
        raise ActError(f"there is no thread {thread}")
    if conversation.owner:
        raise ActError("an owner's thread answers no alarm: that is for the yard's own people")
    return [acknowledge_within(tx, alarm, by, why, now) for alarm in asking(tx, thread)]


def acknowledge_letter_within(
    tx: Transaction, alarm_ids: Collection[str], by: str, why: str, now: datetime
) -> list[Alarm]:
    """Acknowledge what one letter told of, inside a transaction that does more."""
    asks = still_asking(tx.alarms.find_known(alarm_ids))
    return [acknowledge_within(tx, alarm, by, why, now) for alarm in asks]


def still_asking(alarms: Iterable[Alarm]) -> list[Alarm]:
    """Those of some alarms that nobody has acknowledged yet."""
    return [alarm for alarm in alarms if alarm.state in _AFTER_ACKNOWLEDGING]


def asking(tx: Transaction, thread: str) -> list[Alarm]:
    """The alarms that a thread's letters have told of and that nobody has acknowledged yet.

    What went along from other threads counts, and so does the frost that lost heat brings.
    """
    first = tx.conversations.get(thread)
    if first is None:
        return []
    along = (tx.conversations.get(each) for each in first.along)
    told: dict[str, set[str]] = {}
    for conversation in (first, *along):
        if conversation is not None and conversation.closed_at is None:
            told.setdefault(conversation.topic, set()).update(conversation.told)
    heatless = told.get(Topic.HEAT, set())

    def is_notified(alarm: Alarm) -> bool:
        definition = DEFINITIONS.get(alarm.cause)
        if definition is None:
            return False
        if danger_of(alarm, definition) in told.get(definition.topic, ()):
            return True
        frost = definition.topic is Topic.FROST and alarm.cause not in ICE
        return frost and alarm.space in heatless

    return still_asking(alarm for alarm in tx.alarms.open_alarms() if is_notified(alarm))


def _change(
    tx: Transaction,
    alarm: Alarm,
    watch: Watch,
    after: AlarmState,
    by: str,
    why: Reason,
    now: datetime,
) -> Alarm:
    changed = replace(alarm, state=after, changed_at=now)
    if after is AlarmState.NORMAL and alarm.cleared_at is None:
        changed = replace(changed, cleared_at=now)
    tx.alarms.put([changed])
    tx.alarms.record_changes(
        [
            AlarmEvent(
                alarm=alarm.id,
                at=now,
                before=alarm.state,
                after=after,
                by=_needed(by, "a person"),
                why=why,
            )
        ]
    )
    tx.watches.put([watch])
    return changed


def _get_alarm(tx: Transaction, alarm_id: str) -> Alarm:
    alarm = tx.alarms.get(alarm_id)
    if alarm is None:
        raise ActError(f"there is no alarm {alarm_id}")
    return alarm


def _watch(tx: Transaction, alarm: Alarm) -> Watch:
    key = WatchKey.of(alarm)
    return tx.watches.get(key) or Watch(key=key, alarm=alarm.id)


def _needed(text: str, what: str) -> str:
    if not text.strip():
        raise ActError(f"this act needs {what}")
    return text
