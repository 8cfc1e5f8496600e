"""What the bench asks of a person, and what it says back before anything is on record."""

from collections.abc import Mapping

from monitor.craft.fields import BY_PATH, Field
from monitor.craft.plan.step import Ask, JobPlan
from monitor.craft.plan.yard import sum_supplies
from monitor.phrases.supplies import minutes_words, product_words
from monitor.wording import Wording

# What a field is told by that a step asks for.
ASKED_IN: Mapping[Ask, tuple[str, ...]] = {
    Ask.DRY: ("evidence.dry",),
    Ask.OUTFLOW: ("evidence.outflow",),
    Ask.CLEAR_WATER: ("evidence.outflow",),
    Ask.READING: ("evidence.ice_point_c", "evidence.scale", "evidence.zeroed_on"),
    Ask.HOT_ENGINE: ("evidence.engine_hot",),
    Ask.CLEAR_OIL: ("evidence.oil",),
    Ask.TREATED_FUEL: ("evidence.treated_fuel_seen",),
    Ask.RESTED_VOLTAGE: ("rested_v", "space"),
}
COLD_ENGINE = (
    "Cold, its thermostat is shut: what is run fills the manifolds alone. Pull the drains of the"
    " block first, or warm the engine on water outdoors."
)
PROVES_NOTHING = "Without this the step stays open."


def left_words(plan: JobPlan, words: Wording) -> str:
    """What is left of a job: ``6 steps left, about 40 min, 1.8 gal of the 50 %``."""
    steps = plan.steps
    if not steps:
        return "Nothing is left to do by the record"
    many = "1 step" if len(steps) == 1 else f"{len(steps)} steps"
    pours = [
        f"{words.about(one.litres)} of {product_words(one.product)}" for one in sum_supplies([plan])
    ]
    return ", ".join([f"{many} left", f"about {minutes_words(plan.minutes)}", *pours])


def question_of(field: Field) -> str:
    """The question at the bench, without the example that a terminal needs."""
    question, _, rest = field.question.partition(", like ")
    return f"{question}?" if rest else question


def lacking_words(step_asks: tuple[Ask, ...], said: Mapping[str, object]) -> dict[str, str]:
    """Beside which field it is said that the step stays open without it, by column."""
    return {
        BY_PATH[path].column: PROVES_NOTHING
        for ask in step_asks
        for path in ASKED_IN[ask]
        if path not in said
    }


def done_already_words(act: str, by: str, at: str) -> str:
    """That somebody else did a step since its page was opened."""
    return f"Since this page was opened, {by} entered {act} ({at}). Enter yours as well?"


def not_proven_words(parts: str, why: str) -> str:
    """That work as it was told would leave parts unproven."""
    return f"As told, this would not prove {parts}: {why.rstrip('.')}."


PLAN_CHANGED = "The plan has changed since this page was opened. Enter it all the same?"
STAYS_OPEN = "As told, the step would stay open."
