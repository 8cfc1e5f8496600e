"""Alarms and people as one message sees them: what it lists, and whom it is for."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from types import MappingProxyType

from monitor.alarms.definitions import Definition
from monitor.craft.stored import DepartedCraft, StoredCraft
from monitor.phrases.standings import ICED, row_of
from monitor.yard.alarm import Alarm, Topic
from monitor.yard.assessment import Assessment, Hazard, Standing
from monitor.yard.frost_facts import FrostFacts, Occasion, PlannedAct
from monitor.yard.message import Attachment, Message, MessageKind
from monitor.yard.space import Person
from monitor.yard.watch import Conversation, LeftYard, MadeSafe

_OF_A_SPACE = frozenset({Topic.DAMP, Topic.HEAT})  # told by the space, for one act serves all in it
# Causes by which a part is past saving.
ICE = frozenset({"ice", "third-ice"})


class Standpoint(StrEnum):
    """Why a person is told: it decides what the message may hold."""

    STAFF = "staff"
    OWNER = "owner"


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One alarm as one message lists it."""

    alarm: Alarm
    definition: Definition
    assessment: Assessment | None
    craft: StoredCraft | None
    news: bool = False
    told_before: bool = False  # its thread has told of its craft, space or sensor in this spell
    left_at: datetime | None = None  # its craft left the yard's care then

    @property
    def subject(self) -> str:
        """The part that the alarm is about."""
        return f"{self.alarm.craft or self.alarm.space}/{self.alarm.part}"

    @property
    def about(self) -> str:
        """What a person is told of: the craft, the space or the sensor."""
        if self.definition.topic in _OF_A_SPACE:
            return self.alarm.space
        if self.definition.topic in {Topic.SILENCE, Topic.PATH}:
            return self.subject
        return self.alarm.craft or self.alarm.space

    @property
    def danger(self) -> str:
        """Key under which a thread remembers that it has told of this."""
        return danger_of(self.alarm, self.definition)

    @property
    def rank(self) -> int:
        """How bad it stands, as far as this alarm tells it; the higher the worse."""
        if self.iced:
            return ICED  # a coming low that is worse still does not undo it
        if self.alarm.cause == "silence-urgent":
            return 2  # of a sensor that was told to be silent when nothing hung on it
        if self.alarm.cause == "heat-off":
            return 1  # the same fall is news again once frost is due
        if self.assessment is None or self.assessment.standing not in self._alarming_standings:
            return 1
        return row_of(self.assessment).news

    @property
    def endangers(self) -> bool:
        """Whether what it tells of stands now: not only its off-delay, or an inspection owed."""
        seen = self.assessment
        return (
            seen is not None
            and seen.standing in self._alarming_standings
            and seen.standing is not Standing.SUSPECT
        )

    @property
    def _alarming_standings(self) -> frozenset[Standing]:
        return self.definition.standings | self.definition.if_unproven

    @property
    def passed(self) -> bool:
        """Whether what it warned of is over, and its alarm only waits out its off-delay.

        What had ice in it is judged well only once a person has looked into it.
        """
        seen = self.assessment
        return (
            seen is not None
            and not self.drying
            and not row_of(seen).asks
            and seen.standing not in self._alarming_standings
        )

    @property
    def drying(self) -> bool:
        """Whether metal has passed the dew point, and the water on it is not gone yet."""
        seen = self.assessment
        return (
            seen is not None
            and seen.hazard is Hazard.DAMP
            and not row_of(seen).asks
            and seen.ends is not None
            and seen.ends > seen.at
        )

    @property
    def dew_ahead(self) -> bool:
        """Whether it is dry yet, and a forecast has it sweat."""
        seen = self.assessment
        return seen is not None and seen.standing is Standing.DEW_AHEAD

    @property
    def iced(self) -> bool:
        """Whether it is past saving: there is or was ice in it."""
        return self.alarm.cause in ICE

    @property
    def needs_inspection(self) -> bool:
        """Whether ice was in it and nobody has looked into it since."""
        if not self.iced:
            return False
        held = None if self.craft is None else self.craft.protection.get(self.alarm.part)
        looked = None if held is None else held.inspected_at
        return looked is None or looked < self.alarm.raised_at


