"""Antifreeze that went into circuits: how each of them stands after it.

How one pour ends in one circuit is worked out in ``pour_outcome``, and what a second account of
it is worth in ``duplicate_pour``.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from monitor.craft.contents import Contents, Pour
from monitor.craft.duplicate_pour import (
    add_account,
    is_repeated,
    kinds_poured,
    outcomes_if_duplicate,
    possible_duplicate_pours,
)
from monitor.craft.lacks import may_hold_less, reason_not_counting
from monitor.craft.layup import LayupEntry, Outflow
from monitor.craft.pour_outcome import pass_by, pour_into
from monitor.craft.poured_flow import PouredFlow, goes_past
from monitor.craft.profile import CircuitProfile
from monitor.craft.protection import LayupState
from monitor.craft.reasons import Because, Lack, Reason
from monitor.craft.sampling import heed_reading

Touched = list[tuple[CircuitProfile, Contents]]


def apply_antifreeze(touched: Touched, entry: LayupEntry, beside: Touched) -> None:
    """Apply antifreeze run through or poured in to all circuits that it went through.

    Those ``beside`` it also passed, and nobody named them: what stands there thins it, and they
    never gain by it.
    """
    passed = [(one, contents) for one, contents in beside if not goes_past(entry, one)]
    _note_kinds([*_gone_into(touched, entry), *passed], entry, [*touched, *beside])
    on_top = PouredFlow(
        entry=entry,
        stood=tuple((one, held.copy_account()) for one, held in touched),
        beside=tuple((one, held.copy_account()) for one, held in beside),
    )
    reached = {one.circuit.id: (one, contents) for one, contents in (*touched, *passed)}
    named = frozenset(one.circuit.id for one, _ in touched)
    pour = Pour(
        accounts=(entry,),
        named=named,
        reached=reached,
        before={one.circuit.id: held for one, held in on_top.whole},
    )
    told = possible_duplicate_pours(entry, named, reached)
    repeated = is_repeated(entry, told)
    outcomes = {} if repeated else outcomes_if_duplicate(on_top, told, reached)
    pours = add_account(told, entry, pour) if told and not repeated else [pour]
    pouring = _Pouring(flow=on_top, told=told, pours=pours, repeated=repeated)
    for one, contents in touched:
        pouring.apply_to_named(one, contents)
    for one, contents in passed:
        pouring.apply_to_passed(one, contents)
    every = {name: pair for each in pours for name, pair in each.reached.items()}
    _heed_outcomes(every.values(), outcomes, entry)


def apply_another_glycol(held: Iterable[Contents], entry: LayupEntry) -> None:
    """Undo circuits that antifreeze cannot prove, but whose own glycol another kind spoils.

    They are coolant loops: once changed, they are read again, and that reading counts.
    """
    for contents in held:
        if contents.proven and len(contents.kinds | kinds_poured(entry)) > 1:
            contents.judge_as_water(
                LayupState.VOID, Reason(because=Because.TWO_GLYCOLS, entry=entry), entry.at
            )


def _gone_into(touched: Touched, entry: LayupEntry) -> Touched:
    """Leave out what is proven already, and what a run went past: that stands as it stood."""
    return [
        (one, contents)
        for one, contents in touched
        if not (contents.proven and goes_past(entry, one))
    ]


def _note_kinds(reached: Touched, entry: LayupEntry, mixed: Touched) -> None:
    """Write down which glycols are in the flow now, whatever was seen of it."""
    together = kinds_poured(entry).union(*(contents.kinds for _, contents in mixed))
    for _, contents in reached:
        contents.note_kinds(together)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pouring:
    """One entry of antifreeze, as it is applied to one circuit after the other."""

    flow: PouredFlow
    told: list[Pour]  # earlier ones of which it may tell once more
    pours: list[Pour]  # what it is in a circuit that holds none of those
    repeated: bool  # word for word, so that it tells nothing more of them

    def apply_to_named(self, one: CircuitProfile, contents: Contents) -> None:
        """Apply it to a circuit that it names."""
        entry = self.flow.entry
        if not _gone_into([(one, contents)], entry):
            why = reason_not_counting(one, contents, entry, (Lack.COLD_ENGINE,))
            contents.notes.append(why)
            return
        contents.filled = True
        if entry.evidence.outflow is Outflow.NONE:
            why = Reason(because=Because.BLOCKED, entry=entry)
            contents.judge_as_water(LayupState.UNPROVEN, why, entry.at)
            contents.blocked = True
        elif contents.blocked:
            why = Reason(because=Because.STILL_BLOCKED, entry=entry)
            contents.judge_as_water(LayupState.UNPROVEN, why, entry.at)
        elif not self._names_again(contents):
            self._note(one, contents)
            pour_into(one, contents, self.flow)
        elif not self.repeated:
            # It may also be a second pour that nobody called so, and have thinned what stood there.
            second = contents.copy_account()
            pour_into(one, second, self.flow)
            contents.heed_account(second, duplicate_reason(entry), entry.at)
        heed_reading(contents, entry)

    def apply_to_passed(self, one: CircuitProfile, contents: Contents) -> None:
        """Apply it to a circuit that it passed unnamed."""
        again = bool(self._told_in(contents))
        contents.filled = True
        if not again and self.flow.entry.evidence.outflow is not Outflow.NONE:
            self._note(one, contents)
        if not (again and self.repeated):
            pass_by(contents, self.flow)
        heed_reading(contents, self.flow.entry)

    def _names_again(self, contents: Contents) -> bool:
        return any(contents.circuit in one.named for one in self._told_in(contents))

    def _told_in(self, contents: Contents) -> list[Pour]:
        return [one for one in self.told if contents.holds_pour(one)]

    def _note(self, one: CircuitProfile, contents: Contents) -> None:
        stood = self.flow.contents_of(one)
        contents.note_pours(self.pours, held_less=may_hold_less(one, stood))
        self.flow.note_limits(contents, stood)


def duplicate_reason(entry: LayupEntry) -> Reason:
    """Say that an entry counts as one more account of an earlier pour."""
    return Reason(because=Because.TOLD_AGAIN, entry=entry)


def _heed_outcomes(
    reached: Iterable[tuple[CircuitProfile, Contents]],
    outcomes: Mapping[str, list[Contents]],
    entry: LayupEntry,
) -> None:
    """Hold no more in any circuit than each account of a pour makes of it."""
    for one, contents in reached:
        if contents.blocked:
            continue
        for outcome in outcomes.get(one.circuit.id, []):
            contents.heed_account(outcome, duplicate_reason(entry), entry.at)
            contents.strongest = _lower_of(contents.strongest, outcome.strongest)
            contents.undiluted = _lower_of(contents.undiluted, outcome.undiluted)


def _lower_of(one: float | None, other: float | None) -> float | None:
    return min((each for each in (one, other) if each is not None), default=None)
