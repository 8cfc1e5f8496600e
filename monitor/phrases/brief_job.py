"""A job against the frost in a few words a step."""

from collections.abc import Callable, Sequence

from monitor.craft.plan.step import Ask, JobStep, StepKind
from monitor.phrases.step_in_words import CircuitNames, StepInWords
from monitor.wording import Wording

_BRIEFS: dict[StepKind, Callable[[StepInWords], str]] = {
    StepKind.THAW: lambda _: (
        "do not start, crank or pull hoses of it, and give it gentle heat or move it into a warm"
        " space"
    ),
    StepKind.INSPECT_AFTER_ICE: lambda told: (
        f"thaw {told.short}, look for leaks and for water in the oil"
    ),
    StepKind.EMPTY_TANK: lambda told: f"pump out and drain {told.short}",
    StepKind.CLEAR_BLOCKAGE: lambda told: (
        f"find what blocks {told.short}, drain it there and probe it"
        if Ask.DRY in told.step.asks
        else f"open {told.short} and clear what blocks it"
    ),
    StepKind.FLUSH: lambda told: f"flush {told.short} until clear water comes out",
    StepKind.DRAIN_ENGINE: lambda told: f"pull and probe every drain of {told.short}",
    StepKind.FILL_BY_HAND: lambda told: (
        f"fill {told.short} by hand, {told.dose}, and read a sample"
    ),
    StepKind.RUN_ANTIFREEZE: lambda told: f"run {told.dose} through {told.short} and read a sample",
    StepKind.DRAIN: lambda told: f"drain {told.short}{told.standing} and see it dry",
    StepKind.PUMP_ANTIFREEZE: lambda told: (
        f"pump {told.dose} through {told.short} and read a sample"
    ),
    StepKind.BLOW_OUT: lambda told: f"blow out {told.short} until both ends run dry",
    StepKind.READ_SAMPLE: lambda told: f"read a sample of {told.short}",
    StepKind.TEST_COOLANT: lambda told: f"test {told.short}",
    StepKind.RENEW_COOLANT: lambda told: f"strengthen {told.short}",
    StepKind.CHANGE_OIL: lambda told: (
        f"look at the oil of {told.short}; milky: let it out, seal, refill"
    ),
    StepKind.WARM: lambda told: f"move it into heat, no mix holds in {told.short}",
}


def brief_job(
    steps: Sequence[JobStep], circuits: CircuitNames, words: Wording, told_steps: int | None = None
) -> str:
    """A whole job against the frost in one clause, each step in a few words.

    Parameters
    ----------
    steps : sequence of JobStep
        Those that keep frost out, in order; at least one.
    circuits : CircuitNames
        Of the craft.
    words : Wording
    told_steps : int, optional
        So many are told, and the others counted; all without it.
    """
    briefs: list[str] = []
    first = ""
    for step in steps:
        if step.kind is StepKind.REFIT_DRAINS:
            first = "put the drains back and "  # one act with the filling that it is for
            continue
        briefs.append(first + _BRIEFS[step.kind](StepInWords(step, circuits, words)))
        first = ""
    told = briefs[:told_steps]
    rest = len(briefs) - len(told)
    if rest:
        told.append(f"{rest} more {'step' if rest == 1 else 'steps'}")
    return "; then ".join(["; ".join(told[:-1]), told[-1]] if len(told) > 1 else told)
