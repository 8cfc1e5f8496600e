"""The present judgements in few bytes, and whether a person would see that they changed.

Circuits that are equal share one judgement (`Assessment.of_others`), so it is kept once, with the
list of those it is of. What a person sees is rounded: a tenth of a degree, a minute. Judgements
that differ by less are the same picture, and writing it anew would tell nobody anything.
"""

import json
import zlib
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import datetime
from enum import Enum
from hashlib import blake2b
from threading import Lock
from typing import Any

from pydantic import BaseModel, ConfigDict

from monitor.yard.assessment import Assessment, Subject, WorkTurn

PICTURE_EVERY_MS = 15_000
TIME_EVERY_MS = 60_000
# Numbers that run on with the clock alone; the times that they lead to stand beside them.
_RUNNING = ("_in_h", "quiet_s", "unknown_share", "age_h", "done_in_h")
_OF_EACH = frozenset({"subject", "turn"})
_COARSE = {"_pct": 0, "_ms": 0, "_s": 0}  # decimals by the ending of a name; one else


class JudgementGroup(BaseModel):
    """One judgement, and everything that it is of. NaN and infinity are meant."""

    model_config = ConfigDict(ser_json_inf_nan="strings")
    judgement: Assessment
    subjects: list[tuple[Subject, WorkTurn | None]]


class _Picture(BaseModel):
    model_config = ConfigDict(ser_json_inf_nan="strings")
    groups: list[JudgementGroup]


def group_equal(judged: Iterable[Assessment]) -> list[JudgementGroup]:
    """Gather judgements that differ in subject and turn alone, in the order of the first of each.

    Those that `Assessment.of_others` made of one share the objects of all its other fields.
    """
    groups: dict[tuple[int, ...], JudgementGroup] = {}
    for one in judged:
        fields = one.__dict__
        key = tuple(id(value) for name, value in fields.items() if name not in _OF_EACH)
        known = groups.get(key)
        if known is None:
            known = groups[key] = JudgementGroup.model_construct(judgement=one, subjects=[])
        known.subjects.append((one.subject, one.turn))
    return list(groups.values())


def pack_groups(groups: Sequence[JudgementGroup]) -> bytes:
    """Write groups as compressed JSON; digits that no sensor can tell would not compress."""
    picture = _Picture.model_construct(groups=list(groups))
    rounded = json.loads(picture.model_dump_json(), parse_float=_rounded)
    return zlib.compress(json.dumps(rounded, separators=(",", ":")).encode(), 9)


def _rounded(number: str) -> float:
    return round(float(number), 3)


def unpack_judgements(packed: bytes, at: datetime) -> list[Assessment]:
    """Read what `pack_groups` wrote: one judgement a subject, as it stood at a later time."""
    picture = _Picture.model_validate_json(zlib.decompress(packed))
    return [
        each
        for group in picture.groups
        for each in replace(group.judgement, at=at).of_others(group.subjects)
    ]


def visible_digest(groups: Sequence[JudgementGroup]) -> bytes:
    """Digest of all that a person sees of judgements, as finely as a person sees it."""
    digest = blake2b(digest_size=16)
    for group in groups:
        seen = group.judgement.__dict__ | {"at": None, "turn": None, "subject": None}
        digest.update(repr(_as_seen("", seen)).encode())
        for subject, turn in group.subjects:
            order = None if turn is None else (turn.order, turn.too_late)
            digest.update(repr((subject.space, subject.craft, subject.part, order)).encode())
    return digest.digest()


def _as_seen(name: str, value: Any) -> object:  # noqa: ANN401 - any field of any facts
    """A value as finely as a person reads it; None for what only runs on with the clock."""
    if isinstance(value, float):
        if name.endswith(_RUNNING):
            return None
        decimals = next((n for end, n in _COARSE.items() if name.endswith(end)), 1)
        return round(value, decimals)
    if isinstance(value, datetime):
        return int(value.timestamp() // 60)
    if isinstance(value, dict):
        return [(key, _as_seen(key, each)) for key, each in value.items()]
    slots = getattr(value, "__slots__", None)
    if slots:
        return [(key, _as_seen(key, getattr(value, key))) for key in slots]
    return value


class PresentPicture:
    """The newest judgements of one yard, in the memory of the process that made them.

    Readers in that process are fed from here; a reader elsewhere reads the row that is written
    when a person would see a difference.
    """

    def __init__(self) -> None:
        self._lock = Lock()
        self._at_ms = -1
        self._judged: list[Assessment] = []
        self._digest = b""
        self._written_ms = -1
        self._timed_ms = -1

    def newer_than(self, at_ms: int) -> list[Assessment] | None:
        """The judgements made in this process, if they are not older than a time."""
        with self._lock:
            return list(self._judged) if self._at_ms >= at_ms and self._at_ms >= 0 else None

    def show(self, judged: list[Assessment], at_ms: int) -> None:
        """Put newer judgements in place, for readers of this process."""
        with self._lock:
            self._judged, self._at_ms = judged, at_ms

    def due(self, digest: bytes, at_ms: int, stored_ms: int | None, *, urgent: bool) -> "Due":
        """What of a picture is to be written: all of it, its time alone, or nothing yet.

        ``stored_ms`` is the time of the row that is there: another one than was written here last
        says that its transaction failed, or that another process wrote since.
        """
        with self._lock:
            if urgent or stored_ms is None or stored_ms != self._timed_ms:
                return Due.PICTURE
            # A clock that was set back counts as time passed.
            if digest != self._digest and not 0 <= at_ms - self._written_ms < PICTURE_EVERY_MS:
                return Due.PICTURE
            if not 0 <= at_ms - self._timed_ms < TIME_EVERY_MS:
                return Due.TIME
            return Due.NOTHING

    def was_written(self, what: "Due", digest: bytes, at_ms: int) -> None:
        """Remember what was written last, and when."""
        with self._lock:
            self._timed_ms = at_ms
            if what is Due.PICTURE:
                self._digest, self._written_ms = digest, at_ms


class Due(Enum):
    """What of a round's picture has to be written."""

    PICTURE = 1
    TIME = 2  # nothing a person sees has changed: only that it was judged again
    NOTHING = 3
