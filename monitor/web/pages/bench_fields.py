"""The fields of one step at the bench: those that its act can use, filled in where that is known.

What is evidence is never filled in: it is of this craft alone, and of now.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from monitor.craft.acts import fields_of
from monitor.craft.asking import Asked, fields_to_ask
from monitor.craft.fields import Field, FieldKind
from monitor.craft.layup import ANTIFREEZE, WITH_OWNER
from monitor.craft.plan.shelf import USUAL_SHELF, ShelfProduct
from monitor.craft.plan.step import JobStep
from monitor.craft.record import CraftRecord
from monitor.craft.work_order import standing_entries
from monitor.phrases.bench import ASKED_IN, question_of
from monitor.phrases.names import plain
from monitor.units import FLUID_OUNCE_L, STRENGTH, TEMPERATURE, VOLTAGE, VOLUME
from monitor.wording import Wording
from monitor.yard.people import names_by_id
from monitor.yard.space import Role, Yard

_ONLY_UNITS = {STRENGTH.name: "%", VOLTAGE.name: "V"}
_FEW_SPACES = 9  # more are a list to scroll
GALLON_L = 128 * FLUID_OUNCE_L
# Of the shelf's product, or told by the step itself.
_NEVER_SHOWN = frozenset(
    {
        "product.liquid",
        "product.strength",
        "product.label_burst_c",
        "findings",
        "settles",
        "entered_by",
    }
)
# Shown at once, and not behind "More", whatever the step asks for.
_AT_ONCE = frozenset(
    {
        "product.name",
        "quantity_l",
        "again",
        "flow_order",
        "evidence.engine_hot",
        "cover",
        "space",
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldShown:
    """One field as the page shows it."""

    name: str  # its column
    label: str
    short: str  # its label in a list of labels
    look: str  # choice, many, list, line or text
    options: tuple[tuple[str, str], ...] = ()  # value and words
    value: str = ""
    chosen: frozenset[str] = frozenset()  # boxes that are marked
    unit: str = ""
    below_zero: bool = False  # a bare number is read as below zero, and the page says so
    hint: str = ""
    complaint: str = ""
    longest: int = 40
    at_once: bool = True


def shelf_of(yard: Yard, step: JobStep | None = None) -> tuple[ShelfProduct, ...]:
    """What can be poured: the yard's shelf, and what a step would have to buy."""
    shelf = yard.shelf or USUAL_SHELF
    bought = step.product if step is not None else None
    return shelf if bought is None or bought in shelf else (*shelf, bought)


def unit_typed(field: Field, words: Wording, near: float | None = None) -> str:
    """The unit that stands behind a field, of a number that is typed without one.

    ``near`` is about how much it will be, so that nobody counts gallons in ounces.
    """
    if field.dimension is None:
        return ""
    if field.dimension is TEMPERATURE:
        return words.temperature_unit
    if field.dimension is not VOLUME:
        return _ONLY_UNITS[field.dimension.name]
    if words.units is None or words.units.volume == "L":
        return "L"
    return "gal" if (near or 0.0) >= GALLON_L / 2 else "floz"


def asked_of_step(step: JobStep, record: CraftRecord, said: Mapping[str, Any]) -> Asked:
    """What is known while a step is asked for; a reading is taken for given, so that its scale is.

    Parameters
    ----------
    step : JobStep
        With an act.
    record : CraftRecord
    said : mapping of str to object
        Answers so far, by path.
    """
    assert step.act is not None  # noqa: S101 - only steps that are entered ask anything
    product = step.product
    known: dict[str, Any] = {"circuits": step.circuits, "evidence.ice_point_c": -1.0}
    if product is not None:
        known |= {"product.name": product.name, "product.liquid": product.liquid}
    return Asked(
        act=step.act,
        profile=record.profile,
        said={**known, **said},
        open_findings=False,
        on_record=standing_entries(record.entries),
    )


def fields_at_bench(step: JobStep, record: CraftRecord) -> list[Field]:
    """The fields that a step is asked by, in the order of the terminal's questions."""
    asked = asked_of_step(step, record, {})
    fits = {field.path for field in fields_to_ask(asked)}
    if step.act not in ANTIFREEZE and "product.name" in fits:
        fits.add("product.lot")  # once it has a name, which is not known before it is sent
    return [
        field
        for field in fields_of(asked.act)
        if field.path in fits and field.path not in _NEVER_SHOWN and not _is_told(field, step)
    ]


