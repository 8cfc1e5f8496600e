"""The part of the yard's file that says who is told, how, and after how long."""

from datetime import time, timedelta
from typing import TYPE_CHECKING, Annotated

from pydantic import Field

from monitor.craft.plan.yard import CREW
from monitor.settings.faults import Block
from monitor.settings.words import Id, Text, TimeOfDay, WebAddress, Weekday
from monitor.yard.alarm import Priority
from monitor.yard.duty import Duty, OwnerTelling, Shift, Span
from monitor.yard.space import Role

if TYPE_CHECKING:
    from monitor.alarms.definitions import Adjustment

Hours = Annotated[float, Field(ge=0, le=24 * 14)]
Hands = Annotated[int, Field(ge=1, le=100)]

_WEEKDAYS: tuple[Weekday, ...] = (
    "monday",
    "tuesday",
    "wednesday",
    "thursday",
    "friday",
    "saturday",
    "sunday",
)


class SpanBlock(Block):
    """Hours of a day; they may pass midnight."""

    begins: TimeOfDay
    ends: TimeOfDay

    def to_span(self) -> Span:
        """The same as the alarm room uses it."""
        return Span(begins=time.fromisoformat(self.begins), ends=time.fromisoformat(self.ends))


class ShiftBlock(SpanBlock):
    """``[[duty.shifts]]``: hours in which one person is on duty."""

    person: Id
    weekdays: Annotated[frozenset[Weekday], Field(min_length=1)] = frozenset(_WEEKDAYS)
    hands: Hands | None = None


class DutyBlock(Block):
    """``[duty]``: the calendar of duty, and who is called next when nobody acknowledges."""

    shifts: tuple[ShiftBlock, ...] = ()
    next_called: tuple[Id, ...] = ()
    hands: Hands = CREW

    def to_duty(self) -> Duty:
        """The same as the alarm room uses it."""
        return Duty(
            shifts=tuple(
                Shift(
                    person=shift.person,
                    hours=shift.to_span(),
                    weekdays=frozenset(_WEEKDAYS.index(day) for day in shift.weekdays),
                    hands=shift.hands,
                )
                for shift in self.shifts
            ),
            next_called=self.next_called,
            hands=self.hands,
        )


class OwnersBlock(Block):
    """``[owners]``: when owners are written to, after how long without an answer, and of whom."""

    begins: TimeOfDay = "08:00"
    ends: TimeOfDay = "20:00"
    without_answer_h: Annotated[float, Field(ge=0, le=24)] = 3.0
    name_staff: bool = False

    def to_telling(self) -> OwnerTelling:
        """The same as the alarm room uses it."""
        return OwnerTelling(
            hours=Span(begins=time.fromisoformat(self.begins), ends=time.fromisoformat(self.ends)),
            without_answer=timedelta(hours=self.without_answer_h),
            names_staff=self.name_staff,
        )


class AlarmBlock(Block):
    """``[alarms.CAUSE]``: what this yard sets differently for one cause of alarm."""

    on_delay_h: Hours | None = None
    off_delay_h: Hours | None = None
    ask_again_after_h: Hours | None = None
    clears_above_k: Annotated[float, Field(ge=0, le=20)] | None = None
    priority: Priority | None = None
    tells: Annotated[frozenset[Role], Field(min_length=1)] | None = None

    def to_adjustment(self) -> "Adjustment":
        """The same as the alarm room uses it."""
        from monitor.alarms.definitions import Adjustment

        return Adjustment(
            on_delay=_timedelta_of(self.on_delay_h),
            off_delay=_timedelta_of(self.off_delay_h),
            realarm=_timedelta_of(self.ask_again_after_h),
            clears_above_k=self.clears_above_k,
            priority=self.priority,
            tells=self.tells,
        )


class AnnunciatorBlock(Block):
    """``[annunciator]``: the retained topic that a lamp or siren at the yard follows."""

    topic: Annotated[Text, Field(pattern=r"^[^#+$][^#+]*[^#+/]$")]
    username: Text | None = None  # of a connection of its own; the password is [broker]'s


class PingBlock(Block):
    """``[ping]``: an outside address that misses us when we are dead."""

    url: WebAddress
    every_s: Annotated[float, Field(ge=30, le=86400)] = 300.0


def _timedelta_of(value: float | None) -> timedelta | None:
    return None if value is None else timedelta(hours=value)
