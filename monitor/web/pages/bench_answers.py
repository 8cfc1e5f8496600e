"""What was filled in at the bench, read field by field, and the entry that it makes."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any

from monitor.craft.canonical import entry_from
from monitor.craft.fields import BY_PATH, Field, FieldKind, in_our_time
from monitor.craft.findings import new_finding_id
from monitor.craft.layup import (
    ANTIFREEZE,
    ONE_LINE,
    SEVERAL_LINES,
    WITH_OWNER,
    Act,
    FindingKind,
    LayupEntry,
    Seen,
)
from monitor.craft.plan.shelf import product_named
from monitor.craft.plan.step import JobStep
from monitor.craft.record import CraftRecord
from monitor.errors import BadValueError, problem_and_remedy
from monitor.units import TEMPERATURE, parse_quantity
from monitor.web.pages.bench_fields import fields_at_bench, shelf_of, unit_typed
from monitor.wording import Wording
from monitor.yard.people import check_witness, person_id
from monitor.yard.space import Yard

_LONGEST_NUMBER = 40
_LONGEST_WAIT = timedelta(days=14)  # of a phone without a link; older work is entered by its date
_READING = "evidence.ice_point_c"
_OF_READING = frozenset({"evidence.scale", "evidence.zeroed_on"})


@dataclass(slots=True, kw_only=True)
class StepAnswers:
    """What was said, by path of the field; what cannot be used of it, by column."""

    said: dict[str, Any] = field(default_factory=dict)
    wrong: dict[str, str] = field(default_factory=dict)


def when_done(form: Mapping[str, str], now: datetime) -> datetime:
    """When the work was done: now, less the seconds that the answers waited in the phone.

    The phone's clock may be wrong, so it only says how long they waited.

    Raises
    ------
    BadValueError
        If that is no number, or longer than any phone is without a link.
    """
    text = form.get("waited", "").strip() or "0"
    waited = timedelta(seconds=int(text)) if text.isdecimal() and len(text) < 9 else None
    if waited is None or waited > _LONGEST_WAIT:
        raise BadValueError(
            f"these answers waited {text[:12]!r} seconds in the phone",
            "enter the work anew, with its day",
        )
    return now - waited


def read_answers(
    form: Mapping[str, str], step: JobStep, record: CraftRecord, yard: Yard, words: Wording
) -> StepAnswers:
    """Read the fields of a step; each that cannot be used is named with its remedy."""
    found = StepAnswers()
    for one in fields_at_bench(step, record):
        if one.path == "circuits":
            continue
        text = form.get(one.column, "").strip()
        if not text:
            continue
        try:
            found.said[one.path] = _value_of(one, text, step, yard, words)
        except ValueError as error:
            found.wrong[one.column] = ". ".join(filter(None, problem_and_remedy(error)))
    if _READING not in found.said and BY_PATH[_READING].column not in found.wrong:
        for path in _OF_READING & found.said.keys():
            del found.said[path]  # of a reading that nobody took
    _read_circuits(form, step, found)
    _take_from_shelf(found.said, step, yard)
    if "product.name" not in found.said:
        found.said.pop("product.lot", None)
    return found


def _read_circuits(form: Mapping[str, str], step: JobStep, found: StepAnswers) -> None:
    """The step's circuits, but for those whose box says that they were left out."""
    left_out = [name for name in step.circuits if form.get(f"not {name}")]
    named = tuple(name for name in step.circuits if name not in left_out)
    if step.circuits and not named:
        found.wrong["circuits"] = "Name at least one that you worked on."
    found.said["circuits"] = named


def _take_from_shelf(said: dict[str, Any], step: JobStep, yard: Yard) -> None:
    name = said.get("product.name")
    known = product_named(name, shelf_of(yard, step)) if name else None
    if known is not None and step.act in ANTIFREEZE:
        said |= {
            "product.name": known.name,
            "product.liquid": known.liquid,
            "product.strength": known.strength,
        }
        if known.lot:
            said["product.lot"] = known.lot


