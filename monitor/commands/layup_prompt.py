"""The questions of the bench: one at a time, only those that the act calls for."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from pydantic import BaseModel, TypeAdapter, ValidationError

from monitor.craft.admission import NAMES_CIRCUITS
from monitor.craft.circuit import Way
from monitor.craft.layup import (
    ANTIFREEZE,
    ENGINE_RUNS,
    Act,
    Cover,
    FlowOrder,
    Liquid,
    OilLook,
    Outflow,
    Posture,
)
from monitor.craft.profile import Profile, Proof
from monitor.craft.record import CraftRecord
from monitor.settings.layup_form import EntryForm, FindingForm, ProductForm
from monitor.yard.space import Yard

Ask = Callable[[str], str]
Say = Callable[[str], None]

_LEAVE = {"q", "quit"}
_FEW = 6  # more choices than that are shown as a numbered list


class _LeftError(Exception):
    """The person left without an entry."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Question:
    field: str  # of the form; ``product.`` in front: of the product
    words: str
    choices: tuple[str, ...] = ()
    needed: bool = False


_PRODUCT = (
    _Question(field="product.name", words="Which product (name on the jug)?"),
    _Question(field="product.liquid", words="Made of?", choices=tuple(str(one) for one in Liquid)),
    _Question(field="product.strength", words="Glycol in it as poured, like 50%?"),
    _Question(field="product.label_burst", words="Burst rating on the label, like -50F?"),
    _Question(field="product.lot", words="Lot number?"),
)
_READING = (
    _Question(field="ice_point", words="Refractometer, a sample from the outlet, like -30C?"),
    _Question(field="scale", words="Read on which scale?", choices=("propylene", "ethylene")),
    _Question(field="zeroed_on", words="Refractometer last set to zero on, like 2026-11-02?"),
)
_DRY = _Question(field="dry", words="Probed and seen dry?", choices=("yes", "no"))
_OIL = _Question(
    field="oil", words="How did the oil look?", choices=tuple(str(one) for one in OilLook)
)
_POSTURE = _Question(
    field="posture", words="How does it stand?", choices=tuple(str(one) for one in Posture)
)
_COVER = _Question(
    field="cover", words="What kind of cover?", choices=tuple(str(one) for one in Cover)
)
_RESTED = _Question(field="rested", words="Battery at rest, like 12.6V?")
_FLOW = _Question(
    field="flow_order", words="Which came first?", choices=tuple(str(one) for one in FlowOrder)
)


def ask(
    records: list[CraftRecord], craft: str | None, yard: Yard, answer: Ask, say: Say
) -> tuple[str, EntryForm] | None:
    """Ask for one entry, question by question.

    Parameters
    ----------
    records : list of CraftRecord
        Craft to choose from.
    craft : str or None
        The craft, if it is known already.
    yard : Yard
        Whose spaces a battery can go to, and whose clock tells the time.
    answer : callable
        Shows a question and returns what the person typed.
    say : callable
        Shows a line.

    Returns
    -------
    tuple of str and EntryForm, or None
        Craft and entry; None if the person left with ``q``.
    """
    say("Enter alone leaves a question open: nothing is assumed. q leaves without an entry.")
    by_id = {record.craft.id: record for record in records}
    try:
        if craft not in by_id:
            craft = _craft(by_id, answer, say)
        profile = by_id[craft].profile
        said = _entry(profile, yard, answer, say)
        form = EntryForm.model_validate(said)
        say(f"{form.act} on {craft} by {form.by}: {_spoken(said)}")
        if answer("Write it into the record? (yes/no) ").strip().lower() not in {"y", "yes"}:
            return None
        return craft, form
    except (_LeftError, EOFError):
        return None


def _craft(by_id: dict[str, CraftRecord], answer: Ask, say: Say) -> str:
    for key, record in by_id.items():
        say(f"  {key}: {record.craft.name}, {record.profile.name}")
    while True:
        text = answer("Which craft (id or name)? ").strip().lower()
        if text in _LEAVE:
            raise _LeftError
        meant = [key for key, record in by_id.items() if text in {key, record.craft.name.lower()}]
        if len(meant) == 1:
            return meant[0]
        say("  No such craft." if not meant else f"  Which of {', '.join(meant)}?")


def _entry(profile: Profile, yard: Yard, answer: Ask, say: Say) -> dict[str, Any]:
    said: dict[str, Any] = {}
    now = datetime.now(yard.zone).isoformat(timespec="minutes")
    said["by"] = _one(
        _Question(field="by", words="Who did it?", needed=True), EntryForm, answer, say
    )
    said["at"] = _one(_Question(field="at", words=f"When ({now})?"), EntryForm, answer, say) or now
    acts = tuple(str(one) for one in Act)
    said["act"] = _one(
        _Question(field="act", words="What was done?", choices=acts, needed=True),
        EntryForm,
        answer,
        say,
    )
    act = Act(said["act"])
    circuits = _circuits(profile, answer, say, needed=act in NAMES_CIRCUITS)
    if circuits:
        said["circuits"] = circuits
    for question in _questions(act, profile, circuits, yard):
        group, _, field = question.field.rpartition(".")
        if group and field != "name" and "product" not in said:
            continue  # no product was named
        if question.field in {"scale", "zeroed_on"} and "ice_point" not in said:
            continue
        given = _one(question, ProductForm if group else EntryForm, answer, say)
        if given is None:
            continue
        (said.setdefault("product", {}) if group else said)[field] = given
    finding = answer("Anything found that needs work (in words)? ").strip()
    if finding.lower() in _LEAVE:
        raise _LeftError
    if finding:
        said["findings"] = [_finding(finding, answer, say)]
    note = answer("A note? ").strip()
    if note:
        said["note"] = note
    return said


