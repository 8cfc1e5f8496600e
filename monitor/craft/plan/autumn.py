"""The whole lay-up of one craft from where its record stands, in working order."""

from collections.abc import Sequence

from monitor.craft.plan.circuits import steps_for_circuits
from monitor.craft.plan.engine import FlowJob
from monitor.craft.plan.keeping import findings_to_mend, fog_step, fuel_steps, last_steps
from monitor.craft.plan.shelf import ShelfProduct
from monitor.craft.plan.start import PlanStart
from monitor.craft.plan.step import JobPlan, JobStep, StepKind


def plan_from(start: PlanStart, shelf: Sequence[ShelfProduct]) -> JobPlan:
    """The steps from a start, in the order of a good technician.

    Inspect and read, because that may change the rest; mend what needs a test run; empty tanks
    while their pumps run; then fuel and the last run on water, a flush where one is needed,
    antifreeze or drains behind it,
    fog as the last run ends; oils, pumps, bilge, battery, openings, cover.
    """
    circuits = steps_for_circuits(start, shelf)
    jobs = circuits.engine
    fuel = fuel_steps(start, jobs)
    on_water = any(job.flushed for job in jobs) or any(
        step.kind is StepKind.RUN_TREATED_FUEL for step in fuel
    )
    on_antifreeze = any(job.runs_through for job in jobs)
    runs = on_water or on_antifreeze
    fog = fog_step(start, engine_runs=runs)
    cleared, flushed, through, by_hand = _engine_steps(jobs)
    steps = (
        *circuits.first,
        *(findings_to_mend(start) if runs else ()),
        *cleared,
        *fuel,
        *flushed,
        *(fog if on_water and not on_antifreeze else ()),
        *through,
        *(fog if on_antifreeze or not on_water else ()),
        *by_hand,
        *circuits.then,
        *last_steps(start, engine_runs=runs),
    )
    return JobPlan(craft=start.craft, low_c=start.low_c, steps=steps)


def _engine_steps(jobs: Sequence[FlowJob]) -> tuple[list[JobStep], ...]:
    """Blockages; flushes; paths that the engine runs antifreeze through; then all the others."""
    cleared: list[JobStep] = []
    flushed: list[JobStep] = []
    through: list[JobStep] = []
    by_hand: list[JobStep] = []
    for job in jobs:
        for step in job.steps:
            if step.kind is StepKind.CLEAR_BLOCKAGE:
                cleared.append(step)
            elif step.kind is StepKind.FLUSH:
                flushed.append(step)
            elif job.runs_through:
                through.append(step)
            else:
                by_hand.append(step)
    return cleared, flushed, through, by_hand
