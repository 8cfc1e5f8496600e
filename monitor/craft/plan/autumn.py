"""The whole lay-up of one craft from where its record stands, in working order."""

from collections.abc import Mapping, Sequence
from datetime import datetime

from monitor.craft.account import protections, reached, season
from monitor.craft.findings import open_findings
from monitor.craft.keeping import keeping
from monitor.craft.kept import Shelter, stay_at
from monitor.craft.plan.circuits import FlowJob, steps_for_circuits
from monitor.craft.plan.keeping import findings_to_mend, fog_step, fuel_steps, last_steps
from monitor.craft.plan.shelf import USUAL_SHELF, ShelfProduct
from monitor.craft.plan.start import PlanStart
from monitor.craft.plan.step import JobPlan, JobStep, StepKind
from monitor.craft.record import CraftRecord, battery


def layup_plan(
    record: CraftRecord,
    shelters: Mapping[str, Shelter],
    at: datetime,
    low_c: float,
    shelf: Sequence[ShelfProduct] = USUAL_SHELF,
) -> JobPlan:
    """The job that makes every circuit of a craft stand a low, and keeps the rest of it.

    Parameters
    ----------
    record : CraftRecord
        All that is on record.
    shelters : mapping of str to Shelter
        The yard's spaces by id.
    at : datetime
        The time to plan at; what is on record for later does not count.
    low_c : float
        Coldest that the craft is to stand [°C]; from 0 up no circuit needs work.
    shelf : sequence of ShelfProduct, optional
        What the yard has; without one, what yards usually have.

    Returns
    -------
    JobPlan
        Followed to the letter, it leaves nothing to do. Only a circuit that no mix and no drain
        makes safe (`StepKind.WARM`) stays on it.
    """
    return plan_from(start_of(record, shelters, at, low_c), shelf or USUAL_SHELF)


def start_of(
    record: CraftRecord, shelters: Mapping[str, Shelter], at: datetime, low_c: float
) -> PlanStart:
    """What a plan starts from."""
    entries = tuple(one for one in record.standing(at) if season(one.at) == season(at))
    stay = stay_at(record.stays, at)
    iced = {
        one.circuit
        for one in record.iced
        if one.at <= at
        and not any(
            entry.at > one.at and one.circuit in reached(entry, record.profile) for entry in entries
        )
    }
    return PlanStart(
        craft=record.craft.id,
        profile=record.profile,
        held=protections(record.profile, record.entries, record.stays, shelters, at, record.iced),
        entries=entries,
        low_c=low_c,
        battery=battery(record.profile, record.standing(at), stay.space if stay else ""),
        keeping=keeping(entries),
        findings=tuple(open_findings(record.entries, at)),
        iced=frozenset(iced),
    )


def plan_from(start: PlanStart, shelf: Sequence[ShelfProduct]) -> JobPlan:
    """The steps from a start, in the order of a good technician.

    Inspect and read, because that may change the rest; mend what needs a test run; empty tanks
    while their pumps run; then fuel and the last run on water, antifreeze or drains behind it,
    fog as the last run ends; oils, pumps, bilge, battery, openings, cover.
    """
    circuits = steps_for_circuits(start, shelf)
    jobs = circuits.engine
    fuel = fuel_steps(start, jobs)
    on_water = any(step.kind is StepKind.RUN_TREATED_FUEL for step in fuel)
    on_antifreeze = any(job.runs_through for job in jobs)
    runs = on_water or on_antifreeze
    fog = fog_step(start, engine_runs=runs)
    cleared, through, by_hand = _engine_steps(jobs)
    steps = (
        *circuits.first,
        *(findings_to_mend(start) if runs else ()),
        *cleared,
        *fuel,
        *(fog if on_water and not on_antifreeze else ()),
        *through,
        *(fog if on_antifreeze or not on_water else ()),
        *by_hand,
        *circuits.then,
        *last_steps(start, engine_runs=runs),
    )
    return JobPlan(craft=start.craft, low_c=start.low_c, steps=steps)


def _engine_steps(jobs: Sequence[FlowJob]) -> tuple[list[JobStep], list[JobStep], list[JobStep]]:
    """Blockages first; then paths that the engine runs antifreeze through; then all the others."""
    cleared, through, by_hand = [], [], []
    for job in jobs:
        for step in job.steps:
            if step.kind is StepKind.CLEAR_BLOCKAGE:
                cleared.append(step)
            elif job.runs_through:
                through.append(step)
            else:
                by_hand.append(step)
    return cleared, through, by_hand
