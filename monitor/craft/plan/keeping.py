"""Steps beside the frost: fuel, fog, film, bilge, battery, openings, cover."""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import replace

from monitor.craft.layup import FOGGING, Act, Posture
from monitor.craft.plan.engine import FlowJob
from monitor.craft.plan.start import PlanStart, diesel_note, hose_order
from monitor.craft.plan.step import Ask, Care, JobStep, Note, StepKind
from monitor.craft.profile import Profile

# Minutes of one person (common practice, no source).
_MINUTES = {
    StepKind.MEND_FINDING: 0.0,  # nobody knows before it is looked at
    StepKind.STABILISE_FUEL: 5.0,
    StepKind.RUN_TREATED_FUEL: 20.0,
    StepKind.DRAIN_FUEL: 30.0,
    StepKind.FOG: 15.0,
    StepKind.CHANGE_ENGINE_OIL: 30.0,
    StepKind.SPRAY_METAL: 10.0,
    StepKind.DRY_BILGE: 10.0,
    StepKind.BENCH_BATTERY: 15.0,
    StepKind.CLOSE_OPENINGS: 10.0,
    StepKind.COVER: 15.0,
    StepKind.OTHER: 15.0,
}
_BATTERY = frozenset({Act.BATTERY_REMOVED, Act.BATTERY_LEFT_ABOARD})
_OWN_STEP = frozenset(
    {
        Act.FUEL_STABILISED,
        Act.FUEL_DRAINED,
        Act.FUEL_TANK_EMPTIED,
        *FOGGING,
        *_BATTERY,
        Act.FUEL_RUN_THROUGH,
        Act.OIL_CHANGED,
        Act.SPRAYED_DOWN,
        Act.RODENT_CARE,
        Act.COVER_FITTED,
        Act.BILGE_DRIED,
    }
)


def _step(
    kind: StepKind,
    act: Act,
    *asks: Ask,
    cautions: tuple[Care, ...] = (),
    notes: tuple[Note, ...] = (),
) -> JobStep:
    return JobStep(
        kind=kind, minutes=_MINUTES[kind], act=act, asks=asks, cautions=cautions, notes=notes
    )


def fuel_steps(start: PlanStart, jobs: tuple[FlowJob, ...]) -> tuple[JobStep, ...]:
    """Stabiliser in, and a run that brings it to the engine, before anything holds.

    A run on water takes protection from what it passes. So it is planned only for flow paths of
    which nothing holds yet; where something does, antifreeze that the engine runs on later does
    the same, as does a flush, and else its bowls, filter and lines are emptied. Each engine is
    judged of its own; the tank wants stabiliser, or to be emptied, whatever becomes of them.
    """
    needing = start.paths_needing_fuel_run
    of_needing = [job for job in jobs if job.flow in needing]
    empty = start.has_on_record(Act.FUEL_TANK_EMPTIED)
    wet = [job for job in of_needing if job.may_run_on_water and not job.flushed and not empty]
    running = {job.flow for job in of_needing if job in wet or job.runs_through or job.flushed}
    still = [path for path in needing if path not in running]
    treated = start.has_on_record(Act.FUEL_STABILISED)
    steps = []
    if not treated and _wants(start, Act.FUEL_STABILISED) and (running or not empty):
        steps.append(
            _step(
                StepKind.STABILISE_FUEL,
                Act.FUEL_STABILISED,
                cautions=(Care.FUEL_VAPOUR,),
                notes=diesel_note(start.profile),
            )
        )
    if wet:
        steps.append(_run_treated_fuel(start.profile, wet))
    if still:
        steps.append(_drain_fuel(start.profile, still))
    return tuple(steps)


def _run_treated_fuel(profile: Profile, wet: Sequence[FlowJob]) -> JobStep:
    """Run those engines on water until treated fuel is all through them."""
    return JobStep(
        kind=StepKind.RUN_TREATED_FUEL,
        circuits=tuple(name for job in wet for name in job.flow),
        minutes=_MINUTES[StepKind.RUN_TREATED_FUEL] * len(wet),
        act=Act.FUEL_RUN_THROUGH,
        asks=(Ask.TREATED_FUEL,),
        notes=hose_order(profile),
        cautions=(Care.CARBON_MONOXIDE, Care.FUEL_VAPOUR),
    )


