"""The plan of one circuit by itself, where no more is known of its craft, and after it was ice."""

from collections.abc import Sequence
from dataclasses import replace

from monitor.craft.circuit import Circuit, Way
from monitor.craft.layup import Act
from monitor.craft.plan.autumn import plan_from
from monitor.craft.plan.draining import MINUTES
from monitor.craft.plan.shelf import ShelfProduct
from monitor.craft.plan.start import PlanStart
from monitor.craft.plan.step import JobStep, StepKind
from monitor.craft.profile import (
    CircuitKind,
    CircuitProfile,
    Profile,
    Proof,
    Treatment,
    careful_shape,
)
from monitor.craft.protection import LayupState, Protection

_NEEDS = {
    Way.DRAIN: Proof.DRY,
    Way.BLOW_OUT: Proof.DRY,
    Way.RUN_THROUGH: Proof.OUTFLOW,
    Way.POUR_IN: Proof.OUTFLOW,
    Way.CHANGE_OIL: Proof.CLEAR_OIL,
    Way.TEST: Proof.ICE_POINT,
    Way.STAND: Proof.POSTURE,
}
_ANTIFREEZE = (Way.RUN_THROUGH, Way.POUR_IN)  # helps most circuits of which no way is on file


def start_of_circuit(circuit: Circuit, held: Protection, low_c: float) -> PlanStart:
    """What a plan of one circuit starts from.

    Parameters
    ----------
    circuit : Circuit
    held : Protection
        What it can stand.
    low_c : float
        What it is to stand [°C].
    """
    ways = circuit.ways or _ANTIFREEZE
    kind = CircuitKind.RAW
    if Way.CHANGE_OIL in ways:
        kind = CircuitKind.OIL
    elif Way.TEST in ways:
        kind = CircuitKind.COOLANT
    elif circuit.drinking:
        kind = CircuitKind.PLUMBING
    one = CircuitProfile(
        circuit=circuit,
        kind=kind,
        shape=careful_shape(kind, ways),
        treatments=tuple(_treatment(way, circuit) for way in ways),
    )
    return PlanStart(
        craft="",
        profile=Profile(id=circuit.id, name=circuit.name, circuits=(one,)),
        held={circuit.id: held},
        entries=(),
        low_c=low_c,
    )


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


def _treatment(way: Way, circuit: Circuit) -> Treatment:
    needs = {_NEEDS[way]}
    if way is Way.RUN_THROUGH and circuit.hot_run:
        needs.add(Proof.HOT_ENGINE)
    return Treatment(way=way, needs=frozenset(needs))
