"""A job plan for machines: SI with the unit in the key, each step with its sentence."""

from typing import Any

from monitor.craft.plan.step import JobPlan, JobStep
from monitor.craft.profile import Profile
from monitor.phrases.plan import step_sentence
from monitor.wording import Wording


def plan_json(plan: JobPlan, profile: Profile, words: Wording) -> dict[str, Any]:
    """A craft's plan, its steps in working order.

    Parameters
    ----------
    plan : JobPlan
    profile : Profile
        Of the craft.
    words : Wording
        Of the sentences; the numbers beside them are SI.
    """
    return {
        "craft": plan.craft,
        "low_c": plan.low_c,
        "minutes": plan.minutes,
        "unreadable": plan.unreadable or None,
        "needs": [_step_json(step, profile, words) for step in plan.steps],
    }


def _step_json(step: JobStep, profile: Profile, words: Wording) -> dict[str, Any]:
    product = step.product
    return {
        "act": str(step.kind),
        "circuits": list(step.circuits),
        "words": step_sentence(step, profile, words),
        "quantity_l": step.quantity_l,
        "glycol_mass_fraction": product.strength if product else None,
        "product": product.name if product else None,
        "lot": product.lot if product else None,
        "on_shelf": not product.to_buy if product else None,
        "reading_c": step.reading_c,
        "minutes": step.minutes,
        "enter_as": str(step.act) if step.act else None,
        "evidence": [str(one) for one in step.asks],
        "instead": [str(one) for one in step.instead],
        "cautions": [str(one) for one in step.cautions],
    }
