"""The job that is left on a craft, from all that is on record about it."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime

from monitor.craft.account import protections
from monitor.craft.kept import Shelter
from monitor.craft.plan.autumn import plan_from
from monitor.craft.plan.shelf import USUAL_SHELF, ShelfProduct
from monitor.craft.plan.step import JobPlan
from monitor.craft.record import CraftRecord, plan_start


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
    held = protections(record.profile, record.entries, record.stays, shelters, at, record.iced)
    start = plan_start(record, held, at)
    plan = plan_from(replace(start, low_c=low_c), shelf or USUAL_SHELF)
    return replace(plan, unreadable=record.unreadable)
