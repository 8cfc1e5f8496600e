"""A whole job in a handful of words, for a line that is read in the dark."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from monitor.craft.plan.step import AGAINST_FROST, Ask, JobStep, StepKind
from monitor.phrases.step_in_words import CircuitNames
from monitor.wording import Wording


@dataclass(frozen=True, slots=True)
class _Work:
    """All steps of one kind in a job, taken together."""

    circuits: tuple[str, ...]
    litres: float | None
    dry: bool
    names: CircuitNames
    words: Wording

    @property
    def dose(self) -> str:
        return "antifreeze" if self.litres is None else self.words.about(self.litres)

    def count(self, one: str, many: str) -> str:
        return one if len(self.circuits) < 2 else f"{len(self.circuits)} {many}"

    @property
    def parts(self) -> str:
        if len(self.circuits) == 1:
            return f"the {self.names.circuit_name(self.circuits[0])}"
        return f"{len(self.circuits)} parts"


_SHORT: dict[StepKind, Callable[[_Work], str]] = {
    StepKind.THAW: lambda _: "thaw it",
    StepKind.INSPECT_AFTER_ICE: lambda _: "look for leaks",
    StepKind.EMPTY_TANK: lambda work: f"empty {work.count('the tank', 'tanks')}",
    StepKind.CLEAR_BLOCKAGE: lambda work: (
        f"clear what blocks {work.parts}{', drain there' if work.dry else ''}"
    ),
    StepKind.FLUSH: lambda _: "flush until clear",
    StepKind.DRAIN_ENGINE: lambda _: "probe every engine drain",
    StepKind.REFIT_DRAINS: lambda _: "refit them",
    StepKind.FILL_BY_HAND: lambda work: f"pour in {work.dose}",
    StepKind.RUN_ANTIFREEZE: lambda work: f"run {work.dose} through",
    StepKind.DRAIN: lambda work: f"drain {work.parts}",
    StepKind.PUMP_ANTIFREEZE: lambda work: f"pump {work.dose} through",
    StepKind.BLOW_OUT: lambda work: f"blow out {work.parts}",
    StepKind.READ_SAMPLE: lambda _: "read a sample",
    StepKind.TEST_COOLANT: lambda _: "test the coolant",
    StepKind.RENEW_COOLANT: lambda _: "strengthen the coolant",
    StepKind.CHANGE_OIL: lambda _: "change the oil",
    StepKind.WARM: lambda _: "move it into heat",
}
_VERBS: dict[StepKind, str] = {
    StepKind.THAW: "thaw",
    StepKind.INSPECT_AFTER_ICE: "inspect",
    StepKind.EMPTY_TANK: "drain",
    StepKind.CLEAR_BLOCKAGE: "unblock",
    StepKind.FLUSH: "flush",
    StepKind.DRAIN_ENGINE: "drain",
    StepKind.REFIT_DRAINS: "refit",
    StepKind.FILL_BY_HAND: "fill",
    StepKind.RUN_ANTIFREEZE: "treat",
    StepKind.DRAIN: "drain",
    StepKind.PUMP_ANTIFREEZE: "treat",
    StepKind.BLOW_OUT: "blow out",
    StepKind.READ_SAMPLE: "sample",
    StepKind.TEST_COOLANT: "test",
    StepKind.RENEW_COOLANT: "treat",
    StepKind.CHANGE_OIL: "drain",
    StepKind.WARM: "move",
}


for _kind in AGAINST_FROST - (_SHORT.keys() & _VERBS.keys()):
    raise ValueError(f"step {_kind}: keeps frost out and has no short words")


def short_job(
    steps: Sequence[JobStep], names: CircuitNames, words: Wording, most_words: int
) -> str:
    """A whole job, each kind of work once, with how much of it goes in.

    Parameters
    ----------
    steps : sequence of JobStep
        Those that keep frost out, in order; at least one.
    names : CircuitNames
        Of the craft.
    words : Wording
        The reader's units.
    most_words : int
        From there on what is left is only counted.

    Returns
    -------
    str
        Like ``probe every engine drain, pour in 24 L, change the oil``.
    """
    said: list[str] = []
    kinds = list(dict.fromkeys(step.kind for step in steps))
    for n, kind in enumerate(kinds):
        work = _work_of([step for step in steps if step.kind is kind], names, words)
        next_one = _SHORT[kind](work)
        rest = len(kinds) - n
        counted = 0 if rest == 1 else 3  # so many words take "and 2 more"
        if said and len(" ".join([*said, next_one]).split()) > most_words - counted:
            return f"{', '.join(said)} and {rest} more"
        said.append(next_one)
    return ", ".join(said)


def short_job_if_it_runs(
    steps: Sequence[JobStep], names: CircuitNames, words: Wording, most_words: int
) -> str:
    """The same where ice may have come already: first whether water still runs.

    Parameters and shape as for `short_job`.
    """
    room = max(most_words - _IF_IT_RUNS_WORDS, _FEWEST_WORDS)
    job = short_job(steps, names, words, room)
    return f"open a drain. Water runs: {job}. Nothing comes: do not start it"


_IF_IT_RUNS_WORDS = 11  # around the job
_FEWEST_WORDS = 3


def job_verb(steps: Sequence[JobStep]) -> str:
    """What is done first, in a word for a subject line."""
    return _VERBS[steps[0].kind]


def _work_of(steps: Sequence[JobStep], names: CircuitNames, words: Wording) -> _Work:
    litres = [step.quantity_l for step in steps if step.quantity_l is not None]
    return _Work(
        circuits=tuple(dict.fromkeys(one for step in steps for one in step.circuits)),
        litres=sum(litres) if litres else None,
        dry=any(Ask.DRY in step.asks for step in steps),
        names=names,
        words=words,
    )
