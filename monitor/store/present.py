"""The present judgements in few bytes, and whether a person would see that they changed.

Circuits that are equal share one judgement (`Assessment.of_others`), so it is kept once, with the
list of those it is of. What a person sees is coarse: a tenth of a degree, a minute. Judgements
that differ by less are the same picture, and writing it anew would tell nobody anything; figures
that moved by little more are written once a minute. This process itself is fed from memory.
"""

import json
import zlib
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from datetime import datetime
from enum import Enum, IntEnum
from hashlib import blake2b
from math import isfinite
from operator import itemgetter
from threading import Lock
from typing import Any

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel, ConfigDict, model_validator

from monitor.store.earlier_facts import with_facts
from monitor.yard.assessment import Assessment, Hazard, Standing, Subject, WorkTurn

_LEVEL = 6  # a hundredth longer than at 9, in half of the time
PICTURE_EVERY_MS = 15_000
TIME_EVERY_MS = 60_000
# Numbers that run on with the clock alone; the times that they lead to stand beside them.
_RUNNING = ("_in_h", "quiet_s", "unknown_share", "age_h", "done_in_h")
_NOT_HEARD = frozenset({Standing.SILENT, Standing.NOT_KNOWN})
_OF_EACH = frozenset({"subject", "turn"})
_SHARED = itemgetter(*(each.name for each in fields(Assessment) if each.name not in _OF_EACH))
_OF_NO_SIGHT = frozenset({"at", "turn", "subject"})  # named once a subject, or running
_WHOLE = ("_pct", "_ms", "_s")  # read without decimals, by the ending of a name; else with one
_SECONDS_SEEN = {
    "heard_at": 900.0,  # of a sensor that is heard: silence is a standing
    "low_at": 900.0,  # told as "about": two hours that are as cold change places with the noise
}
_UNITS_SEEN = {"reading_c": 1.0}  # of a step: chosen by whole degrees
_SPANS_SEEN = {"interval_s": 0.1}  # as a share of it; told in minutes
_SHARE_SEEN = 0.02  # of the time until then
_MOVES_AS_FIGURES = frozenset({"coldest_sensor", "open_to_outside"})
_CLEAR_UNITS = 10.0


class _JudgementAlone(BaseModel):
    model_config = ConfigDict(ser_json_inf_nan="strings")  # NaN and infinity are meant
    judgement: Assessment


class _Subjects(BaseModel):
    model_config = ConfigDict(ser_json_inf_nan="strings")
    subjects: list[tuple[Subject, WorkTurn | None]]


class JudgementGroup(_JudgementAlone, _Subjects):
    """One judgement, and everything that it is of."""


class _Picture(BaseModel):
    model_config = ConfigDict(ser_json_inf_nan="strings")
    groups: list[JudgementGroup]

    @model_validator(mode="before")
    @classmethod
    def _read_earlier_program(cls, stored: dict[str, Any]) -> dict[str, Any]:
        """What a program before this one left, once it has been replaced."""
        groups = stored["groups"]
        if not all(isinstance(each, dict) for each in groups):
            return stored
        read = [each | {"judgement": with_facts(each["judgement"])} for each in groups]
        return stored | {"groups": read}


def group_equal(judged: Iterable[Assessment]) -> list[JudgementGroup]:
    """Gather judgements that differ in subject and turn alone, in the order of the first of each.

    Those that `Assessment.of_others` made of one share the objects of all its other fields.
    """
    groups: dict[tuple[int, ...], JudgementGroup] = {}
    for one in judged:
        key = tuple(map(id, _SHARED(one.__dict__)))
        known = groups.get(key)
        if known is None:
            known = groups[key] = JudgementGroup.model_construct(judgement=one, subjects=[])
        known.subjects.append((one.subject, one.turn))
    return list(groups.values())


def pack_groups(groups: Sequence[JudgementGroup]) -> bytes:
    """Write groups as compressed JSON; digits that no sensor can tell would not compress."""
    return zlib.compress(f'{{"groups":[{",".join(map(_as_json, groups))}]}}'.encode(), _LEVEL)


