"""What stands in the bench's fields before anybody types: of the plan, and of the craft before.

Nothing of it is evidence: what was measured or seen is of one craft alone.
"""

from collections.abc import Iterable, Sequence
from datetime import date, datetime

from monitor.craft.fields import BY_PATH
from monitor.craft.layup import LayupEntry
from monitor.craft.plan.step import JobStep
from monitor.craft.stored import StoredCraft
from monitor.phrases.names import plain
from monitor.units import FLUID_OUNCE_L
from monitor.web.pages.bench import BenchCraft
from monitor.web.pages.bench_fields import GALLON_L, unit_typed
from monitor.wording import Wording

_QUANTITY = BY_PATH["quantity_l"]


def fill_step(
    bench: BenchCraft, step: JobStep, others: Sequence[StoredCraft], by: str, *, as_before: bool
) -> tuple[dict[str, str], str]:
    """What stands in the fields of a step, and whose entry would fill in more."""
    last = last_of_act(entries_of_yard(others), step, bench.record.craft.id)
    whose = next((one for one in others if last and one.id == last.craft), None)
    filled = filled_by_plan(step, bench.words, last)
    alike = whose is not None and whose.profile == bench.record.craft.profile
    same = {**filled, **filled_as_before(step, bench.words, last, by, same_type=alike)}
    if as_before:
        return same, ""
    return filled, plain(whose.name) if whose is not None and same != filled else ""


def amount_typed(litres: float, unit: str) -> str:
    """A volume as a person would type it in a unit."""
    per = {"gal": GALLON_L, "floz": FLUID_OUNCE_L}.get(unit, 1.0)
    return f"{litres / per:.0f}" if unit == "floz" else f"{round(litres / per, 1):g}"


def filled_by_plan(step: JobStep, words: Wording, before: LayupEntry | None) -> dict[str, str]:
    """What stands in the fields of a step before anybody types: the plan's pour, the usual jug."""
    filled: dict[str, str] = {}
    if step.product is not None:
        filled["product"] = step.product.name
    elif before is not None and before.product is not None:
        filled["product"] = before.product.name
    if step.quantity_l is not None:
        unit = unit_typed(_QUANTITY, words, step.quantity_l)
        filled["quantity"] = amount_typed(step.quantity_l, unit)
    return filled


def filled_as_before(
    step: JobStep, words: Wording, before: LayupEntry | None, by: str, *, same_type: bool
) -> dict[str, str]:
    """What the last craft's entry of the same act fills in; a quantity only of the same type.

    Scale and zero are of the refractometer, and not of the craft: they are taken over on the day
    on which the same person read with it, as is who looked on and how the hose was run.
    """
    if before is None:
        return {}
    product = before.product
    filled = {
        "product": product.name if product else "",
        "lot": product.lot if product else "",
        "cover": str(before.cover or ""),
        "space": before.space,
    }
    if same_type and before.quantity_l is not None:
        unit = unit_typed(_QUANTITY, words, step.quantity_l)
        filled["quantity"] = amount_typed(before.quantity_l, unit)
    if before.by == by and _day_of(before.at, words) == _day_of(words.now, words):
        seen = before.evidence
        filled |= {
            "scale": str(seen.scale or ""),
            "zeroed_on": seen.zeroed_on.isoformat() if seen.zeroed_on else "",
            "witness": seen.witness,
            "flow_order": str(before.flow_order or ""),
        }
    return {column: value for column, value in filled.items() if value}


def _day_of(at: datetime, words: Wording) -> date:
    return at.astimezone(words.zone).date()


def last_of_act(entries: Sequence[LayupEntry], step: JobStep, craft: str) -> LayupEntry | None:
    """The latest entry of a step's act on another craft; None if there is none."""
    alike = [one for one in entries if one.act is step.act and one.craft != craft]
    return max(alike, key=lambda one: (one.at, one.id), default=None)


def entries_of_yard(craft: Iterable[StoredCraft]) -> list[LayupEntry]:
    """The season's work on all craft, from which the next one's fields are filled in."""
    return [entry for one in craft if one.plan_start for entry in one.plan_start.entries]