def _questions(act: Act, profile: Profile, circuits: list[str], yard: Yard) -> Iterator[_Question]:
    if act in ANTIFREEZE:
        yield from _PRODUCT
        yield _Question(field="quantity", words="How much, like 14floz or 6L?")
        yield _Question(field="residual", words="Water known to be left before, like 4floz?")
        yield _Question(
            field="outflow",
            words="What was seen at the outlet?",
            choices=tuple(str(one) for one in Outflow),
        )
        yield from _READING
        hot = act is Act.ANTIFREEZE_RUN_THROUGH and any(
            (way := profile.find(name).treatment(Way.RUN_THROUGH)) and Proof.HOT_ENGINE in way.needs
            for name in circuits
        )
        if hot:
            yield _Question(
                field="engine_hot", words="Engine hot, thermostat open?", choices=("yes", "no")
            )
    if act in ENGINE_RUNS and profile.flow_order is not None:
        yield _FLOW
    if act is Act.FUEL_RUN_THROUGH:
        yield _Question(
            field="treated_fuel_seen",
            words="Treated fuel seen at the filter or bowl?",
            choices=("yes", "no"),
        )
    if act in {Act.FUEL_STABILISED, Act.FOGGED_RUNNING, Act.FOGGED_PLUG_HOLES, Act.SPRAYED_DOWN}:
        yield _PRODUCT[0]
        yield _PRODUCT[4]
    if act in {Act.DRAINED, Act.BLOWN_OUT}:
        yield _DRY
        yield _POSTURE
    if act is Act.STOOD:
        yield _POSTURE
    if act is Act.COVER_FITTED:
        yield _COVER
    if act is Act.OIL_CHANGED:
        yield _OIL
    if act is Act.INSPECTED:
        yield _DRY
        yield from _READING
        yield _OIL
        yield _RESTED
    if act is Act.BATTERY_REMOVED:
        spaces = tuple(space.id for space in yard.spaces)
        yield _Question(field="space", words="Where did it go (none: its owner)?", choices=spaces)
    if str(act).startswith("battery"):
        yield _RESTED
    if act is Act.REPAIRED:
        yield _Question(field="settles", words="Which finding does it settle (id)?")


def _circuits(profile: Profile, answer: Ask, say: Say, *, needed: bool) -> list[str]:
    known = list(profile.circuit_ids)
    for number, one in enumerate(profile.circuits, start=1):
        say(f"  {number}: {one.circuit.id} ({one.circuit.name})")
    while True:
        text = answer("Which circuits (numbers, or all)? ").strip().lower()
        if text in _LEAVE:
            raise _LeftError
        if text == "all":
            return known
        words = text.replace(",", " ").split()
        chosen = [
            known[int(word) - 1] if word.isdigit() and 0 < int(word) <= len(known) else word
            for word in words
        ]
        strange = [word for word in chosen if word not in known]
        if strange:
            say(f"  There is no circuit {strange[0]!r}.")
        elif not chosen and needed:
            say("  Protection belongs to a circuit: name at least one.")
        else:
            return list(dict.fromkeys(chosen))


def _finding(words: str, answer: Ask, say: Say) -> dict[str, str]:
    part = _one(
        _Question(field="part", words="On which part?", needed=True), FindingForm, answer, say
    )
    key = _one(
        _Question(field="id", words="A short id for it, like k7-seal?", needed=True),
        FindingForm,
        answer,
        say,
    )
    return {"id": str(key), "part": str(part), "words": words}


def _one(question: _Question, form: type[BaseModel], answer: Ask, say: Say) -> Any:  # noqa: ANN401
    """Ask until the answer can be used; None where the question was left open."""
    choices = question.choices
    many = len(choices) > _FEW
    if many:
        for number, one in enumerate(choices, start=1):
            say(f"  {number}: {one}")
    hint = " (number or word)" if many else f" ({', '.join(choices)})" if choices else ""
    while True:
        text = answer(f"{question.words}{hint} ").strip()
        if text.lower() in _LEAVE:
            raise _LeftError
        if not text:
            if not question.needed:
                return None
            say("  This one is needed.")
            continue
        if many and text.isdigit() and 0 < int(text) <= len(choices):
            text = choices[int(text) - 1]
        if choices:
            near = [one for one in choices if one == text.lower()] or [
                one for one in choices if one.startswith(text.lower())
            ]
            if len(near) != 1:
                say(f"  One of: {', '.join(choices)}.")
                continue
            text = near[0]
        if set(choices) == {"yes", "no"}:
            return text == "yes"
        field = question.field.rpartition(".")[2]
        if field not in form.model_fields:
            return text
        given: Any = [text] if field == "settles" else text
        try:
            TypeAdapter(form.model_fields[field].rebuild_annotation()).validate_python(given)
        except ValidationError as error:
            say(f"  {error.errors()[0]['msg'].removeprefix('Value error, ')}")
            continue
        return given


def _spoken(said: dict[str, Any]) -> str:
    """What was answered, to be read once more before it is written."""
    parts = []
    for key, value in said.items():
        if key in {"act", "by"}:
            continue
        if isinstance(value, dict):
            text = " ".join(str(one) for one in value.values())
        elif isinstance(value, list):
            text = ", ".join(one["words"] if isinstance(one, dict) else one for one in value)
        else:
            text = "yes" if value is True else "no" if value is False else value
        parts.append(f"{key.replace('_', ' ')}: {text}")
    return "; ".join(parts)
