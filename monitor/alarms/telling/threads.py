"""What one thread of messages has to say in this round: what is new in it, and what is over.

A thread opens with everything that holds. It speaks again only when a new danger joins, one stands
worse than was told, or one is back after its spell was over; it closes with one all clear.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta, tzinfo

from monitor.alarms.entry import Entry, Letter, Standpoint
from monitor.alarms.telling.escalation import Roster, called_after, to_remind
from monitor.alarms.telling.notified_dangers import (
    craft_left,
    craft_made_safe,
    dangers_notified_so_far,
    evening_of,
    is_covered,
    is_news,
    is_news_to_owner,
    moved_up,
    open_dangers,
    with_notified_entry,
)
from monitor.alarms.telling.pace import DAY
from monitor.yard.alarm import ACTIVE, AlarmState, Topic
from monitor.yard.message import MessageKind
from monitor.yard.space import Person, SpaceKind, Yard
from monitor.yard.watch import Conversation, LeftYard, MadeSafe, NotifiedDanger

_OF_A_SPACE = frozenset({Topic.DAMP, Topic.HEAT})
_HEAT_WITHIN = timedelta(minutes=30)  # a lost heater is found lost after a quarter of an hour
_HEAT_NEAR = timedelta(hours=3)  # first ice so near is told by itself
_HEAT_BRINGS = timedelta(hours=24)  # frost that comes later was in no letter of the lost heat


@dataclass(slots=True, kw_only=True)
class Thread:
    """What one thread has to say to its person in this round."""

    person: Person
    standpoint: Standpoint
    topic: Topic
    tonight: date
    before: Conversation  # as it was, or is opened now
    entries: list[Entry]
    over: bool = False
    active: list[Entry] = field(default_factory=list)  # one a danger, news marked
    news: list[Entry] = field(default_factory=list)
    told: dict[str, NotifiedDanger] = field(default_factory=dict)  # as far as it counts tonight
    beside: tuple[Entry, ...] = ()
    remind: bool = False
    sooner: list[Entry] = field(default_factory=list)  # worth a word, and no letter of its own
    safe: tuple[MadeSafe, ...] = ()
    left: tuple[LeftYard, ...] = ()
    yard_told_at: datetime | None = None  # of an owner's: when the yard's people heard of it
    kept: Conversation | None = None  # as it is after this round; None: not worth keeping yet

    def find_news(self, yard: Yard, heatless: Mapping[str, Sequence[Entry]], now: datetime) -> None:
        """Find out what is new, and what is over."""
        dangers = open_dangers(self.entries)
        if self.topic is not Topic.DAMP:  # which is told by the space, whatever craft stand there
            self.safe = craft_made_safe(self.before, self.entries)
            self.left = craft_left(self.before, self.entries)
        self.told = dangers_notified_so_far(self.before, dangers, self.tonight, yard.zone)
        self.over = not (dangers or self.told)
        if self.over:
            self.kept = replace(self.before, safe=self.safe, left=self.left)
            if self._has_nothing_to_name():
                self.over, self.kept = False, replace(self.before, closed_at=now)
            return
        active = _worst_of_each([each for each in self.entries if each.alarm.state in ACTIVE])
        self.active = [
            replace(each, news=self._is_news(each, yard, heatless, now)) for each in active
        ]
        self.news = [entry for entry in self.active if entry.news]
        if self.standpoint is Standpoint.STAFF:
            self.sooner = [
                each for each in self.active if not each.news and moved_up(each, self.told, now)
            ]
        if self.topic is Topic.HEAT:
            self.beside = _frost_beside(self.entries, heatless)
        self.remind = to_remind(yard, self.before, self.standpoint, self.active, now)
        spoken = bool(self.before.count)
        self.kept = (
            replace(self.before, told=self.told, safe=self.safe, left=self.left) if spoken else None
        )

    def _has_nothing_to_name(self) -> bool:
        """Whether an owner's thread ends of which no craft is known any more.

        An all clear that names none would say of every craft of this owner that it is safe.
        """
        told = self.before.told
        named = self.safe or self.left or any(entry.danger in told for entry in self.entries)
        return self.standpoint is Standpoint.OWNER and not named

    def _is_news(
        self, entry: Entry, yard: Yard, heatless: Mapping[str, Sequence[Entry]], now: datetime
    ) -> bool:
        if self.standpoint is Standpoint.OWNER:
            return is_news_to_owner(entry, self.told, self.tonight)
        if not is_news(entry, self.told, now):
            return False
        if self.topic is not Topic.FROST:
            return True
        if _is_notified_with_heat(yard, entry, heatless, now):
            return False
        # Where each alarm calls the next person until somebody takes it on, each has to be told.
        return yard.duty.has_calendar or not is_covered(entry, self.told)

    def has_to_say(self) -> bool:
        """Whether a letter that goes anyway takes this along."""
        return self.over or bool(self.news or self.sooner)

    def make_letter(self, now: datetime) -> Letter:
        """Put all that holds into a letter, and remember that it was told."""
        if self.over:
            kind, listed, ended = MessageKind.ALL_CLEAR, *self._take_ended_entries()
        else:
            kind = MessageKind.UPDATE if self.before.count else MessageKind.ALARM
            listed, ended = self._take_standing_entries(), ()
        self.kept = replace(
            self.before,
            told=self.told,
            safe=(),
            left=(),
            closed_at=now if self.over else None,
            reminded=self._times_reminded(),
            sent=(*(at for at in self.before.sent if now - at < DAY), now),
            count=self.before.count + 1,
        )
        return Letter(
            kind=kind,
            person=self.person,
            standpoint=self.standpoint,
            topic=self.topic,
            entries=listed,
            conversation=self.kept,
            beside=self.beside,
            safe=self.safe,
            left=self.left,
            yard_told_at=self.yard_told_at,
            ended=ended,
        )

    def _take_ended_entries(self) -> tuple[tuple[Entry, ...], tuple[str, ...]]:
        """Tell the end of what was told; names, too, of a space's subjects that have no entry."""
        told = self.before.told
        entries = [entry for entry in self.entries if entry.danger in told]
        ended: tuple[str, ...] = ()
        if self.topic in _OF_A_SPACE:
            notified_of = {each.about for each in told.values()}
            ended = tuple(sorted(notified_of - {entry.about for entry in entries}))
        self.told = {}
        return tuple(_worst_of_each(entries)), ended

    def _take_standing_entries(self) -> tuple[Entry, ...]:
        """Tell what stands. What has passed is told by the all clear: its numbers would deny it."""
        standing = [entry for entry in self.active if not entry.passed]
        known = {each.about for each in self.told.values() if each.rank}
        for entry in standing:
            before_it = self.told.get(entry.danger)
            self.told[entry.danger] = with_notified_entry(before_it, entry, self.tonight)
        new = {entry.alarm.id for entry in (*self.news, *self.sooner)}
        return tuple(
            replace(each, news=each.alarm.id in new, told_before=each.about in known)
            for each in standing
        )

    def _times_reminded(self) -> int:
        """How often its person was reminded, with this letter; news that waits begins anew."""
        if any(entry.alarm.state is AlarmState.UNACKNOWLEDGED for entry in self.news):
            return 0
        return self.before.reminded + self.remind