@dataclass(frozen=True, slots=True, kw_only=True)
class Letter:
    """What one person is to be told now, not yet put into words."""

    kind: MessageKind
    person: Person
    standpoint: Standpoint
    topic: Topic
    entries: tuple[Entry, ...]  # what holds now; of an all clear, what held
    conversation: Conversation  # as it is once this letter is written
    beside: tuple[Entry, ...] = ()  # what else this cause brings, and no other letter tells
    along: tuple["Letter", ...] = ()  # what other threads have to say to this person now
    safe: tuple[MadeSafe, ...] = ()  # what became of craft that earlier letters told of
    left: tuple[LeftYard, ...] = ()  # of these, craft that nobody watches any more
    yard_told_at: datetime | None = None  # of an owner's: when the yard's people heard of it
    ended: tuple[str, ...] = ()  # of an all clear: spaces that were told of, their alarms long over

    @property
    def thread(self) -> str:
        """The thread that this is a message of."""
        return self.conversation.thread

    @property
    def parts(self) -> tuple["Letter", ...]:
        """The letter itself, and what other threads send along with it."""
        return (self, *self.along)

    @property
    def open_parts(self) -> tuple["Letter", ...]:
        """Those parts whose thread tells of what holds now."""
        return tuple(part for part in self.parts if part.kind is not MessageKind.ALL_CLEAR)

    @property
    def closing_parts(self) -> tuple["Letter", ...]:
        """Those parts that close their thread."""
        return tuple(part for part in self.parts if part.kind is MessageKind.ALL_CLEAR)

    @property
    def listed_entries(self) -> tuple[Entry, ...]:
        """Every entry of this letter and of those that go along, whatever its thread."""
        further = (entry for letter in self.along for entry in letter.listed_entries)
        return (*self.entries, *self.beside, *further)

    @property
    def craft_safe(self) -> tuple[MadeSafe, ...]:
        """What became of craft that letters of any of its threads told of, each craft once."""
        return tuple({one.craft: one for part in self.parts for one in part.safe}.values())

    @property
    def craft_left(self) -> tuple[LeftYard, ...]:
        """The same of craft that nobody watches any more."""
        return tuple({one.craft: one for part in self.parts for one in part.left}.values())

    @property
    def language(self) -> str:
        """Of its sentences: owners have their own, the yard's people are written to in English."""
        return self.person.language if self.standpoint is Standpoint.OWNER else "en"

    @property
    def number(self) -> int:
        """Which message of its thread this is, from 1."""
        return self.conversation.count

    def as_message(
        self,
        channel: str,
        subject: str,
        text: str,
        html: str = "",
        attachments: Sequence[Attachment] = (),
    ) -> Message:
        """The letter in words, for a channel; writing it twice for one adds nothing."""
        by = () if channel == "mail" else (channel,)
        return Message(
            key="/".join((self.thread, str(self.number), *by)),
            person=self.person.id,
            channel=channel,
            address=self.person.address_on(channel),
            kind=self.kind,
            subject=subject,
            text=text,
            html=html,
            created_at=self.conversation.sent[-1],
            thread=self.thread,
            attachments=tuple(attachments),
            language=self.language,
        )


def planned_act(entry: Entry) -> PlannedAct | None:
    """The steps that an entry's judgement asks for before the frost."""
    seen = entry.assessment
    facts = None if seen is None else seen.facts
    if not isinstance(facts, FrostFacts) or facts.act is None or not facts.act.steps:
        return None
    return None if facts.act.occasion is Occasion.AFTER_ICE else facts.act


def danger_of(alarm: Alarm, definition: Definition) -> str:
    """Key under which a thread remembers that it has told of an alarm.

    Causes that are worse and worse of one thing share it, for they ask for one act: frost and ice
    of a circuit, charge and frost of a battery, power and heat of a space, damp air and wet metal.
    """
    if definition.topic in _OF_A_SPACE:
        return alarm.space
    return f"{alarm.craft or alarm.space}/{alarm.part}#{definition.hazard}"


def entries_of(
    alarms: Iterable[Alarm],
    assessments: Mapping[str, Assessment | None],
    craft: Mapping[str, StoredCraft],
    definitions: Mapping[str, Definition],
    departed: Mapping[str, DepartedCraft] = MappingProxyType({}),
) -> list[Entry]:
    """Join alarms with the judgements behind them.

    Parameters
    ----------
    alarms : iterable of Alarm
    assessments : mapping of Assessment by alarm id
    craft : mapping of StoredCraft by id
        In the yard's care now.
    definitions : mapping of Definition by cause
    departed : mapping of DepartedCraft by id, optional
        Craft that left with an alarm open, as they stood then.
    """
    stood = {**craft, **{key: one.craft for key, one in departed.items()}}
    return [
        Entry(
            alarm=alarm,
            definition=definitions[alarm.cause],
            assessment=assessments.get(alarm.id),
            craft=stood.get(alarm.craft),
            left_at=departed[alarm.craft].left_at if alarm.craft in departed else None,
        )
        for alarm in alarms
        if alarm.cause in definitions
    ]