def _value_of(one: Field, text: str, step: JobStep, yard: Yard, words: Wording) -> Any:  # noqa: ANN401
    """What one field's text stands for, in SI; ValueError where it stands for nothing."""
    if one.kind is FieldKind.QUANTITY:
        return _quantity_of(one, text, step, words)
    if one.path == "space":
        if text != WITH_OWNER and text not in {space.id for space in yard.spaces}:
            raise BadValueError(f"there is no space {text[:40]!r}", "choose one of the list")
        return text
    if one.path == "product.name" and step.act in ANTIFREEZE:
        if product_named(text, shelf_of(yard, step)) is None:
            raise BadValueError(f"{text[:40]!r} is not on the shelf", "choose one of the list")
        return text
    if one.kind is FieldKind.YES_NO:
        if text not in one.words:
            raise BadValueError(f"{text[:40]!r} is neither yes nor no", "choose one of them")
        return text == "yes"
    if one.kind is FieldKind.CHOICE and one.choices is not None:
        if text not in one.words:
            raise BadValueError(f"{text[:40]!r} is none of the choices", "choose one of them")
        return one.choices(text)
    if one.kind is FieldKind.DAY:
        return in_our_time(date.fromisoformat(text))
    if one.person:
        return person_id(text, words.people)
    return line_of(text, one.longest, several=one.kind is FieldKind.TEXT)


def line_of(text: str, longest: int, *, several: bool = False) -> str:
    """A text as the record takes it.

    Raises
    ------
    BadValueError
        If it is too long, or holds what no line can.
    """
    text = text.replace("\r\n", "\n")
    if len(text) > longest:
        raise BadValueError(f"it has {len(text)} letters", f"write {longest} at most")
    if not re.search(SEVERAL_LINES if several else ONE_LINE, text):
        raise BadValueError("it holds signs that nobody types", "write it again by hand")
    return text


def _quantity_of(one: Field, text: str, step: JobStep, words: Wording) -> float:
    assert one.dimension is not None  # noqa: S101 - every quantity has one
    if len(text) > _LONGEST_NUMBER:
        raise BadValueError(f"{text[:20]!r}… is no number", "write it in a few signs")
    if not any(sign.isalpha() or sign == "%" for sign in text):
        unit = unit_typed(one, words, step.quantity_l)
        below = one.dimension is TEMPERATURE and unit == "C" and one.high <= 0.0
        text = f"-{text}{unit}" if below and text[0].isdigit() else f"{text}{unit}"
    value = parse_quantity(text, one.dimension)
    if refusal := one.refusal(value):
        raise refusal
    return value


def entry_of_step(
    answers: StepAnswers,
    step: JobStep,
    *,
    draft: str,
    craft: str,
    by: str,
    at: datetime,
    words: Wording,
) -> LayupEntry | None:
    """The entry that answers make; None where they cannot, and the answers then say why."""
    if answers.wrong:
        return None
    settles = (step.finding.seen.id,) if step.finding is not None else ()
    try:
        check_witness(by, answers.said.get("evidence.witness", ""), words.people)
    except ValueError as error:
        answers.wrong["witness"] = ". ".join(filter(None, problem_and_remedy(error)))
        return None
    try:
        return entry_from(
            {
                **answers.said,
                "id": draft,
                "craft": craft,
                "at": at,
                "by": by,
                "act": step.act,
                "settles": settles,
            }
        )
    except ValueError as error:
        answers.wrong[""] = ". ".join(filter(None, problem_and_remedy(error)))
        return None


def entry_of_finding(
    form: Mapping[str, str],
    record: CraftRecord,
    *,
    draft: str,
    by: str,
    at: datetime,
    photos: tuple[str, ...] = (),
) -> tuple[LayupEntry | None, dict[str, str]]:
    """The entry of something that was found wrong; None with what is wrong of it, by field."""
    wrong: dict[str, str] = {}
    said: dict[str, str] = {}
    for name, longest in (("part", 80), ("words", 200)):
        text = " ".join(form.get(name, "").split())
        try:
            said[name] = line_of(text, longest) if text else ""
        except ValueError as error:
            wrong[name] = ". ".join(filter(None, problem_and_remedy(error)))
            continue
        if not text:
            wrong[name] = "This one is needed."
    kind = form.get("kind", "")
    if kind and kind not in set(FindingKind):
        wrong["kind"] = "Choose one of them."
    if wrong:
        return None, wrong
    seen = Seen(
        id=new_finding_id(record.craft.id, said["part"], record.on_record),
        part=said["part"],
        words=said["words"],
        kind=FindingKind(kind) if kind else None,
    )
    values = {
        "id": draft,
        "craft": record.craft.id,
        "at": at,
        "by": by,
        "act": Act.INSPECTED,
        "findings": (seen,),
        "evidence.photo_sha256": photos,
    }
    return entry_from(values), {}
