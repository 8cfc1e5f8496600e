"""When a person is written to: two letters a night, more only for what is new and cannot wait.

A night runs from noon to noon. It has two letters that whatever has come up may go in: one for the
evening and one for the morning. What must never be missed, and is new to a person, does not wait
for them where waiting would cost the time to act, or the light to act in.
"""

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime, time, timedelta, tzinfo

from monitor.alarms.entry import Entry
from monitor.alarms.telling.notified_dangers import evening_of, worst_notified_rank
from monitor.yard.alarm import Topic
from monitor.yard.assessment import Hazard
from monitor.yard.duty import NIGHT
from monitor.yard.watch import Conversation, NotifiedDanger

A_NIGHT = 2  # letters
_NOON = time(12)
_MORNING = time(6)
_EVENING = time(15)  # the low is known better than at noon, and there is light left to act
_DUSK = time(18)  # gathering ends: what is to be done before the night is told by now
_LATE = time(20)  # who hears of it from now on was told too late to carry a thing in
# What was told once today, and only wants to be dried or mended some time, is told tomorrow.
_ONCE_A_DAY = timedelta(hours=20)
_WAITED = timedelta(hours=24)
# To treat or move one craft takes an hour or two (common practice, no source); a letter this long
# before the hour that matters comes in time.
IN_TIME = timedelta(hours=5)
# A thread that has spoken gathers what comes within so long, where that still comes in time.
_GATHERS = timedelta(hours=3)
_GATHERS_PRESSING = timedelta(minutes=30)
# What was entered is told together with what the next rounds judge of it.
_SETTLES = timedelta(minutes=10)
DAY = timedelta(hours=24)
_TO_SHUT_DOORS = timedelta(minutes=30)  # of a space, before its metal would sweat
_CLOSES = timedelta(days=14)  # after its last letter a thread of damp closes with one of its own
WARNED = 3  # the rank from which a person was told that it may freeze


class Pace:
    """What one person has been sent this night, and so when the next letter may go."""

    def __init__(self, sent: Iterable[datetime], now: datetime, zone: tzinfo) -> None:
        self._now = now
        self._zone = zone
        # A letter from the future was written by a clock that has been set back: it holds up none.
        self._sent = sorted(at for at in set(sent) if at <= now)
        self._next: datetime | None = None

    @property
    def tonight(self) -> int:
        """Letters since the last noon."""
        return self._since(_last(_NOON, self._now.astimezone(self._zone)))

    def has_room(self, *, early: bool = False) -> bool:
        """Whether the letter of this half of the night may go now.

        Parameters
        ----------
        early : bool
            From noon on, and not only from the evening's hour.
        """
        return self._has_room_at(self._now, early=early)

    def gathers(self, conversation: Conversation, pressing: Iterable[Entry]) -> bool:
        """Whether a thread that has just spoken still waits for what else comes."""
        if not _within(conversation, _GATHERS, self._now):
            return False
        hours = [entry.alarm.deadline for entry in pressing]
        ample = all(at is not None and at - self._now > IN_TIME for at in hours)
        if any(at is not None and self._by_light(at) for at in hours):
            local = self._now.astimezone(self._zone)
            ample = ample and local.time() < _DUSK
            if (local + _GATHERS_PRESSING).time() >= _LATE:
                return False
        return ample or _within(conversation, _GATHERS_PRESSING, self._now)

    def presses(self, entry: Entry, told: Mapping[str, NotifiedDanger], *, opening: bool) -> bool:
        """Whether news must not wait for the next letter that has room.

        Parameters
        ----------
        entry : Entry
            What is news.
        told : mapping of danger to NotifiedDanger
            What its thread has told of, as far as it counts tonight.
        opening : bool
            Its thread has said nothing yet.
        """
        if not entry.definition.never_missed:
            return False
        of_record = entry.definition.hazard is Hazard.RECORD
        if of_record and _is_younger(entry.alarm.raised_at, _SETTLES, self._now):
            return False
        if entry.iced:
            # It was warned of, with the word that it counts as frozen from then on: till it has
            # thawed nobody can do more than leave it alone. Who was told to lay it up again would
            # start it, by day.
            before = told.get(entry.danger)
            tonight = evening_of(self._now, self._zone)
            known = before.rank if before else worst_notified_rank(entry.about, told, tonight)
            by_day = not NIGHT.holds(self._now.astimezone(self._zone))
            return known is None or (known < WARNED and by_day)
        if opening:
            return True
        deadline = entry.alarm.deadline
        if deadline is None:
            # No ice is expected of what only has too little to spare.
            return entry.definition.topic is not Topic.FROST or entry.rank > 1
        return self._by_light(deadline) or deadline - self._next_room() < IN_TIME

    def is_last_chance(self, entry: Entry) -> bool:
        """Whether news with an hour, that wakes nobody, would come too late with the next letter.

        It goes by day alone, and as one of the night's two letters.
        """
        deadline = entry.alarm.deadline
        if entry.definition.never_missed or not entry.dew_ahead or deadline is None:
            return False
        if NIGHT.holds(self._now.astimezone(self._zone)) or self.tonight >= A_NIGHT:
            return False
        return self._now < deadline < self._next_room() + _TO_SHUT_DOORS

    def _by_light(self, deadline: datetime) -> bool:
        """Whether it is evening, and the hour that matters comes before the next noon."""
        local = self._now.astimezone(self._zone)
        noon = datetime.combine(local.date() + timedelta(days=1), _NOON, self._zone)
        return _EVENING <= local.time() < _LATE and deadline < noon

    def _next_room(self) -> datetime:
        """When the next letter that has room may go."""
        if self._next is None:
            local = self._now.astimezone(self._zone)
            hours = sorted(
                datetime.combine(local.date() + timedelta(days=day), hour, self._zone)
                for day in range(3)
                for hour in (_MORNING, _EVENING)
            )
            self._next = next(at for at in hours if at > local and self._has_room_at(at))
        return self._next

    def _has_room_at(self, at: datetime, *, early: bool = False) -> bool:
        local = at.astimezone(self._zone)
        if NIGHT.holds(local):
            return False
        noon = _last(_NOON, local)
        if local.time() < _NOON:
            return not self._since(_last(_MORNING, local)) and self._since(noon) < A_NIGHT
        return not self._since(noon) and (early or local.time() >= _EVENING)

    def _since(self, begin: datetime) -> int:
        return sum(at >= begin for at in self._sent)