def _frost_beside(
    entries: Iterable[Entry], heatless: Mapping[str, Sequence[Entry]]
) -> tuple[Entry, ...]:
    """The frost that lost heat brings to craft, each alarm once."""
    spaces = dict.fromkeys(entry.alarm.space for entry in entries)
    return tuple(frost for space in spaces for frost in heatless.get(space, ()))


def open_thread(
    roster: Roster,
    person: Person,
    standpoint: Standpoint,
    topic: Topic,
    entries: list[Entry],
    conversation: Conversation | None,
    now: datetime,
    zone: tzinfo,
) -> Thread | None:
    """The thread of one topic; None where nothing asks for one."""
    if conversation is None:
        active = _worst_of_each([entry for entry in entries if entry.alarm.state in ACTIVE])
        # An owner hears after the yard has answered, so then its answer must not keep it back.
        asks = {AlarmState.UNACKNOWLEDGED}
        if standpoint is Standpoint.OWNER:
            asks.add(AlarmState.ACKNOWLEDGED)
        if not any(entry.alarm.state in asks for entry in active):
            return None
        conversation = Conversation(
            thread=f"{topic}/{now:%Y%m%dT%H%M%S}/{person.id}",
            person=person.id,
            topic=str(topic),
            opened_at=now,
            owner=standpoint is Standpoint.OWNER,
            called_after=called_after(roster, person, standpoint, active),
        )
    return Thread(
        person=person,
        standpoint=standpoint,
        topic=topic,
        tonight=evening_of(now, zone),
        before=conversation,
        entries=entries,
    )


