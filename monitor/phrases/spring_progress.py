"""How far a craft is before its first start, in words: the state, what each step asks for."""

from typing import Any

from monitor.craft.canonical import utc_text
from monitor.craft.entry_words import evidence_words
from monitor.craft.layup import LayupEntry
from monitor.craft.plan.step import Ask, StepKind
from monitor.craft.profile import Profile
from monitor.craft.record import CraftRecord
from monitor.craft.spring_progress import SpringProgress, SpringStep
from monitor.phrases.plan import step_sentence, step_title
from monitor.wording import Wording

NOTHING_LEFT = "Made ready for the water, and the winter left nothing to look at."
# What a person writes beside a step, and whether it is on record without.
NOTE_QUESTIONS: dict[StepKind, str] = {
    StepKind.LOOK_AFTER_ICE: "Thawed through? What did the pressure test read, and for how long?",
    StepKind.LOOK_AT_UNPROVEN: "What did you see?",
    StepKind.SETTLE_FINDING: "What was done about it?",
    StepKind.CATCH_ANTIFREEZE: "Into which drum, how much?",
}
NOTE_NEEDED = frozenset(
    {StepKind.LOOK_AFTER_ICE, StepKind.SETTLE_FINDING, StepKind.CATCH_ANTIFREEZE}
)
ANY_NOTE = "Anything to note?"
LACKING: dict[Ask, str] = {
    Ask.CLEAR_OIL: (
        "Milky oil has water in it: no start. Enter it under Found something wrong, and have it"
        " seen to."
    ),
    Ask.CLEAR_WATER: "Flush on until the water runs clear. Until then the step stays open.",
    Ask.RESTED_VOLTAGE: "Read its volts at rest. Until then the step stays open.",
}


def state_words(progress: SpringProgress) -> str:
    """Whether it may be started, and what keeps it from that, in a sentence."""
    still = len(progress.open_before_start)
    if progress.commissioned is not None and not still:
        return "It is made ready for the water."
    if progress.may_be_started:
        return "Signed off: it may be started."
    if not still:
        return "DO NOT START: every step is done, and nobody has signed off."
    return f"DO NOT START: {still} {'step is' if still == 1 else 'steps are'} open."


def done_words(progress: SpringProgress) -> str:
    """``3 of 9 steps before the sign-off done``."""
    before = progress.before_start
    done = len(before) - len(progress.open_before_start)
    return f"{done} of {len(before)} step{'' if len(before) == 1 else 's'} before the sign-off done"


def step_words(one: SpringStep, profile: Profile, words: Wording) -> tuple[str, str]:
    """Title and sentence of a step."""
    step = one.step
    return step_title(step, profile, words), step_sentence(step, profile, words)


def ticked_words(entry: LayupEntry, words: Wording) -> str:
    """Who did a step, when, and what was read or noted."""
    # The line itself says the step.
    step = f"step: {entry.readied}"
    seen = "; ".join(one for one in evidence_words(entry, words) if one != step)
    return f"{words.clock(entry.at)}, {words.person(entry.by)}{f': {seen}' if seen else ''}"


def needs_note(kind: StepKind) -> str:
    """What is said of a step that is entered without its note."""
    return f"{NOTE_QUESTIONS[kind]} Without it the step stays open."


def spring_json(record: CraftRecord, progress: SpringProgress, words: Wording) -> dict[str, Any]:
    """How far a craft is, as JSON: SI, the unit in the key, times in UTC; steps in their order."""
    return {
        "craft": record.craft.id,
        "begun_at": None if progress.begun_at is None else utc_text(progress.begun_at),
        "steps_before_start": len(progress.before_start),
        "open_before_start": len(progress.open_before_start),
        "may_be_started": progress.may_be_started,
        "steps": [_step_json(one, record, words) for one in progress.steps],
    }


def _step_json(one: SpringStep, record: CraftRecord, words: Wording) -> dict[str, Any]:
    title, sentence = step_words(one, record.profile, words)
    done = one.done_by
    return {
        "title": title,
        "words": sentence,
        "circuits": list(one.step.circuits),
        "cautions": [str(care) for care in one.step.cautions],
        "minutes": one.step.minutes,
        "before_start": one.is_before_start,
        "done_by": None if done is None else done.by,
        "done_at": None if done is None else utc_text(done.at),
        "entry": None if done is None else done.id,
    }