def once_a_day(conversation: Conversation, news: Sequence[Entry], now: datetime) -> bool:
    """Whether a thread has told enough for one day, for all that is new in it."""
    if not news or any(each.definition.never_missed or _has_hour(each, now) for each in news):
        return False
    return _within(conversation, _ONCE_A_DAY, now)


def can_wait(entry: Entry, now: datetime) -> bool:
    """Whether news waits for a letter that goes anyway: its act has no hour, nor haste."""
    waits = entry.definition.waits
    return not _has_hour(entry, now) and _is_younger(entry.alarm.raised_at, waits, now)


def _has_hour(entry: Entry, now: datetime) -> bool:
    """Whether its act is to be done by an hour that is still ahead."""
    return entry.dew_ahead and entry.alarm.deadline is not None and entry.alarm.deadline > now


def closes_alone(conversation: Conversation, now: datetime) -> bool:
    """Whether the end of a thread that asks for no act waits no longer for another letter."""
    return not any(now - _CLOSES < at <= now for at in conversation.sent)


def has_waited(entries: Iterable[Entry], now: datetime) -> bool:
    """Whether one has waited for a day: for who is asleep whenever letters have room.

    What a wrong clock put later has waited, for nobody knows for how long.
    """
    return any(not _is_younger(entry.alarm.changed_at, _WAITED, now) for entry in entries)


def _is_younger(at: datetime, age: timedelta, now: datetime) -> bool:
    """Whether something is no older than that; what a wrong clock put later is old."""
    return timedelta(0) <= now - at < age


def _within(conversation: Conversation, gap: timedelta, now: datetime) -> bool:
    """Whether a thread has spoken since so long ago; what a wrong clock sent later is past."""
    return any(now - gap < at <= now for at in conversation.sent)


def _last(hour: time, local: datetime) -> datetime:
    """When it was last that hour."""
    at = local.replace(hour=hour.hour, minute=0, second=0, microsecond=0, fold=0)
    if at > local:
        at = datetime.combine(local.date() - timedelta(days=1), hour, local.tzinfo)
    return at
