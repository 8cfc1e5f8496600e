"""Flow paths that are flushed first: what stands in them can be neither read nor built on.

Two kinds of glycol, or a product that no scale reads, stay where nothing drains them. Rinsed out
until clear water comes, such a path is filled like any other. A flush takes what held in the whole
path, so it is planned only where nothing but heat would be left.
"""

from collections.abc import Iterable, Iterator

from monitor.craft.layup import Act, Liquid
from monitor.craft.plan.draining import MINUTES, steps_on
from monitor.craft.plan.start import PlanStart, hose_order, is_engine
from monitor.craft.plan.step import Ask, Care, JobStep, Note, StepKind
from monitor.craft.profile import CircuitKind, CircuitProfile

_RINSED = frozenset({CircuitKind.RAW, CircuitKind.PLUMBING, CircuitKind.POCKET})


def paths_left_to_heat(
    start: PlanStart, steps: Iterable[JobStep]
) -> Iterator[tuple[CircuitProfile, ...]]:
    """Flow paths, each whole, of which a step says that only heat keeps a circuit."""
    warm = circuits_left_to_heat(steps)
    for path in _paths(start):
        if any(one.circuit.id in warm for one in path):
            yield path


def poisoned_paths(start: PlanStart) -> Iterator[tuple[CircuitProfile, ...]]:
    """Flow paths, each whole, that people drink from or wash with, and ethylene glycol is in."""
    for path in _paths(start):
        if any(start.held[one.circuit.id].poison is Liquid.ETHYLENE for one in path):
            yield path


def _paths(start: PlanStart) -> Iterator[tuple[CircuitProfile, ...]]:
    paths: dict[str, list[CircuitProfile]] = {}
    for one in start.profile.circuits:
        if one.kind in _RINSED:
            paths.setdefault(one.flow or one.circuit.id, []).append(one)
    return (tuple(path) for path in paths.values())


def circuits_left_to_heat(steps: Iterable[JobStep]) -> frozenset[str]:
    """Ids of the circuits that no step but heat makes safe."""
    return frozenset(name for step in steps if step.kind is StepKind.WARM for name in step.circuits)


def flush_steps(start: PlanStart, group: Iterable[CircuitProfile]) -> Iterator[JobStep]:
    """Clear what blocks a path that is flushed, then flush it; none where it is not flushed.

    What blocks it is opened, not drained: the flush would fill it again.
    """
    path = [one for one in group if one.circuit.id in start.flushed]
    if not path:
        return
    blocked = [one for one in path if start.was_blocked(one.circuit.id)]
    yield from steps_on(StepKind.CLEAR_BLOCKAGE, blocked, act=Act.CIRCUIT_OPENED)
    engine = any(is_engine(one) for one in path)
    poison = (Note.POISON,) if any(start.held[one.circuit.id].poison for one in path) else ()
    names = tuple(one.circuit.id for one in path)
    fuel = (Ask.TREATED_FUEL,) if engine and start.needs_fuel_run(names) else ()
    fumes = (Care.CARBON_MONOXIDE, Care.FUEL_VAPOUR) if engine else ()
    yield JobStep(
        kind=StepKind.FLUSH,
        circuits=names,
        minutes=MINUTES[StepKind.FLUSH],
        act=Act.FLUSHED,
        asks=(Ask.CLEAR_WATER, *fuel),
        cautions=(Care.GLYCOL, *fumes),
        notes=(*(hose_order(start.profile) if engine else ()), *poison),
    )
