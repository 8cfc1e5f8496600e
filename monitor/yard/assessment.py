"""The judgement of one circuit, surface, battery, space or sensor at one time."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from math import nan

from monitor.yard.caution import Caution
from monitor.yard.facts import Facts
from monitor.yard.standing import STANDINGS, Certainty, Hazard, Severity, Standing, Urgency

__all__ = [
    "NOT_KEPT",
    "STANDINGS",
    "Assessment",
    "Caution",
    "Certainty",
    "Hazard",
    "Origin",
    "Severity",
    "Standing",
    "Subject",
    "Urgency",
    "WorkTurn",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Origin:
    """What a judgement was made by; empty where an earlier program kept none of it."""

    program: str = ""  # version
    settings: str = ""  # digest of the yard's file
    profile: str = ""  # digest of the craft's profile and fittings; empty also of a space


NOT_KEPT = Origin()


@dataclass(frozen=True, slots=True, order=True)
class Subject:
    """What is judged: ``space`` alone, or a craft in it and a part of the craft."""

    space: str
    craft: str = ""
    part: str = ""  # circuit, surface, "battery", or a sensor's name


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkTurn:
    """Where an act stands in the yard's work, if its crew does all of it in order."""

    order: int  # 1 comes first; all acts at one craft share one
    minutes: float  # of one person's work there
    done_in_h: float
    too_late: bool  # done only after what it is to prevent


@dataclass(frozen=True, kw_only=True)  # no slots: `of_others` copies all fields at once
class Assessment:
    """One judgement. Every one carries what it rests on and its margin, or says why it has none.

    Times are aware UTC. ``now_c`` is the computed or measured temperature of the subject
    itself, not of the air. A margin above 0 is room left; NaN where there is none to state.
    """

    subject: Subject
    hazard: Hazard
    standing: Standing
    at: datetime
    facts: Facts  # what it rests on; `monitor.phrases` makes sentences of it
    calls_for_act: bool = False  # whether a person should do something
    now_c: float = nan
    low_c: float = nan  # coldest that it is expected to get
    low_at: datetime | None = None
    limit_c: float = nan  # ice point, dew point, electrolyte's freezing point
    burst_c: float = nan
    margin_k: float = nan
    deadline: datetime | None = None  # first ice, first dew: act before
    ends: datetime | None = None  # frozen through, dry again
    urgency: Urgency = Urgency.UNKNOWN
    severity: Severity = Severity.UNKNOWN
    certainty: Certainty = Certainty.UNKNOWN
    cautions: tuple[Caution, ...] = ()
    turn: WorkTurn | None = None  # of those that call for an act

    def __post_init__(self) -> None:
        if self.standing not in STANDINGS[self.hazard]:
            raise ValueError(f"{self.subject}: {self.hazard} is never judged {self.standing}")
        for name in ("at", "low_at", "deadline", "ends"):
            time: datetime | None = getattr(self, name)
            if time is not None and time.tzinfo is None:
                raise ValueError(f"{self.subject}: {name} {time} has no zone")

    def of_others(self, others: Iterable[tuple[Subject, "WorkTurn | None"]]) -> list["Assessment"]:
        """The same judgement of other subjects, each with its own turn in the work.

        Like `dataclasses.replace`, at a fiftieth of its cost: thousands of circuits share a
        judgement but for this, and what was checked once need not be again. The copy of the fields
        shares its names with them, so it takes no more memory than the judgement itself.
        """
        fields, found = self.__dict__.copy(), []
        for subject, turn in others:
            fields["subject"], fields["turn"] = subject, turn
            other = _new_object(Assessment)
            _set_fields(other, fields.copy())
            found.append(other)
        return found


_new_object = object.__new__
_set_fields = vars(Assessment)["__dict__"].__set__  # a frozen one has no other way in
