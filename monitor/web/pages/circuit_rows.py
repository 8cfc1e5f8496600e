"""What a craft's circuits hold, on its page: alike ones together, so that fifteen fit a phone."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from monitor.craft.circuit import Circuit
from monitor.craft.protection import Protection
from monitor.craft.stored import StoredCraft
from monitor.phrases.standings import is_well
from monitor.yard.assessment import Assessment, Standing

_IN_FULL = 2  # circuits that need an eye and stand open one by one


@dataclass(frozen=True, slots=True, kw_only=True)
class CircuitRow:
    """One circuit: what it holds by the record, and how it stands tonight."""

    circuit: Circuit
    held: Protection
    seen: Assessment

    @property
    def holds(self) -> bool:
        """Whether nothing of it needs an eye tonight."""
        return is_well(self.seen)


@dataclass(frozen=True, slots=True, kw_only=True)
class AlikeCircuits:
    """Circuits that hold the same and stand alike; never empty."""

    rows: tuple[CircuitRow, ...]
    in_full: bool  # each with all that is known of it; else one line each that opens

    @property
    def first(self) -> CircuitRow:
        """The worst of them, which also tells what they all hold."""
        return self.rows[0]


def circuit_rows(here: StoredCraft | None, circuits: Iterable[Assessment]) -> list[CircuitRow]:
    """Every circuit of a craft, the worst first; none where it is not in the yard."""
    if here is None:
        return []
    by_id = {one.id: one for one in here.circuits}
    return [
        CircuitRow(
            circuit=by_id[seen.subject.part], held=here.protection[seen.subject.part], seen=seen
        )
        for seen in circuits
    ]


def group_alike(rows: Sequence[CircuitRow]) -> tuple[AlikeCircuits, ...]:
    """Gather circuits with one standing, one content and one basis, in the order of the worst.

    Parameters
    ----------
    rows : sequence of CircuitRow
        The worst first.

    Notes
    -----
    Where one or two circuits need an eye, all that is known of them stands open. Where many do, a
    page of each in full is six screens that nobody reads to the end: each then has its line.
    """
    groups: dict[tuple[Standing, str, float, str], list[CircuitRow]] = {}
    for row in rows:
        held = row.held
        alike = (row.seen.standing, held.liquid, held.ice_point_c, f"{held.state} {held.basis}")
        groups.setdefault(alike, []).append(row)
    few = sum(not row.holds for row in rows) <= _IN_FULL
    return tuple(
        AlikeCircuits(rows=tuple(those), in_full=few and not those[0].holds)
        for those in groups.values()
    )