def _as_json(group: JudgementGroup) -> str:
    judgement = _rounded_json(_JudgementAlone.model_construct(judgement=group.judgement))
    named = _Subjects.model_construct(subjects=group.subjects)
    # Thousands of subjects may hold no number that would have to be rounded.
    any_turn = any(turn is not None for _, turn in group.subjects)
    subjects = _rounded_json(named) if any_turn else named.model_dump_json()
    return f"{judgement[:-1]},{subjects[1:]}"  # two objects made one


def _rounded_json(of: BaseModel) -> str:
    rounded = json.loads(of.model_dump_json(), parse_float=_rounded)
    return json.dumps(rounded, separators=(",", ":"))


def pad_to_block(packed: bytes) -> bytes:
    """Fill up to a whole number of kibibytes, so that most pictures have the length of before.

    SQLite then overwrites in place; else it frees pages, takes others, and writes the list of both.
    """
    return packed + bytes(-len(packed) % 1024)


def _rounded(number: str) -> float:
    return round(float(number), 3)


def unpack_judgements(packed: bytes, at: datetime) -> list[Assessment]:
    """Read what `pack_groups` wrote: one judgement a subject, as it stood at a later time."""
    written = zlib.decompressobj().decompress(packed)  # which passes over what pads it
    picture = _Picture.model_validate_json(written)
    return [
        each
        for group in picture.groups
        for each in replace(group.judgement, at=at).of_others(group.subjects)
    ]


class Difference(IntEnum):
    """How much a person sees of what differs between two pictures."""

    NONE = 0
    SLIGHT = 1  # a figure has moved by a unit or two of its last digit: it may wait a minute
    CLEAR = 2


@dataclass(frozen=True, slots=True)
class VisiblePicture:
    """What a person sees of judgements: their figures, and a digest of all else.

    Each figure has a unit, the least by which a person sees it move: 0.1 K, 1 %, a minute, of an
    hour that is still far off a fiftieth of the time until then. A change is measured from what was
    written, not by how it is rounded: a sensor's noise around the edge of a digit would else be
    news in each round.
    """

    digest: bytes = b""
    slight: bytes = b""  # of what is read with the figures and moves as they do
    figures: NDArray[np.float64] = field(default_factory=lambda: np.zeros(0))
    units: NDArray[np.float64] = field(default_factory=lambda: np.zeros(0))

    @classmethod
    def of_groups(cls, groups: Sequence[JudgementGroup]) -> "VisiblePicture":
        """The picture that judgements give."""
        seen = _Seen()
        for group in groups:
            seen.at = group.judgement.at
            for name, value in group.judgement.__dict__.items():
                if name not in _OF_NO_SIGHT:
                    seen.add(name, value)
            for subject, turn in group.subjects:
                late = None if turn is None else turn.too_late
                seen.named.append((subject.space, subject.craft, subject.part, late))
                if turn is not None:
                    seen.add_figure(float(turn.order), 1.0)
        return cls(
            _digest(seen.named),
            _digest(seen.slight),
            np.array(seen.figures),
            np.array(seen.units),
        )

    def difference_from(self, other: "VisiblePicture") -> Difference:
        """How much of it a person sees to differ from another."""
        if self.digest != other.digest or self.figures.shape != other.figures.shape:
            return Difference.CLEAR
        units = np.maximum(self.units, other.units)
        moved = float((np.abs(self.figures - other.figures) / units).max(initial=0.0))
        if moved >= _CLEAR_UNITS:
            return Difference.CLEAR
        if moved >= 1.0 or self.slight != other.slight:
            return Difference.SLIGHT
        return Difference.NONE


