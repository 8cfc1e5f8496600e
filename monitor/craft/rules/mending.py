"""Which step of a craft's plan mends what a rule of the trade found wrong."""

from collections.abc import Iterator

from monitor.craft.layup import Act
from monitor.craft.plan.step import JobPlan, JobStep, StepKind
from monitor.craft.reach import reached
from monitor.craft.record import CraftRecord
from monitor.craft.rules.case import Breach

_KINDS = {
    "stabiliser-after-last-run": {
        StepKind.DRAIN_FUEL,
        StepKind.RUN_TREATED_FUEL,
        StepKind.RUN_ANTIFREEZE,
    },
    "fog-not-last": {StepKind.FOG},
    "fog-old": {StepKind.FOG},
    "battery-unfed": {StepKind.BENCH_BATTERY},
    "cover-torn": {StepKind.COVER},
    "cover-off": {StepKind.COVER},
}
# Read and zero again: a plan asks for that only where the answer changes what is to be done.
_OF_THE_READING = frozenset({"refractometer-unchecked", "reading-beats-product", "water-order"})


def step_that_mends(breach: Breach, record: CraftRecord, plan: JobPlan) -> JobStep | None:
    """The first step of a plan that answers a breach.

    Parameters
    ----------
    breach : Breach
    record : CraftRecord
        That broke the rule.
    plan : JobPlan
        Made from it.

    Returns
    -------
    JobStep or None
        None where no lay-up work mends it, such as an entry that is to be corrected.
    """
    if breach.rule in _OF_THE_READING:
        return None
    kinds = _KINDS.get(breach.rule)
    if kinds is not None:
        steps = _steps_on_engine(breach, record, plan)
        return next((step for step in steps if step.kind in kinds), None)
    if breach.rule == "work-missing":
        acts = _acts_missing(breach, record)
        steps = _steps_on_engine(breach, record, plan)
        return next((step for step in steps if _is_for(step, acts)), None)
    circuits = _circuits_of(breach, record)
    return next((step for step in plan.frost_steps if circuits.intersection(step.circuits)), None)


def _steps_on_engine(breach: Breach, record: CraftRecord, plan: JobPlan) -> Iterator[JobStep]:
    """Steps that reach the engine of a breach that is of one of several; else all of them."""
    profile = record.profile
    path = dict(zip(profile.engine_names, profile.engine_paths, strict=False)).get(breach.part)
    for step in plan.steps:
        if path is None or not step.circuits or not set(path).isdisjoint(step.circuits):
            yield step


def _is_for(step: JobStep, acts: set[Act]) -> bool:
    """Whether a step is one of these acts; a change of oil that is missing is the engine's."""
    return step.act in acts and (step.act is not Act.OIL_CHANGED or not step.circuits)


def _acts_missing(breach: Breach, record: CraftRecord) -> set[Act]:
    """Acts of the want whose reason the breach tells."""
    return {act for want in record.profile.wants if want.reason in breach.why for act in want.acts}


def _circuits_of(breach: Breach, record: CraftRecord) -> set[str]:
    if breach.part:
        return {breach.part}
    entries = [one for one in record.entries if one.id == breach.entry]
    return {name for one in entries for name in reached(one, record.profile)}
