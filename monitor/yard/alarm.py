"""An alarm: the ISA-18.2 / IEC 62682 life of one cause over one subject."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import TYPE_CHECKING

from monitor.yard.standing import Certainty, Severity, Urgency

if TYPE_CHECKING:  # settings name priorities, and know no alarm
    from monitor.yard.alarm_facts import Headline, Reason

LAIDUP = "laidup"  # who changed an alarm when no person did


class AlarmState(StrEnum):
    """States of ISA-18.2 / IEC 62682, in the standard's words."""

    NORMAL = "normal"
    UNACKNOWLEDGED = "unacknowledged"
    ACKNOWLEDGED = "acknowledged"
    RETURNED = "returned to normal, unacknowledged"
    SHELVED = "shelved"
    SUPPRESSED = "suppressed by design"
    OUT_OF_SERVICE = "out of service"


ACTIVE = frozenset({AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED})


class Priority(StrEnum):
    """How an alarm ranks for attention."""

    HIGH = "high"
    MEDIUM = "medium"
    LOW = "low"


class Topic(StrEnum):
    """What one thread of messages is about: alarms of one topic are told together."""

    FROST = "frost"
    HEAT = "heat"
    DAMP = "damp"
    BATTERY = "battery"
    SILENCE = "silence"
    PATH = "path"


@dataclass(frozen=True, slots=True, kw_only=True)
class Alarm:
    """One cause over one subject, from when it is raised until it is closed.

    A cold night raises one for each circuit that it may reach; people are told of them together.
    """

    id: str  # stable while the alarm lives; a UUID
    cause: str  # kind of cause: "frost", "sweat", "battery-freezing", "silence", ...
    space: str
    craft: str  # empty: the space itself
    part: str
    state: AlarmState
    priority: Priority
    raised_at: datetime
    changed_at: datetime
    urgency: Urgency
    severity: Severity
    certainty: Certainty
    headline: "Headline"  # `monitor.phrases.alarm_lines` makes a line of it
    deadline: datetime | None = None
    cleared_at: datetime | None = None

    def is_answered(self, given_at: datetime | None) -> bool:
        """Whether people have taken it on, with the last answer that is known.

        One that has got worse since asks them again, and that they took it on stays true. An
        answer from before it was last over says nothing of one that has come back.
        """
        if self.state is not AlarmState.UNACKNOWLEDGED:
            return True
        return given_at is not None and given_at >= (self.cleared_at or self.raised_at)


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmEvent:
    """One change of an alarm, never edited: when, from what to what, by whom, why."""

    alarm: str
    at: datetime
    before: AlarmState
    after: AlarmState
    by: str  # a person's id, or LAIDUP
    why: "Reason"