class _Seen:
    """Judgements taken apart into figures and all else, in one order."""

    def __init__(self) -> None:
        self.at: datetime | None = None  # of the judgement that comes next
        self.named: list[object] = []
        self.slight: list[object] = []
        self.figures: list[float] = []
        self.units: list[float] = []

    def add_figure(self, value: float, unit: float) -> None:
        """Add a figure with the least by which a person sees it move."""
        self.figures.append(value)
        self.units.append(unit)

    def add(self, name: str, value: Any) -> None:  # noqa: ANN401 - any field of any facts
        """Add a value as finely as a person reads it; none that only runs on with the clock."""
        if isinstance(value, float):
            if name.endswith(_RUNNING):
                return
            if isfinite(value):
                self.add_figure(value, _unit_seen(name, value))
            else:
                self.named.append(repr(value))
        elif isinstance(value, datetime):
            ahead_s = 0.0 if self.at is None else abs((value - self.at).total_seconds())
            unit_s = _SECONDS_SEEN.get(name, max(60.0, _SHARE_SEEN * ahead_s))
            self.add_figure(value.timestamp(), unit_s)
        elif isinstance(value, dict):
            for key, each in value.items():
                self.named.append(key)
                self.add(key, each)
        elif isinstance(value, tuple):
            self.named.append(len(value))
            for each in value:
                self.add(name, each)
        elif slots := getattr(value, "__slots__", None):
            for key in slots:
                self.add(key, getattr(value, key))
        elif name in _MOVES_AS_FIGURES:
            self.slight.append(value)
        else:
            self.named.append(value)


def _unit_seen(name: str, value: float) -> float:
    """The least by which a person sees a figure of that name move."""
    if name in _SPANS_SEEN:
        return max(60.0, _SPANS_SEEN[name] * abs(value))
    return _UNITS_SEEN.get(name, 1.0 if name.endswith(_WHOLE) else 0.1)


def _digest(values: list[object]) -> bytes:
    return blake2b(repr(values).encode(), digest_size=16).digest()


SubjectKey = tuple[Hazard, str, str, str]  # hazard, space, craft, part


def key_of_subject(one: Assessment) -> SubjectKey:
    """What a judgement is of."""
    subject = one.subject
    return (one.hazard, subject.space, subject.craft, subject.part)


@dataclass(frozen=True, slots=True)
class WatchSeen:
    """What judgements say of the watch itself: when they were made, and who is not heard."""

    at: datetime | None = None  # None: nothing is judged
    silent: tuple[str, ...] = ()  # sensors, in order

    @classmethod
    def of_judgements(cls, judged: Iterable[Assessment]) -> "WatchSeen":
        """Gather it from all judgements."""
        at, silent = None, []
        for one in judged:
            at = one.at if at is None or one.at > at else at
            if one.hazard is Hazard.SILENCE and one.standing in _NOT_HEARD:
                silent.append(one.subject.part)
        return cls(at, tuple(sorted(silent)))


