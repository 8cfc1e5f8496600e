"""One lay-up entry as people write it: in a file, with flags, in a work list or at the bench.

The fields, their words and their limits are those of `monitor.craft.fields`.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from datetime import date, datetime, tzinfo
from enum import StrEnum
from types import GenericAlias
from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, Field, StringConstraints, model_validator
from pydantic import create_model as model_with

from monitor.craft.canonical import derived_id, entry_from
from monitor.craft.fields import (
    ENTERED_FIELDS,
    FIELDS,
    MOST_OF_ONE_FIELD,
    FieldKind,
    StrengthBy,
    in_our_time,
    without_empty,
)
from monitor.craft.fields import Field as EntryField
from monitor.craft.layup import (
    ONE_LINE,
    SEVERAL_LINES,
    Act,
    FindingKind,
    LayupEntry,
    Liquid,
    Seen,
)
from monitor.craft.mixture import GLYCOLS, mass_fraction_of_volume
from monitor.craft.naming import ALL_CIRCUITS
from monitor.settings.faults import Block
from monitor.settings.words import Id, Text, quantity_validator
from monitor.settings.written_times import in_zone, is_day_alone

Name = Annotated[
    str,
    StringConstraints(min_length=1, max_length=80, strip_whitespace=True, pattern=ONE_LINE),
]
Note = Annotated[str, StringConstraints(max_length=2000, pattern=SEVERAL_LINES)]


class FindingForm(Block):
    """Something seen that needs work."""

    id: Id
    part: Text
    words: Text
    kind: FindingKind | None = None


def type_of(field: EntryField) -> Any:  # noqa: ANN401  a type, for pydantic
    """The type that a form checks a field's text by."""
    one = _type_of_one(field)
    return GenericAlias(tuple, (one, ...)) if field.many else one


def _choice_validator(choices: type[StrEnum]) -> Callable[[str], StrEnum]:
    """Reads a word as one of the choices; of an enum's own call pydantic makes nothing on 3.13."""

    def read_choice(word: str) -> StrEnum:
        return choices(word)

    return read_choice


def _type_of_one(field: EntryField) -> Any:  # noqa: ANN401
    if field.kind is FieldKind.QUANTITY and field.dimension is not None:
        return Annotated[
            float, quantity_validator(field.dimension), AfterValidator(_range_validator(field))
        ]
    if field.kind is FieldKind.CHOICE and field.choices is not None:
        return Annotated[Literal[field.words], AfterValidator(_choice_validator(field.choices))]
    if field.kind is FieldKind.TEXT:
        return Annotated[str, StringConstraints(max_length=field.longest, pattern=SEVERAL_LINES)]
    if field.kind is FieldKind.LINE:
        return Annotated[
            str,
            StringConstraints(
                min_length=1, max_length=field.longest, strip_whitespace=True, pattern=ONE_LINE
            ),
        ]
    plain: dict[FieldKind, Any] = {
        FieldKind.MOMENT: Annotated[datetime, AfterValidator(in_our_time)],
        FieldKind.DAY: Annotated[date, AfterValidator(in_our_time)],
        FieldKind.YES_NO: bool,
        FieldKind.ID: Id,
        FieldKind.FINDING: FindingForm,
    }
    return plain[field.kind]


def _range_validator(field: EntryField) -> Any:  # noqa: ANN401
    def check_range(value: float) -> float:
        if refusal := field.refusal(value):
            raise refusal
        return value

    return check_range


def _fields_in(*parts: str, needed: frozenset[str]) -> dict[str, Any]:
    """Fields of the table as pydantic takes them; None where left out."""
    found: dict[str, Any] = {}
    for field in FIELDS:
        if field.part not in parts or field.path == "craft":
            continue
        kind, limit = type_of(field), MOST_OF_ONE_FIELD if field.many else None
        found[field.file_key] = (
            (kind, ...)
            if field.path in needed
            else (kind | None, Field(default=None, max_length=limit))
        )
    return found


class _Form(Block):
    @model_validator(mode="before")
    @classmethod
    def _leave_out_what_is_empty(cls, content: Any) -> Any:  # noqa: ANN401  a file may hold anything
        return without_empty(content)


