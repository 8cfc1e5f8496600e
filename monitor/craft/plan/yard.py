"""The work of a whole yard: what has to be bought for it, and when it is done."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from math import ceil

from monitor.craft.plan.shelf import ShelfProduct
from monitor.craft.plan.step import JobPlan
from monitor.errors import BadValueError

CREW = 2  # common practice, no source: two people do four to six craft of an evening
DAY_MINUTES = 240.0  # of each of them, beside all else (common practice, no source)
_WHOLE_DAY_MINUTES = 1440.0
_SLIP = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Supply:
    """So much of one product is used up by all plans."""

    product: ShelfProduct
    litres: float
    craft: tuple[str, ...]  # ids of those that take it

    @property
    def containers(self) -> int:
        """Whole containers that hold it."""
        return ceil(self.litres / self.product.container_l - _SLIP)


@dataclass(frozen=True, slots=True, kw_only=True)
class Workload:
    """What a crew has before it, and the day on which it is through at its pace."""

    minutes: float
    hands: int
    day_minutes: float  # of one person
    begins_on: date
    done_on: date
    steps: int  # all of them
    untimed: int  # of those, findings to mend: nobody knows how long before they are looked at


def sum_supplies(plans: Iterable[JobPlan]) -> tuple[Supply, ...]:
    """Add up what all plans pour, product by product, the largest first."""
    litres: dict[ShelfProduct, float] = {}
    craft: dict[ShelfProduct, dict[str, None]] = {}
    for plan in plans:
        for step in plan.steps:
            if step.product is not None and step.quantity_l is not None:
                litres[step.product] = litres.get(step.product, 0.0) + step.quantity_l
                craft.setdefault(step.product, {})[plan.craft] = None
    found = [
        Supply(product=product, litres=round(total, 2), craft=tuple(craft[product]))
        for product, total in litres.items()
    ]
    return tuple(sorted(found, key=lambda one: (-one.litres, one.product.id)))


def reckon_workload(
    plans: Iterable[JobPlan],
    begins_on: date,
    hands: int = CREW,
    day_minutes: float = DAY_MINUTES,
) -> Workload:
    """How long a crew works on all plans.

    Parameters
    ----------
    plans : iterable of JobPlan
    begins_on : date
        The first day of work; every day after it is one too.
    hands : int, optional
        People, at least 1; one craft takes one of them.
    day_minutes : float, optional
        What each of them works on it of a day, above 0 and at most 24 h.

    Raises
    ------
    ValueError
        If nobody works, or for no time, or for more than a day has.
    """
    if hands < 1 or not 0.0 < day_minutes <= _WHOLE_DAY_MINUTES:
        raise BadValueError(
            f"{hands} people for {day_minutes:g} min a day is no crew at work",
            "give at least one, and a time above 0 and within the 24 h of a day",
        )
    steps = [step for plan in plans for step in plan.steps]
    minutes = sum(step.minutes for step in steps)
    days = max(1, ceil(minutes / (hands * day_minutes) - _SLIP))
    return Workload(
        minutes=minutes,
        hands=hands,
        day_minutes=day_minutes,
        begins_on=begins_on,
        done_on=begins_on + timedelta(days=days - 1),
        steps=len(steps),
        untimed=sum(not step.minutes for step in steps),
    )
