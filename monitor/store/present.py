"""The present judgements of one yard, as the process that made them has them in its memory.

A reader elsewhere reads the row that is written when a person would see a difference: figures that
moved by little more are written once a minute. This process itself is fed from memory.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from enum import Enum
from threading import Lock

from monitor.store.visible_picture import Difference, VisiblePicture
from monitor.yard.assessment import Assessment, Hazard, Standing

PICTURE_EVERY_MS = 15_000
TIME_EVERY_MS = 60_000
_NOT_HEARD = frozenset({Standing.SILENT, Standing.NOT_KNOWN})

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