_product_fields: Any = model_with(
    "_product_fields", __base__=_Form, **_fields_in("product", needed=frozenset({"product.name"}))
)


class ProductForm(_product_fields):
    """What was used; a bare text is its name."""

    strength_by: StrengthBy = StrengthBy.MASS
    if TYPE_CHECKING:
        liquid: Liquid | None
        strength: float | None

    def path_values(self) -> Iterator[tuple[str, object]]:
        """Values that were given, by path; the strength as a mass fraction."""
        for field in FIELDS:
            if field.part == "product":
                yield field.path, getattr(self, field.file_key)
        yield "product.strength", strength_by_mass(self.strength, self.strength_by, self.liquid)


def strength_by_mass(
    strength: float | None, by: StrengthBy | None, liquid: Liquid | None
) -> float | None:
    """The mass fraction of glycol that a maker's figure stands for."""
    if strength is None or by is not StrengthBy.VOLUME or liquid not in GLYCOLS:
        return strength
    return mass_fraction_of_volume(strength, liquid)


def _name_only(content: Any) -> Any:  # noqa: ANN401  a file may hold anything
    return {"name": content} if isinstance(content, str) else content


_entry_fields: Any = model_with(
    "_entry_fields",
    __base__=_Form,
    **_fields_in("", "evidence", needed=frozenset({"at", "by", "act"})),
)


class EntryForm(_entry_fields):
    """One piece of work; a time without an offset is the yard's own."""

    product: Annotated[ProductForm, BeforeValidator(_name_only)] | None = None
    if TYPE_CHECKING:
        id: str | None
        at: datetime
        day_began: datetime | None
        by: str
        act: Act
        circuits: tuple[str, ...] | None
        findings: tuple[FindingForm, ...] | None

    @model_validator(mode="before")
    @classmethod
    def _note_day_alone(cls, content: Any) -> Any:  # noqa: ANN401  a file may hold anything
        if isinstance(content, dict) and is_day_alone(content.get("at")):
            return {"day_began": content["at"], **content}
        return content

    def to_layup_entry(
        self, craft: str, zone: tzinfo, known: tuple[str, ...] | None = None
    ) -> LayupEntry:
        """The entry of a craft; ValueError if it cannot be one.

        ``known`` are the circuits that "all" stands for, and "port" for those of that side.
        """
        values: dict[str, object] = {
            field.path: getattr(self, field.file_key)
            for field in FIELDS
            if field.part != "product" and field.path != "craft"
        }
        values.update(self.product.path_values() if self.product else ())
        values["findings"] = tuple(
            Seen(id=one.id, part=one.part, words=one.words, kind=one.kind)
            for one in self.findings or ()
        )
        if known is not None:
            values["circuits"] = circuits_meant(self.circuits or (), known)
        began = self.day_began
        entry = entry_from(
            {
                **values,
                "id": self.id or "new",
                "craft": craft,
                "at": in_zone(self.at, zone),
                "day_began": None if began is None else in_zone(began, zone),
            }
        )
        return entry if self.id else replace(entry, id=derived_id(entry))


def circuits_meant(named: tuple[str, ...], known: tuple[str, ...]) -> tuple[str, ...]:
    """Circuits by name, where "all" stands for all and "port" for ``port-hoses`` and its like."""
    if named == (ALL_CIRCUITS,):
        return known
    found: list[str] = []
    for name in named:
        side = [one for one in known if one.startswith(f"{name}-")]
        found.extend([name] if name in known or not side else side)
    return tuple(found)


def form_keys(said: Mapping[str, Any]) -> dict[str, Any]:
    """What was said by column or flag, in the keys of `EntryForm`; a product needs no name then."""
    content: dict[str, Any] = {}
    product: dict[str, Any] = {}
    for field in ENTERED_FIELDS:
        value = said.get(field.column)
        if value is not None:
            (product if field.part == "product" else content)[field.file_key] = value
    if said.get("day_began") is not None:
        content["day_began"] = said["day_began"]
    if product:
        content["product"] = {"name": product.get("liquid", "not named"), **product}
    return content
