"""The questions of the bench: one at a time, only those that the act calls for."""

from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import datetime
from typing import Any

from pydantic import TypeAdapter, ValidationError

from monitor.craft.acts import ACTS
from monitor.craft.circuit import Way
from monitor.craft.fields import BY_PATH, FIELDS, Field, Kind
from monitor.craft.layup import ANTIFREEZE, ENGINE_RUNS, Act
from monitor.craft.profile import Profile, Proof
from monitor.craft.record import CraftRecord
from monitor.settings.layup_form import EntryForm, type_of
from monitor.yard.space import Yard

Ask = Callable[[str], str]
Say = Callable[[str], None]

_LEAVE = {"q", "quit"}
_FEW = 6  # more choices than that are shown as a numbered list


class _LeftError(Exception):
    """The person left without an entry."""


_READING = ("evidence.ice_point_c", "evidence.scale", "evidence.zeroed_on")
_PRODUCT = tuple(field.path for field in FIELDS if field.part == "product")
_PART = Field(path="part", kind=Kind.LINE, label="part", about="", question="On which part?")
_FINDING_ID = Field(
    path="id", kind=Kind.ID, label="id", about="", question="A short id for it, like k7-seal?"
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
    said["by"] = _one(BY_PATH["by"], answer, say, needed=True)
    said["at"] = _one(replace(BY_PATH["at"], question=f"When ({now})?"), answer, say) or now
    said["act"] = _one(BY_PATH["act"], answer, say, needed=True)
    act = Act(said["act"])
    circuits = _circuits(profile, answer, say, needed="circuits" in ACTS[act].needs)
    if circuits:
        said["circuits"] = circuits
    for field in _questions(act, profile, circuits, yard):
        if field.part == "product" and field.name != "name" and "product" not in said:
            continue  # no product was named
        if field.name in {"scale", "zeroed_on"} and "ice_point" not in said:
            continue
        given = _one(field, answer, say)
        if given is not None:
            group = said.setdefault("product", {}) if field.part == "product" else said
            group[field.file_key] = given
    finding = answer("Anything found that needs work (in words)? ").strip()
    if finding.lower() in _LEAVE:
        raise _LeftError
    if finding:
        said["findings"] = [_finding(finding, answer, say)]
    note = answer("A note? ").strip()
    if note:
        said["note"] = note
    return said


def _questions(act: Act, profile: Profile, circuits: list[str], yard: Yard) -> Iterator[Field]:
    for path in _asked(act, profile, circuits):
        field = BY_PATH[path]
        if path == "space":
            where = f"{field.question} ({', '.join(one.id for one in yard.spaces)})"
            field = replace(field, question=where)
        yield field


def _asked(act: Act, profile: Profile, circuits: list[str]) -> Iterator[str]:
    """Paths of the fields that fit this act on this craft."""
    if act in ANTIFREEZE:
        yield from (*_PRODUCT, "quantity_l", "residual_l", "evidence.outflow", *_READING)
        hot = act is Act.ANTIFREEZE_RUN_THROUGH and any(
            (way := profile.find(name).treatment(Way.RUN_THROUGH)) and Proof.HOT_ENGINE in way.needs
            for name in circuits
        )
        if hot:
            yield "evidence.engine_hot"
    if act in ENGINE_RUNS and profile.flow_order is not None:
        yield "flow_order"
    if act is Act.FUEL_RUN_THROUGH:
        yield "evidence.treated_fuel_seen"
    if act in {Act.FUEL_STABILISED, Act.FOGGED_RUNNING, Act.FOGGED_PLUG_HOLES, Act.SPRAYED_DOWN}:
        yield from ("product.name", "product.lot")
    if act in {Act.DRAINED, Act.BLOWN_OUT}:
        yield from ("evidence.dry", "posture")
    if act is Act.STOOD:
        yield "posture"
    if act is Act.COVER_FITTED:
        yield "cover"
    if act is Act.OIL_CHANGED:
        yield "evidence.oil"
    if act is Act.INSPECTED:
        yield from ("evidence.dry", *_READING, "evidence.oil", "rested_v")
    if act is Act.BATTERY_REMOVED:
        yield "space"
    if act.startswith("battery"):
        yield "rested_v"
    if act is Act.REPAIRED:
        yield "settles"


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
    part = _one(_PART, answer, say, needed=True)
    key = _one(_FINDING_ID, answer, say, needed=True)
    return {"id": str(key), "part": str(part), "words": words}


def _one(field: Field, answer: Ask, say: Say, *, needed: bool = False) -> Any:  # noqa: ANN401
    """Ask until the answer can be used; None where the question was left open."""
    choices = field.words
    many = len(choices) > _FEW
    if many:
        for number, one in enumerate(choices, start=1):
            say(f"  {number}: {one}")
    hint = " (number or word)" if many else f" ({', '.join(choices)})" if choices else ""
    while True:
        text = answer(f"{field.question}{hint} ").strip()
        if text.lower() in _LEAVE:
            raise _LeftError
        if not text:
            if not needed:
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
        given: Any = [text] if field.many else text
        try:
            TypeAdapter(type_of(field)).validate_python(given)
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
