"""What a job takes, in words: products of the shelf, quantities, hours of a crew."""

from collections.abc import Sequence
from datetime import date
from math import ceil

from monitor.craft.plan.shelf import ShelfProduct
from monitor.craft.plan.yard import Supply, Workload
from monitor.wording import Wording, listed, listed_first
from monitor.yard.space import Yard

_FEW_DAYS = 3  # of work are told by the hour


def product_words(product: ShelfProduct) -> str:
    """A product as it stands on the shelf, or what to buy where nothing there would do."""
    lot = f", lot {product.lot}" if product.lot else ""
    buy = " (nothing on the shelf reaches that: buy it)" if product.to_buy else ""
    return f"{product.name}{lot}{buy}"


def supply_words(supply: Supply, words: Wording) -> str:
    """How much of a product the whole yard takes."""
    product = supply.product
    each = words.about(product.container_l)
    many = "containers" if supply.containers != 1 else "container"
    return (
        f"{words.about(supply.litres)} of {product_words(product)}: {supply.containers} {many} of"
        f" {each}, for {listed(supply.craft)}"
    )


def workload_words(load: Workload) -> str:
    """When a crew is through with all of it."""
    if not load.steps:
        return "Nothing is left to do"
    people, are = ("person", "is") if load.hands == 1 else ("people", "are")
    each = " each" if load.hands > 1 else ""
    beside = ""
    if load.untimed:
        findings = "finding" if load.untimed == 1 else "findings"
        beside = f", beside {load.untimed} {findings} to mend, of which nobody knows the time yet"
    return (
        f"{work_days_words(load.minutes, load.day_minutes)}{beside}:"
        f" {load.hands} {people} who begin{'s' if load.hands == 1 else ''} on"
        f" {_day_words(load.begins_on)} and work"
        f"{'s' if load.hands == 1 else ''} {minutes_words(load.day_minutes)} a day{each} {are}"
        f" through on {_day_words(load.done_on)}"
    )


def _day_words(day: date) -> str:
    return f"{day:%A} {day.day} {day:%B}"


def minutes_words(minutes: float) -> str:
    """Write ``40 min``, ``2 h 25 min``."""
    hours, rest = divmod(round(minutes), 60)
    if not hours:
        return f"{rest} min"
    return f"{hours} h {rest} min" if rest else f"{hours} h"


def work_days_words(minutes: float, day_minutes: float) -> str:
    """Work by its days once it is more than three: ``20 days of work for one person, 4 h a day``.

    Nobody plans a winter's work by the minute. The last day may be a short one.
    """
    if minutes <= _FEW_DAYS * day_minutes:
        return f"{minutes_words(minutes)} of work"
    days = ceil(minutes / day_minutes - 1e-9)
    return f"{days:,} days of work for one person, {minutes_words(day_minutes)} a day"


def hands_words(yard: Yard, words: Wording) -> str:
    """How many people can work from now on: ``2 people until 22:00, then 1``."""
    ahead = yard.duty.crew_ahead(words.now.astimezone(yard.zone))
    now = ahead[0].hands
    change = next((one for one in ahead if one.hands != now), None)
    later = "" if change is None else f" until {words.clock(change.since)}, then {change.hands}"
    return f"{now} {'person' if now == 1 else 'people'}{later}"


def crew_words(
    minutes: float, late: Sequence[str], hands: str, *, pressing: Sequence[str] = ()
) -> str:
    """How long the night's work takes, where to begin, and what comes too late in any case.

    Parameters
    ----------
    minutes : float
        One person's time for all of it.
    hands : str
        How many people there are, see `hands_words`.
    late : sequence of str
        Names of what a crew that keeps to the order reaches only after its hour.
    pressing : sequence of str, optional
        Names of what is to be done now, not by an hour ahead.
    """
    work = f"{minutes_words(minutes)} of work for {hands}"
    if not late:
        # Whoever reads "now" beside a line must not read that it has time.
        if not pressing:
            return f"{work}, all can be made."
        return f"{work}. Begin with {listed_first([*pressing], 3)}: all can be made."
    named = listed([*late]) if len(late) <= 3 else f"{', '.join(late[:3])} and {len(late) - 3} more"
    them = "it" if len(late) == 1 else "them"
    return f"{work}. You will not make {named} in time: leave {them} for last."
