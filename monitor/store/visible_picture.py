"""What a person sees of judgements, and how much of it differs from what was written before.

What a person sees is coarse: a tenth of a degree, a minute. Judgements that differ by less are the
same picture, and writing it anew would tell nobody anything.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from enum import IntEnum
from hashlib import blake2b
from math import isfinite
from typing import Any

import numpy as np
from numpy.typing import NDArray

from monitor.store.packed_judgements import JudgementGroup

# Numbers that run on with the clock alone; the times that they lead to stand beside them.
_RUNNING = ("_in_h", "quiet_s", "unknown_share", "age_h", "done_in_h")
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
