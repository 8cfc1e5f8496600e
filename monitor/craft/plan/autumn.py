"""The whole lay-up of one craft from where its record stands, in working order."""

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import replace

from monitor.craft.plan.circuits import steps_for_circuits
from monitor.craft.plan.engine import FlowJob
from monitor.craft.plan.keeping import (
    findings_to_mend,
    fog_step,
    fuel_steps,
    last_steps,
    paths_to_fog,
)
from monitor.craft.plan.shelf import ShelfProduct
from monitor.craft.plan.start import PlanStart
from monitor.craft.plan.step import JobPlan, JobStep, StepKind

Paths = tuple[tuple[str, ...], ...]  # circuits, engine by engine


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
    flushes = tuple(_steps_of(jobs, StepKind.FLUSH))
    on_water = [*(step for step in fuel if step.kind is StepKind.RUN_TREATED_FUEL), *flushes]
    on_antifreeze = any(job.runs_through for job in jobs)
    runs = bool(on_water) or on_antifreeze
    ran = {name for step in on_water for name in step.circuits}
    ran.update(name for job in jobs if job.runs_through for name in job.flow)
    fogs = paths_to_fog(start, ran)
    steps = (
        *circuits.first,
        *(findings_to_mend(start) if runs else ()),
        *_steps_of(jobs, StepKind.CLEAR_BLOCKAGE),
        *fuel,
        *flushes,
        *(() if on_antifreeze else _fog_before_filling(start, fogs, ran)),
        *_runs_on_antifreeze(start, jobs, fogs),
        *(step for job in jobs if not job.runs_through for step in _filling_steps(job)),
        *circuits.then,
        *last_steps(start, engine_runs=runs),
    )
    return JobPlan(craft=start.craft, low_c=start.low_c, steps=tuple(_join_drains(steps)))


def _steps_of(jobs: Sequence[FlowJob], kind: StepKind) -> Iterator[JobStep]:
    return (step for job in jobs for step in job.steps if step.kind is kind)


def _filling_steps(job: FlowJob) -> Iterator[JobStep]:
    """What is done on a path once it is clear and flushed."""
    before = {StepKind.CLEAR_BLOCKAGE, StepKind.FLUSH}
    return (step for step in job.steps if step.kind not in before)


def _fog_before_filling(start: PlanStart, fogs: Paths, ran: Collection[str]) -> Iterator[JobStep]:
    """Fog where no antifreeze runs: engines that ran as that run ends, others by the plug holes."""
    running = [path for path in fogs if not set(path).isdisjoint(ran)]
    still = [path for path in fogs if path not in running]
    for some, ends in ((running, True), (still, False)):
        if some:
            yield fog_step(_names_of(start, some), len(some), as_run_ends=ends)


def _names_of(start: PlanStart, paths: Sequence[tuple[str, ...]]) -> tuple[str, ...]:
    """Circuits of these paths; none where they are those of every engine that the craft has."""
    if len(paths) == len(start.profile.engine_paths):
        return ()
    return tuple(name for path in paths for name in path)


def _runs_on_antifreeze(
    start: PlanStart, jobs: Sequence[FlowJob], fogs: Paths
) -> Iterator[JobStep]:
    """Engine by engine: antifreeze through it, and fog as that run ends."""
    running = [job for job in jobs if job.runs_through]
    several = len(start.profile.engine_paths) > 1
    run = {name for job in running for name in job.flow}
    still = [path for path in fogs if run.isdisjoint(path)]
    for job in running:
        yield from _filling_steps(job)
        if fogs:
            yield fog_step(job.flow if several else (), 1, as_run_ends=True)
    if running and still:
        yield fog_step(_names_of(start, still), len(still), as_run_ends=False)


def _join_drains(steps: Iterable[JobStep]) -> Iterator[JobStep]:
    """Make one step of drains that follow each other and stand alike: nobody goes there twice."""
    before: JobStep | None = None
    for step in steps:
        if before is not None and _are_one_drain(before, step):
            before = replace(
                before,
                circuits=(*before.circuits, *step.circuits),
                instead=tuple(one for one in before.instead if one in step.instead),
            )
            continue
        if before is not None:
            yield before
        before = step
    if before is not None:
        yield before


def _are_one_drain(one: JobStep, other: JobStep) -> bool:
    return one.kind is other.kind is StepKind.DRAIN and one.posture is other.posture