def _is_told(field: Field, step: JobStep) -> bool:
    """Whether the step itself tells a field, or the shelf does."""
    of_shelf = field.path == "product.lot" and step.act in ANTIFREEZE
    return of_shelf or (field.path == "circuits" and len(step.circuits) < 2)


def fields_shown(
    step: JobStep,
    record: CraftRecord,
    yard: Yard,
    words: Wording,
    filled: Mapping[str, str],
    complaints: Mapping[str, str],
    by: str,
) -> tuple[FieldShown, ...]:
    """The fields of a step as its page shows them.

    Parameters
    ----------
    step : JobStep
    record : CraftRecord
    yard : Yard
    words : Wording
    filled : mapping of str to str
        What stands in them, by column: of the plan, of the craft before, or as it was sent.
    complaints : mapping of str to str
        What is wrong, by column.
    by : str
        Who fills it in, and so is no witness.
    """
    asked = {path for ask in step.asks for path in ASKED_IN[ask]}
    shown = []
    for field in fields_at_bench(step, record):
        column = field.column
        unit = unit_typed(field, words, step.quantity_l)
        at_once = (
            field.path in _AT_ONCE | asked
            or (field.path == "posture" and step.posture is not None)
            or (field.path == "evidence.witness" and bool(step.asks))
            or column in complaints
        )
        shown.append(
            FieldShown(
                name=column,
                label=question_of(field),
                short=field.label,
                look=_look_of(field, step, len(yard.spaces)),
                options=tuple(_options_of(field, step, record, yard, words, by)),
                value=filled.get(column, ""),
                chosen=frozenset(name for name in filled if name.startswith("not ")),
                unit=unit,
                below_zero=field.dimension is TEMPERATURE and unit == "C" and field.high <= 0.0,
                hint=_hint_of(field, step, words),
                complaint=complaints.get(column, ""),
                longest=min(field.longest, 2000),
                at_once=at_once,
            )
        )
    return tuple(shown)


def _look_of(field: Field, step: JobStep, spaces: int) -> str:
    if field.path == "circuits":
        return "many"
    if field.path == "evidence.witness" or _is_from_shelf(field, step):
        return "list"
    if field.path == "space":
        return "choice" if spaces < _FEW_SPACES else "list"
    if field.kind in {FieldKind.CHOICE, FieldKind.YES_NO, FieldKind.DAY}:
        return "choice"
    return "text" if field.kind is FieldKind.TEXT else "line"


def _is_from_shelf(field: Field, step: JobStep) -> bool:
    return field.path == "product.name" and step.act in ANTIFREEZE


def _options_of(
    field: Field, step: JobStep, record: CraftRecord, yard: Yard, words: Wording, by: str
) -> Iterator[tuple[str, str]]:
    """Value and words of what can be chosen; the empty one says that nobody said."""
    if field.path == "circuits":
        for name in step.circuits:
            yield name, plain(record.profile.find(name).circuit.name)
    elif _is_from_shelf(field, step):
        for one in shelf_of(yard, step):
            lot = f", lot {one.lot}" if one.lot else ""
            yield one.name, plain(f"{one.name}{lot}")
    elif field.path == "evidence.witness":
        yield "", "nobody else"
        yield from _witnesses(yard, by)
    elif field.path == "space":
        yield "", "not said"
        yield from ((space.id, plain(space.name)) for space in yard.spaces)
        yield WITH_OWNER, "its owner"
    elif field.kind is FieldKind.DAY:
        today = words.now.astimezone(words.zone).date()
        yield today.isoformat(), "today"
        yield (today - timedelta(days=1)).isoformat(), "yesterday"
        yield "", "longer ago"
    elif field.kind in {FieldKind.CHOICE, FieldKind.YES_NO}:
        unsaid = str(field.unsaid)
        yield from ((word, word) for word in field.words if word != unsaid)
        yield "", unsaid if field.kind is FieldKind.CHOICE and field.unsaid else "not said"


def _witnesses(yard: Yard, by: str) -> Iterator[tuple[str, str]]:
    """Who of the yard's people can have seen it: no owner, and not whose work it is."""
    owners = {one.id for one in yard.people if one.roles <= {Role.OWNER}}
    for person, name in names_by_id(yard).items():
        if person != by and person not in owners:
            yield person, plain(name)


def _hint_of(field: Field, step: JobStep, words: Wording) -> str:
    if field.path == "evidence.ice_point_c" and step.reading_c is not None:
        return f"{words.ice_point(step.reading_c)} or colder"
    if field.path == "posture" and step.posture is not None:
        return f"{step.posture}, by the plan"
    return ""
