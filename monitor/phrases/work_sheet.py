"""The words of a work sheet: each step of a craft's plan, and what is to be written beside it."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime

from monitor.craft.craft_stays import Stay
from monitor.craft.plan.step import Ask, JobPlan, JobStep
from monitor.craft.record import CraftRecord
from monitor.phrases.names import place_name, plain, space_name
from monitor.phrases.plan import also_words, starts_from_nothing, step_sentence, step_title
from monitor.phrases.spring_progress import NOTE_QUESTIONS
from monitor.phrases.step_in_words import capitalize_first
from monitor.phrases.supplies import minutes_words
from monitor.wording import Wording, typeset
from monitor.yard.assessment import Caution
from monitor.yard.caution import CAUTION_NOTES
from monitor.yard.space import Yard

DO_NOT_START = "DO NOT START before the sign-off"
START_NOTHING_ELSE = "Start no engine unless a step says so"
_LONG = 1200  # signs of a sentence: a finding is in its finder's own words
_COLOUR = {Ask.OUTFLOW, Ask.CLEAR_WATER, Ask.CLEAR_OIL}
# What is seen or not, and so ticked; the rest is written into a box.
_TICKS = {
    Ask.DRY: "seen dry",
    Ask.HOT_ENGINE: "engine hot",
    Ask.TREATED_FUEL: "treated fuel seen",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetStep:
    """One step with its boxes; a unit that is empty means that there is nothing to write."""

    sentence: str
    ticks: tuple[str, ...]
    cautions: tuple[str, ...]
    quantity_unit: str
    reading_unit: str
    has_colour: bool
    also: str  # what would do in its place
    title: str = ""  # above its sentence
    question: str = ""  # to be answered in writing


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetWords:
    """The work sheet of one craft."""

    craft: str
    name: str
    place: str
    warning: str
    summary: str
    complaint: str  # why no work on record counts; empty where it counts
    steps: tuple[SheetStep, ...]
    cautions: frozenset[Caution]


def sheet_words(
    record: CraftRecord, plan: JobPlan, stay: Stay | None, yard: Yard, at: datetime, words: Wording
) -> SheetWords:
    """A craft's work sheet in words.

    Parameters
    ----------
    record : CraftRecord
    plan : JobPlan
        Of that craft, with a step at least.
    stay : Stay or None
        Where it stands; None: nobody says.
    yard : Yard
    at : datetime
        The time that it is printed for.
    words : Wording
        The reader's units and zone.
    """
    count = "1 step" if len(plan.steps) == 1 else f"{len(plan.steps)} steps"
    called_for = {str(care) for step in plan.steps for care in step.cautions}
    return SheetWords(
        craft=record.craft.id,
        name=plain(record.craft.name),
        place=f"{record.craft.id} · {_place_words(stay, yard)} · {plain(record.profile.name)}",
        warning=START_NOTHING_ELSE,
        summary=(
            f"{count}, about {minutes_words(plan.minutes)}, to stand"
            f" {words.temperature(plan.low_c, 0)}. As of {words.day(at)},"
            f" {at.astimezone(words.zone):%H:%M}."
        ),
        complaint=typeset(plain(starts_from_nothing(plan), _LONG)),
        steps=tuple(_sheet_step(step, record, words) for step in plan.steps),
        cautions=frozenset(one for one in Caution if one.value in called_for),
    )


def spring_sheet_words(
    record: CraftRecord, plan: JobPlan, stay: Stay | None, yard: Yard, at: datetime, words: Wording
) -> SheetWords:
    """The sheet of the steps before a craft's first start; parameters as `sheet_words` has them."""
    said = sheet_words(record, plan, stay, yard, at, words)
    count = "1 step" if len(plan.steps) == 1 else f"{len(plan.steps)} steps"
    steps = tuple(
        replace(
            sheet,
            title=typeset(plain(step_title(step, record.profile, words), _LONG)),
            question=NOTE_QUESTIONS.get(step.kind, ""),
        )
        for sheet, step in zip(said.steps, plan.steps, strict=True)
    )
    return replace(
        said,
        steps=steps,
        warning=DO_NOT_START,
        summary=(
            f"{count} before and at the first start, about {minutes_words(plan.minutes)}. As of"
            f" {words.day(at)}, {at.astimezone(words.zone):%H:%M}."
        ),
        complaint=typeset(plain(starts_from_nothing(plan), _LONG)),
    )


def _place_words(stay: Stay | None, yard: Yard) -> str:
    if stay is None:
        return "place not on record"
    return place_name(space_name(yard, stay.space), stay.berth)


def _sheet_step(step: JobStep, record: CraftRecord, words: Wording) -> SheetStep:
    asks = set(step.asks)
    reading = words.temperature_unit if Ask.READING in asks else ""
    volts = Ask.RESTED_VOLTAGE in asks
    return SheetStep(
        sentence=capitalize_first(
            typeset(plain(step_sentence(step, record.profile, words), _LONG))
        ),
        ticks=tuple(_ticks(step)),
        cautions=tuple(CAUTION_NOTES[Caution(str(care))] for care in step.cautions),
        quantity_unit="" if step.quantity_l is None or words.units is None else words.units.volume,
        reading_unit=f"°{reading}" if reading else "V" if volts else "",
        has_colour=bool(_COLOUR & asks),
        also=also_words(step),
    )


def _ticks(step: JobStep) -> Iterator[str]:
    for ask in step.asks:
        if ask in _TICKS:
            yield _TICKS[ask]
    if Ask.READING in step.asks:
        yield "zero checked with water"
        yield f"{step.product.liquid} scale" if step.product else "scale of its glycol"