class PresentPicture:
    """The newest judgements of one yard, in the memory of the process that made them.

    Readers in that process are fed from here; a reader elsewhere reads the row that is written
    when a person would see a difference. It changes only once what goes with it is committed.
    """

    def __init__(self) -> None:
        self._lock = Lock()
        self._at_ms = -1
        self._judged: list[Assessment] = []
        self._standings: dict[SubjectKey, Standing] = {}
        self._watch = WatchSeen()
        self._watch_at_ms: int | None = None  # of the row that another process wrote
        self._visible = VisiblePicture()
        self._written_ms = -1
        self._timed_ms = -1

    def newer_than(self, at_ms: int) -> list[Assessment] | None:
        """The judgements made in this process, if they are not older than a time."""
        with self._lock:
            return list(self._judged) if self._at_ms >= at_ms and self._at_ms >= 0 else None

    def some_newer_than(
        self, at_ms: int, spaces: Iterable[str], craft: str | None
    ) -> list[Assessment] | None:
        """Those of one craft in some spaces, or all in them; looked up, not gone through."""
        with self._lock:
            if not self._at_ms >= at_ms or self._at_ms < 0:
                return None
            found: list[Assessment] = []
            until = _LAST if craft is None else craft
            for space in spaces:
                first = bisect_left(self._judged, (space, craft or ""), key=_space_and_craft)
                last = bisect_right(self._judged, (space, until), key=_space_and_craft)
                found += self._judged[first:last]
            return found

    def standings_newer_than(self, at_ms: int) -> Mapping[SubjectKey, Standing] | None:
        """How each subject stands by the judgements of this process, if not older than a time."""
        with self._lock:
            return self._standings if self._at_ms >= at_ms and self._at_ms >= 0 else None

    def watch_at(self, at_ms: int | None) -> WatchSeen | None:
        """What the newest judgements say of the watch; None where nobody has gathered it yet.

        ``at_ms`` is the time of the row that is there, None where none is.
        """
        with self._lock:
            if at_ms is None:
                return self._watch if self._at_ms >= 0 else None
            is_newest = self._watch_at_ms == at_ms or self._at_ms >= at_ms
            return self._watch if is_newest else None

    def keep_watch(self, seen: WatchSeen, at_ms: int | None) -> None:
        """Keep what was gathered of the row that was written at a time."""
        with self._lock:
            if self._at_ms < 0:
                self._watch, self._watch_at_ms = seen, at_ms

    def is_due(self, at_ms: int, stored_ms: int | None, *, urgent: bool) -> bool:
        """Whether a picture or its time might have to be written; False: it is too soon for both.

        ``stored_ms`` is the time of the row that is there: another one than was written here last
        says that another process wrote since.
        """
        with self._lock:
            return (
                self._must_write(stored_ms, urgent=urgent)
                or _has_passed(PICTURE_EVERY_MS, self._written_ms, at_ms)
                or _has_passed(TIME_EVERY_MS, self._timed_ms, at_ms)
            )

    def due(
        self, visible: VisiblePicture, at_ms: int, stored_ms: int | None, *, urgent: bool
    ) -> "Due":
        """What of a picture is to be written: all of it, its time alone, or nothing yet."""
        with self._lock:
            if self._must_write(stored_ms, urgent=urgent):
                return Due.PICTURE
            change = visible.difference_from(self._visible)
            if change is not Difference.NONE and _has_passed(
                _EVERY_MS[change], self._written_ms, at_ms
            ):
                return Due.PICTURE
            if _has_passed(TIME_EVERY_MS, self._timed_ms, at_ms):
                return Due.TIME
            return Due.NOTHING

    def _must_write(self, stored_ms: int | None, *, urgent: bool) -> bool:
        return urgent or stored_ms is None or stored_ms != self._timed_ms

    def take(self, new: "NewPicture") -> None:
        """Put newer judgements in place, and remember what was written of them."""
        watch = WatchSeen.of_judgements(new.judged)
        with self._lock:
            self._judged, self._at_ms = new.judged, new.at_ms
            self._watch, self._watch_at_ms = watch, None
            self._standings = new.standings
            if new.written is not Due.NOTHING:
                self._timed_ms = new.at_ms
            if new.written is Due.PICTURE:
                self._visible, self._written_ms = new.visible, new.at_ms


_LAST = "\U0010ffff"  # behind every id


def _space_and_craft(one: Assessment) -> tuple[str, str]:
    return one.subject.space, one.subject.craft


_EVERY_MS = {Difference.SLIGHT: TIME_EVERY_MS, Difference.CLEAR: PICTURE_EVERY_MS}


def _has_passed(span_ms: int, since_ms: int, at_ms: int) -> bool:
    """Whether so long has passed; a clock that was set back counts as time passed."""
    return not 0 <= at_ms - since_ms < span_ms


class Due(Enum):
    """What of a round's picture has to be written."""

    PICTURE = 1
    TIME = 2  # nothing a person sees has changed: only that it was judged again
    NOTHING = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class NewPicture:
    """What one transaction makes of a picture, for whoever commits it."""

    judged: list[Assessment]
    standings: dict[SubjectKey, Standing]
    at_ms: int
    written: Due = Due.NOTHING
    visible: VisiblePicture = field(default_factory=VisiblePicture)