def _drain_fuel(profile: Profile, paths: Sequence[tuple[str, ...]]) -> JobStep:
    """Let fuel out of filter, lines and bowls of engines that may not run; unnamed if of all."""
    every = len(paths) == len(profile.engine_paths)
    drain = _step(StepKind.DRAIN_FUEL, Act.FUEL_DRAINED, cautions=(Care.FUEL_VAPOUR,))
    return replace(drain, circuits=() if every else tuple(name for path in paths for name in path))


def paths_to_fog(start: PlanStart, running: Collection[str]) -> tuple[tuple[str, ...], ...]:
    """Flow paths of engines that are to be fogged: whatever runs afterwards burns the film off.

    Parameters
    ----------
    start : PlanStart
    running : collection of str
        Circuits of the engines that the plan runs.
    """
    if not _wants(start, *FOGGING):
        return ()
    return tuple(
        path
        for path in start.profile.engine_paths
        if not set(path).isdisjoint(running) or not start.fog_holds(path)
    )


def fog_step(circuits: tuple[str, ...], engines: int, *, as_run_ends: bool) -> JobStep:
    """Fog engines, as their run ends or through the plug holes alone.

    Parameters
    ----------
    circuits : tuple of str
        Of the engine that is meant, where a craft has several; empty: of all.
    engines : int
        How many are fogged.
    as_run_ends : bool
        The last run of each of them is part of the plan.
    """
    fumes = (Care.CARBON_MONOXIDE,) if as_run_ends else ()
    fog = _step(
        StepKind.FOG,
        Act.FOGGED_RUNNING if as_run_ends else Act.FOGGED_PLUG_HOLES,
        cautions=(*fumes, Care.FUEL_VAPOUR),
        notes=(Note.AS_RUN_ENDS,) if as_run_ends else (),
    )
    return replace(fog, circuits=circuits, minutes=fog.minutes * engines)


def findings_to_mend(start: PlanStart) -> tuple[JobStep, ...]:
    """Open findings: what needs a test run is mended before anything is laid up."""
    return tuple(
        JobStep(
            kind=StepKind.MEND_FINDING,
            finding=one,
            minutes=_MINUTES[StepKind.MEND_FINDING],
            act=Act.REPAIRED,
        )
        for one in start.findings
    )


def last_steps(start: PlanStart, *, engine_runs: bool) -> Iterator[JobStep]:
    """Fresh oil in the engine, film on metal, a dry bilge, the battery out, openings shut, cover.

    Oil is changed after the last run and before storage (common practice, no source).
    """
    if _wants(start, Act.OIL_CHANGED) and not start.engine_oil_holds:
        yield _step(StepKind.CHANGE_ENGINE_OIL, Act.OIL_CHANGED, Ask.CLEAR_OIL)
    if _wants(start, Act.SPRAYED_DOWN) and (
        engine_runs or start.place_of_last(Act.SPRAYED_DOWN) <= start.last_run()
    ):
        yield _step(StepKind.SPRAY_METAL, Act.SPRAYED_DOWN)
    if start.keeping.bilge_wet:
        yield _step(StepKind.DRY_BILGE, Act.BILGE_DRIED)
    yield from _battery(start)
    if _wants(start, Act.RODENT_CARE) and not start.has_on_record(Act.RODENT_CARE):
        yield _step(StepKind.CLOSE_OPENINGS, Act.RODENT_CARE)
    if start.keeping.torn or (_wants(start, Act.COVER_FITTED) and not start.keeping.covered):
        yield replace(_step(StepKind.COVER, Act.COVER_FITTED), posture=Posture.BOW_UP)
    for want in start.profile.wants:
        if not _OWN_STEP.intersection(want.acts) and not start.has_on_record(*want.acts):
            yield _step(StepKind.OTHER, want.acts[0])


def _battery(start: PlanStart) -> Iterator[JobStep]:
    if start.battery_waits:
        yield _step(
            StepKind.BENCH_BATTERY,
            Act.BATTERY_REMOVED,
            Ask.RESTED_VOLTAGE,
            cautions=(Care.FROZEN_BATTERY, Care.HYDROGEN),
        )


def _wants(start: PlanStart, *acts: Act) -> bool:
    return any(set(acts).intersection(want.acts) for want in start.profile.wants)
