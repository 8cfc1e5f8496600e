"""What the alarm room remembers between rounds: waiting causes, threads, dangers that ended."""

from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from math import nan

from monitor.craft.stored import StoredCraft
from monitor.yard.alarm import Alarm
from monitor.yard.assessment import Severity

_WRITTEN_TO = timedelta(minutes=1)  # people write the hours of their work to the minute


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeSafe:
    """A craft that people were told of and that is in no danger any more."""

    craft: str
    name: str  # as people called it then
    at: datetime
    by: str = ""  # whose work it was, an id or a name; empty: nobody's, the weather turned
    cause: str = ""  # of the alarm that is over; empty: an older store did not keep it


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftYard:
    """A craft that people were told of and that left the yard's care with that alarm open."""

    craft: str
    name: str  # as people called it then
    at: datetime
    iced: bool = False  # ice had been in it, and nobody had looked into it by then


def what_made_safe(alarm: Alarm, craft: StoredCraft | None) -> MadeSafe:
    """Who made the craft of an alarm safe that is over, and when.

    Parameters
    ----------
    alarm : Alarm
    craft : StoredCraft or None
        As it stands now; None where it has left the yard's care.

    Returns
    -------
    MadeSafe
        By the last work since the alarm was raised; else by the move; else by the weather, when
        the alarm cleared.
    """
    name = alarm.craft if craft is None else craft.name
    ended = alarm.cleared_at or alarm.changed_at
    start = None if craft is None else craft.plan_start
    raised = alarm.raised_at - _WRITTEN_TO
    work = [] if start is None else [e for e in start.entries if raised <= e.at <= ended]
    if work:
        last = max(work, key=lambda one: one.at)
        return MadeSafe(craft=alarm.craft, name=name, at=last.at, by=last.by, cause=alarm.cause)
    moved = None if craft is None else craft.since
    if moved is not None and alarm.raised_at <= moved <= ended:
        return MadeSafe(craft=alarm.craft, name=name, at=moved, cause=alarm.cause)
    return MadeSafe(craft=alarm.craft, name=name, at=ended, cause=alarm.cause)


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class WatchKey:
    """One cause over one subject. A craft keeps its alarms when it moves, so its space is left out.

    Invariant: either a craft or a space is named, never both.
    """

    cause: str
    craft: str = ""
    space: str = ""
    part: str = ""

    def __post_init__(self) -> None:
        if bool(self.craft) == bool(self.space):
            raise ValueError(f"{self.cause}: name the craft or the space, one of them")

    @classmethod
    def of(cls, alarm: Alarm) -> "WatchKey":
        """The key of what an alarm is about."""
        return cls(
            cause=alarm.cause,
            craft=alarm.craft,
            space="" if alarm.craft else alarm.space,
            part=alarm.part,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Watch:
    """Since when a cause holds or not, and what must outlive a restart.

    At most one of ``true_since`` and ``false_since`` is set; neither while nobody can tell.
    """

    key: WatchKey
    true_since: datetime | None = None
    false_since: datetime | None = None
    blind_since: datetime | None = None  # its input has gone bad
    alarm: str = ""  # id of the alarm it raised last
    cleared_at: datetime | None = None  # when that alarm's condition last cleared
    comebacks: int = 0  # how often it came back soon after it had cleared
    raised_space: str = ""  # where the subject stood when it was raised
    raised_limit_c: float = nan  # what it could stand then
    answered_at: datetime | None = None  # last acknowledged
    answered_severity: Severity | None = None  # how bad it was then
    until: datetime | None = None  # shelved until

    def __post_init__(self) -> None:
        if self.true_since is not None and self.false_since is not None:
            raise ValueError(f"{self.key}: a cause cannot hold and not hold at one time")


@dataclass(frozen=True, slots=True, kw_only=True)
class NotifiedDanger:
    """The worst that a person was notified of, of one danger."""

    rank: int  # how bad it stood; the higher the worse; 0: in an earlier spell, or dealt with
    deadline: datetime | None = None
    about: str = ""  # the craft, space or sensor that is in danger
    night: date | None = None  # evening of the last night in which it stood as bad as told
    job: tuple[str, ...] = ()  # the steps that were asked for, where its craft has a plan


@dataclass(frozen=True, slots=True, kw_only=True)
class Conversation:
    """One topic told to one person: its thread of messages, from the first word to the all clear.

    ``told`` is keyed by the danger that a message told of: of a craft each circuit for itself.
    (An older store has the craft as the key, and neither ``about`` nor ``night``.)
    """

    thread: str
    person: str
    topic: str
    opened_at: datetime
    count: int = 0  # messages written so far
    sent: tuple[datetime, ...] = ()  # when those of the last day were written
    told: dict[str, NotifiedDanger] = field(default_factory=dict)
    closed_at: datetime | None = None
    owner: bool = False  # told as the owner of a craft, who answers no alarm of the yard's
    called_after: tuple[str, ...] = ()  # people who were told before and did not answer
    reminded: int = 0
    along: tuple[str, ...] = ()  # threads whose news went along in letters of this one
    safe: tuple[MadeSafe, ...] = ()  # since the last letter, which the next one tells
    left: tuple[LeftYard, ...] = ()  # the same of craft that nobody watches any more

    def tells_of(self, about: str) -> bool:
        """Whether it has told of any danger to one craft, space or sensor."""
        return about in self.told or any(each.about == about for each in self.told.values())