def heatless_of(entries: Iterable[Entry], now: datetime) -> dict[str, list[Entry]]:
    """Spaces whose lost heat is told of, each with the frost that this brings to its craft.

    Not with first ice that is near and of which the letter of the heat could not tell yet, as of a
    craft that was carried in since.
    """
    active = [entry for entry in entries if entry.alarm.state in ACTIVE]
    lost_at: dict[str, datetime] = {}
    for entry in active:
        if entry.definition.topic is Topic.HEAT:
            space, at = entry.alarm.space, entry.alarm.raised_at
            lost_at[space] = max(at, lost_at.get(space, at))
    found: dict[str, list[Entry]] = {space: [] for space in lost_at}
    for entry in active:
        if entry.definition.topic is not Topic.FROST or entry.iced:
            continue
        since = lost_at.get(entry.alarm.space)
        if since is None or entry.alarm.raised_at >= since + _HEAT_BRINGS:
            continue
        if not _is_near(entry, now) or entry.alarm.raised_at < since + _HEAT_WITHIN:
            found[entry.alarm.space].append(entry)
    return found


def _is_notified_with_heat(
    yard: Yard, entry: Entry, heatless: Mapping[str, Sequence[Entry]], now: datetime
) -> bool:
    """Whether frost in a heated space is told, or soon will be, by the message of its heat.

    It is one cause and one act: mend the heat. Where heat is not found lost within half an hour,
    or first ice is near, the frost is told by itself.
    """
    if entry.iced:
        return False
    brought = heatless.get(entry.alarm.space)
    if brought is not None:
        return any(each.alarm.id == entry.alarm.id for each in brought)
    heated = any(
        space.id == entry.alarm.space and space.kind is SpaceKind.HEATED for space in yard.spaces
    )
    return heated and not _is_near(entry, now) and now - entry.alarm.raised_at < _HEAT_WITHIN


def _is_near(entry: Entry, now: datetime) -> bool:
    """Whether first ice is so near that frost is told by itself; where its hour is open it is."""
    deadline = entry.alarm.deadline
    return deadline is None or deadline - now <= _HEAT_NEAR


def _worst_of_each(entries: Iterable[Entry]) -> list[Entry]:
    """One entry a part and danger: a lost maintainer does not hide that its battery may freeze."""
    worst: dict[tuple[str, str], Entry] = {}
    for entry in entries:
        key = (entry.subject, entry.danger)
        known = worst.get(key)
        if known is None or not _outdoes(known, entry):
            worst[key] = entry
    return list(worst.values())


def _outdoes(known: Entry, entry: Entry) -> bool:
    # While one cause hands over to a graver one, both may stand.
    if known.definition.supersedes == entry.alarm.cause:
        return True
    if entry.definition.supersedes == known.alarm.cause:
        return False
    return _gravity(known) > _gravity(entry)


def _gravity(entry: Entry) -> tuple[bool, int]:
    return entry.definition.never_missed, entry.rank
