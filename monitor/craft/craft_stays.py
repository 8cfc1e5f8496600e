"""A craft in the yard's care: where it stood from when on, and when it was in the yard at all."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import pairwise

from monitor.craft.circuit import Circuit
from monitor.craft.layup import LEAVES, Act, LayupEntry
from monitor.errors import BadValueError


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredLag:
    """A time constant fitted from a probe on this very craft; it takes the estimate's place."""

    circuit: str
    low_h: float
    high_h: float
    how: str  # which probe, when, how good the fit

    def __post_init__(self) -> None:
        if not 0.0 < self.low_h <= self.high_h:
            raise BadValueError(
                f"measured lag of {self.circuit}: {self.low_h:g} to {self.high_h:g} h",
                "it must be above 0, the low end first",
            )
        if not self.how.strip():
            raise ValueError(f"measured lag of {self.circuit}: say how it was measured")


@dataclass(frozen=True, slots=True, kw_only=True)
class Craft:
    """One craft in the yard's care.

    Invariant: times have a zone; it does not leave before it came.
    """

    id: str
    name: str
    profile: str
    arrived_at: datetime
    fittings: tuple[str, ...] = ()  # further profiles whose circuits it carries
    owner: str = ""
    hull_number: str = ""
    left_at: datetime | None = None
    measured: tuple[MeasuredLag, ...] = ()
    note: str = ""

    def __post_init__(self) -> None:
        for time in (self.arrived_at, self.left_at):
            if time is not None and time.tzinfo is None:
                raise BadValueError(
                    f"craft {self.id}: {time.isoformat()} has no zone",
                    "add an offset",
                )
        if self.left_at is not None and self.left_at < self.arrived_at:
            raise ValueError(f"craft {self.id}: left on {self.left_at} before it arrived")


@dataclass(frozen=True, slots=True, kw_only=True)
class Stay:
    """From ``since`` on the craft stands here, until its next stay begins."""

    craft: str
    since: datetime
    space: str
    berth: str = ""
    by: str = ""

    def __post_init__(self) -> None:
        if self.since.tzinfo is None:
            raise ValueError(f"stay of {self.craft}: {self.since.isoformat()} has no zone")
        if not self.space:
            raise ValueError(f"stay of {self.craft} on {self.since.isoformat()}: in no space")


@dataclass(frozen=True, slots=True, kw_only=True)
class Shelter:
    """What the record must know of a space: its name, and whether it is kept warm."""

    name: str
    heated: bool


def stay_at(stays: tuple[Stay, ...], at: datetime) -> Stay | None:
    """Where the craft stood at that time; None before its first stay."""
    begun = [stay for stay in stays if stay.since <= at]
    return max(begun, key=lambda stay: stay.since) if begun else None


def moves_into_cold(
    stays: tuple[Stay, ...], shelters: Mapping[str, Shelter], at: datetime
) -> list[tuple[Shelter, Stay]]:
    """Moves out of a heated space into one that is not, by that time: what it left, and where to.

    A space that is not in ``shelters`` counts as cold.
    """
    ordered = sorted((stay for stay in stays if stay.since <= at), key=lambda stay: stay.since)
    found = []
    for before, after in pairwise(ordered):
        left, entered = shelters.get(before.space), shelters.get(after.space)
        if left is not None and left.heated and not (entered is not None and entered.heated):
            found.append((left, after))
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Interval:
    """A time in the yard: ``since <= at < until``; until None: it has not left."""

    since: datetime
    until: datetime | None = None

    def holds(self, at: datetime) -> bool:
        """Whether that time lies in it."""
        return self.since <= at and (self.until is None or at < self.until)


def intervals_in_yard(craft: Craft, entries: Iterable[LayupEntry]) -> tuple[Interval, ...]:
    """Every time that a craft was in the yard, in order.

    Parameters
    ----------
    craft : Craft
        Its first arrival, and the day on which its list says that it left.
    entries : iterable of LayupEntry
        Those that stand; of them only leaving and coming back matter. A craft that was entered in
        error is in the yard no more from then on.
    """
    turns = [(craft.arrived_at, True)]
    if craft.left_at is not None:
        turns.append((craft.left_at, False))
    turns.extend(
        (entry.at, entry.act is Act.BROUGHT_BACK)
        for entry in entries
        if entry.act in LEAVES or entry.act is Act.BROUGHT_BACK
    )
    found: list[Interval] = []
    since: datetime | None = None
    for at, comes in sorted(turns):  # of one moment: gone before it is back
        if comes and since is None:
            since = at
        elif not comes and since is not None:
            found.append(Interval(since=since, until=at))
            since = None
    if since is not None:
        found.append(Interval(since=since))
    return tuple(found)


def with_measured_lag(circuit: Circuit, measured: MeasuredLag | None) -> Circuit:
    """Put a time constant fitted from a probe in the estimate's place, and say so."""
    if measured is None:
        return circuit
    return replace(
        circuit,
        lag_low_h=measured.low_h,
        lag_high_h=measured.high_h,
        figures=f"{circuit.figures}; lag measured: {measured.how}",
    )
