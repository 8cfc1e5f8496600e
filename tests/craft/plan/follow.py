"""A person who follows a plan to the letter, and what the record then says."""

from dataclasses import replace
from datetime import datetime, timedelta

from monitor.craft.layup import Liquid
from monitor.craft.mixture import GLYCOLS
from monitor.craft.plan.shelf import USUAL_SHELF, ShelfProduct
from monitor.craft.plan.step import JobPlan, JobStep
from monitor.craft.protection import Protection
from monitor.craft.record import CraftRecord, layup_plan
from tests.craft.plan.entered import entries_for
from tests.craft.scene import EVE, SHELTERS, held

BETWEEN = timedelta(minutes=30)


def plan(
    record: CraftRecord,
    low_c: float = -12.0,
    at: datetime = EVE,
    shelf: tuple[ShelfProduct, ...] = USUAL_SHELF,
) -> JobPlan:
    return layup_plan(record, SHELTERS, at, low_c, shelf)


def _glycol_in(step: JobStep, found: dict[str, Protection]) -> Liquid:
    """What a sample of these circuits is made of, by the record."""
    known = {kind for name in step.circuits for kind in found[name].went_in} & GLYCOLS
    return min(known) if known else Liquid.ETHYLENE


def followed(
    record: CraftRecord, job: JobPlan, at: datetime = EVE
) -> list[tuple[CraftRecord, dict[str, Protection], datetime]]:
    """The record after each step: what it holds then, and when that was."""
    states = []
    for number, step in enumerate(job.steps, start=1):
        done_at = at + number * BETWEEN
        new = entries_for(
            step,
            record.craft.id,
            done_at,
            "Ines Aldaz",
            bench="bench",
            rested_v=12.7,
            glycol=_glycol_in(step, held(record, done_at)),
        )
        record = replace(record, entries=record.entries + new)
        done_at += timedelta(minutes=1)
        states.append((record, held(record, done_at), done_at))
    return states
