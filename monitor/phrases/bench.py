"""What the bench asks of a person, and what it says back before anything is on record."""

from collections.abc import Mapping
from math import inf

from monitor.craft.fields import BY_PATH, Field
from monitor.craft.plan.step import Ask, JobPlan
from monitor.craft.plan.yard import sum_supplies
from monitor.craft.profile import CircuitKind
from monitor.craft.protection import LayupState, Protection
from monitor.phrases.supplies import minutes_words, product_words
from monitor.phrases.work_told import contents_words
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


def left_words(plan: JobPlan, words: Wording, *, tonight: bool = False) -> str:
    """What is left of a job: ``6 steps left, about 40 min, 1.8 gal of the 50 %``."""
    steps = plan.steps
    if not steps:
        return "Nothing is left to do by the record"
    many = "1 step" if len(steps) == 1 else f"{len(steps)} steps"
    pours = [
        f"{words.about(one.litres)} of {product_words(one.product)}" for one in sum_supplies([plan])
    ]
    when = " for tonight" if tonight else ""
    return ", ".join([f"{many} left{when}", f"about {minutes_words(plan.minutes)}", *pours])


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


def too_warm_words(read_c: float, goal_c: float, words: Wording) -> str:
    """That a sample was read warmer than the step needs it."""
    return (
        f"Read at {words.ice_point(read_c)}, and it takes {words.ice_point(goal_c)} or colder:"
        " the step stays open."
    )


def done_already_words(act: str, by: str, at: str) -> str:
    """That somebody else did a step since its page was opened."""
    return f"Since this page was opened, {by} entered {act} ({at}). Enter yours as well?"


def same_moment_words(by: str, at: str) -> tuple[str, str]:
    """That the same work of the same moment is on record, and what to do."""
    return (
        f"{by} entered this very work of this very moment ({at})",
        "It counts once. If it was done a second time, enter it in a minute.",
    )


def held_words(held: Protection, kind: CircuitKind | None, words: Wording) -> str:
    """What a circuit holds and how far: ``50 % glycol, ice from −32 °C; read from a sample``."""
    if held.state is not LayupState.PROVEN:
        return f"{STATE_AT_BENCH[held.state]}, so it counts as water"
    if held.ice_point_c > -inf:
        limit = words.ice_point(held.ice_point_c)
        return f"{contents_words(held, words)}, holds to {limit}; {held.basis}"
    if kind is CircuitKind.OIL:
        return "clear oil, no water in it"
    return "dry: drained and seen dry"


STATE_AT_BENCH: Mapping[LayupState, str] = {
    LayupState.UNPROVEN: "said to be done, not shown",
    LayupState.HEAT_ONLY: "safe only while it is kept warm",
    LayupState.VOID: "undone since it was laid up",
    LayupState.UNKNOWN: "nothing is on record",
}


def not_proven_words(parts: str, why: str) -> str:
    """That work as it was told would leave parts unproven."""
    return f"As told, this would not prove {parts}: {why.rstrip('.')}."


PLAN_CHANGED = "The plan has changed since this page was opened. Enter it all the same?"
NOTHING_TONIGHT = (
    "Nothing is left to do against tonight's frost. What follows is the rest of its lay-up."
)
STAYS_OPEN = "As told, the step would stay open."
