"""Steps on one circuit that has ice in it, or had: looked at before it is laid up again."""

from collections.abc import Sequence
from dataclasses import replace

from monitor.craft.circuit import Circuit
from monitor.craft.layup import Act
from monitor.craft.plan.alone import start_of_circuit
from monitor.craft.plan.autumn import plan_from
from monitor.craft.plan.draining import MINUTES
from monitor.craft.plan.shelf import ShelfProduct
from monitor.craft.plan.step import JobStep, StepKind
from monitor.craft.protection import LayupState, Protection


def steps_after_ice(
    circuit: Circuit,
    held: Protection,
    low_c: float,
    shelf: Sequence[ShelfProduct],
    *,
    frozen: bool,
) -> tuple[JobStep, ...]:
    """What is to be done, in order.

    Parameters
    ----------
    circuit : Circuit
    held : Protection
        What it was taken to stand.
    low_c : float
        Coldest that it is to stand after [°C].
    shelf : sequence of ShelfProduct
    frozen : bool
        There is ice in it now.
    """
    start = start_of_circuit(circuit, held, low_c)
    if held.state is LayupState.PROVEN:
        start = replace(start, iced=frozenset({circuit.id}))
    looked = JobStep(
        kind=StepKind.INSPECT_AFTER_ICE,
        circuits=(circuit.id,),
        minutes=MINUTES[StepKind.INSPECT_AFTER_ICE],
        act=Act.INSPECTED,
    )
    thaw = JobStep(kind=StepKind.THAW, circuits=(circuit.id,), minutes=MINUTES[StepKind.THAW])
    rest = (
        one
        for one in plan_from(start, shelf).frost_steps
        if one.kind is not StepKind.INSPECT_AFTER_ICE
    )
    return (*((thaw,) if frozen else ()), looked, *rest)
