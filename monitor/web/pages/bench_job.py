"""The job that the bench works down: what is left of a craft's lay-up, or tonight's part of it."""

from dataclasses import dataclass, replace
from datetime import datetime

from monitor.craft.plan.shelf import USUAL_SHELF
from monitor.craft.plan.step import JobPlan
from monitor.craft.record import CraftRecord, layup_plan, stored_craft
from monitor.judgement.craft_job import is_led
from monitor.judgement.frost.act import plan_frost_steps, planned_low
from monitor.phrases.figures import figures_of
from monitor.store.transaction import Transaction
from monitor.yard.space import Yard, shelters


@dataclass(frozen=True, slots=True, kw_only=True)
class JobTonight:
    """Which parts of a craft the coming low threatens, and what it is planned for."""

    parts: frozenset[str]
    low_c: float


def find_job_tonight(
    tx: Transaction, record: CraftRecord, yard: Yard, at: datetime
) -> JobTonight | None:
    """What the latest judgement says of a craft; None where the coming low threatens no part."""
    craft = stored_craft(record, shelters(yard), at)
    if craft is None:
        return None
    led = [one for one in tx.assessments.latest_in([craft.space], craft.id) if is_led(one)]
    if not led:
        return None
    coldest_c = min(figures_of(seen).get("low_band_low_c", seen.low_c) for seen in led)
    return JobTonight(
        parts=frozenset(seen.subject.part for seen in led),
        low_c=planned_low(min(yard.design_low_c, coldest_c)),
    )


def plan_of_job(
    record: CraftRecord, yard: Yard, at: datetime, tonight: JobTonight | None = None
) -> JobPlan:
    """What is left of a job by the record as it is: what is done and proven is gone.

    Parameters
    ----------
    record : CraftRecord
    yard : Yard
    at : datetime
    tonight : JobTonight, optional
        Plan these parts alone, as letters and the evening page do; else the whole lay-up.
    """
    shelf = yard.shelf or USUAL_SHELF
    plan = layup_plan(record, shelters(yard), at, yard.design_low_c, shelf)
    if tonight is None:
        return plan
    craft = stored_craft(record, shelters(yard), at)
    if craft is None or craft.plan_start is None:
        return replace(plan, steps=())
    start = replace(
        craft.plan_start, held=craft.protection, low_c=tonight.low_c, only=tonight.parts
    )
    return replace(plan, low_c=tonight.low_c, steps=plan_frost_steps(start, shelf))
