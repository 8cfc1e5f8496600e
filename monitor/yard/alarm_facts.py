"""What an alarm and each change of it say, as facts; words are made of them when read."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Literal

from monitor.yard.assessment import Severity


class Blindness(StrEnum):
    """Why nobody can tell whether the cause of an alarm still holds."""

    NO_READING = "no reading"
    CHARGE_NOT_TOLD = "charge not told"  # by the voltage that is heard


@dataclass(frozen=True, slots=True, kw_only=True)
class FinishedLine:
    """A finished line: what a person said, or what an earlier program wrote."""

    form: Literal["text"] = "text"
    text: str

    @property
    def subject(self) -> str:
        """What it is about; earlier programs wrote that before a colon."""
        return self.text.partition(":")[0]


@dataclass(frozen=True, slots=True, kw_only=True)
class HeadlineFacts:
    """What the line of an alarm tells beside its cause. None: not known, or not told."""

    form: Literal["headline"] = "headline"
    subject: str  # craft or space and part, as people called them then
    blind: Blindness | None = None
    ahead: bool = False  # of dew: a forecast has it come
    deadline: datetime | None = None
    begun: bool = False  # what the deadline is of
    past: bool = False  # it may have come, and nobody has looked since
    low_c: float | None = None
    ice_point_c: float | None = None


Headline = HeadlineFacts | FinishedLine


class Change(StrEnum):
    """Why an alarm changed."""

    RAISED = "raised"
    BLIND = "blind"
    BACK = "back"
    WORSE = "worse"
    STILL_THERE = "still there"
    GONE = "gone"
    MADE_SAFE = "made safe"  # by a person: treated, drained, or carried elsewhere
    SUBJECT_LEFT = "subject left"
    NOTHING_LEFT = "nothing left"
    SUPPRESSED = "suppressed"
    UNSUPPRESSED = "unsuppressed"
    UNSUPPRESSED_GONE = "unsuppressed, gone"
    SHELVED = "shelved"
    SHELF_ENDED = "shelf ended"
    SHELF_ENDED_GONE = "shelf ended, gone"


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeFacts:
    """One change of an alarm."""

    form: Literal["change"] = "change"
    change: Change
    headline: HeadlineFacts | None = None  # of one that was raised
    since: datetime | None = None
    until: datetime | None = None
    before: Severity | None = None
    now: Severity | None = None
    said: str = ""  # by the person who did it; of a suppressed one, what forbids it


Reason = ChangeFacts | FinishedLine
