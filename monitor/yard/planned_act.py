"""What is to be done against the frost: steps of a craft's job plan, and when they are taken."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from monitor.craft.plan.step import JobStep


class Occasion(StrEnum):
    """When the steps of an act are taken, and what comes before them."""

    BEFORE_ICE = "before ice"
    OR_HEAT_BACK = "or heat back"  # before ice too, unless the space's own heat is got going again
    BEFORE_COLDER_NIGHT = "before colder night"  # it holds tonight, with little to spare
    WHEN_CONVENIENT = "when convenient"
    AFTER_ICE = "after ice"  # nothing is started; what has thawed is looked at first


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedAct:
    """Steps of a job plan, in working order.

    A step that names no circuit is on the circuit that was judged: circuits that are alike share
    one judgement, whatever their ids are.
    """

    occasion: Occasion
    steps: tuple[JobStep, ...] = ()
    by: datetime | None = None  # first ice of the craft; None: at no known hour
    written: str = ""  # the sentence that an earlier program stored instead of steps

    @property
    def minutes(self) -> float:
        """One person's time for all steps."""
        return sum(step.minutes for step in self.steps)
