"""The body of a posted lay-up entry, made of the table of fields: SI with the unit in the key."""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, date, datetime
from types import GenericAlias
from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import (
    AfterValidator,
    AwareDatetime,
    BaseModel,
    ConfigDict,
    Field,
    StringConstraints,
    create_model,
    model_validator,
)

from monitor.craft.canonical import derived_id, entry_of
from monitor.craft.fields import FIELDS, MOST_OF_ONE_FIELD, FieldKind, in_our_time, without_empty
from monitor.craft.fields import Field as EntryField
from monitor.craft.layup import ONE_LINE, SEVERAL_LINES, Act, FindingKind, LayupEntry
from monitor.craft.plan.shelf import ShelfProduct, product_named
from monitor.errors import RecordError, fault_from
from monitor.phrases.complaints import ID
from monitor.yard.people import check_witness, person_id

Id = Annotated[str, StringConstraints(pattern=ID)]
Text = Annotated[str, StringConstraints(min_length=1, max_length=200, pattern=ONE_LINE)]


class _Body(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)

    @model_validator(mode="before")
    @classmethod
    def _leave_out_what_is_empty(cls, content: Any) -> Any:  # noqa: ANN401  a body may hold anything
        return without_empty(content)


class FindingBody(_Body):
    """Something found that needs work."""

    id: Id
    part: Text
    words: Text
    kind: FindingKind | None = Field(
        default=None, description="decides which work can settle it; left out: only a repair can"
    )


def _type_of(field: EntryField) -> Any:  # noqa: ANN401  a type, for pydantic
    if field.kind is FieldKind.QUANTITY:
        low = Field(gt=field.low) if field.above_low else Field(ge=field.low)
        return Annotated[float, low, Field(le=field.high)]
    if field.kind is FieldKind.CHOICE:
        return Literal[field.words]
    if field.kind in {FieldKind.LINE, FieldKind.TEXT}:
        line = field.kind is FieldKind.LINE
        return Annotated[
            str,
            StringConstraints(
                min_length=1,
                max_length=field.longest,
                strip_whitespace=line,
                pattern=ONE_LINE if line else SEVERAL_LINES,
            ),
        ]
    plain: dict[FieldKind, Any] = {
        FieldKind.MOMENT: Annotated[AwareDatetime, AfterValidator(in_our_time)],
        FieldKind.DAY: Annotated[date, AfterValidator(in_our_time)],
        FieldKind.YES_NO: bool,
        FieldKind.ID: Id,
        FieldKind.FINDING: FindingBody,
    }
    return plain[field.kind]


def _fields_in(part: str, needed: frozenset[str]) -> dict[str, Any]:
    """Fields of the table as pydantic takes them, under their keys in JSON."""
    found: dict[str, Any] = {}
    for field in FIELDS:
        if field.part != part or field.path == "craft":
            continue
        one, limit = _type_of(field), MOST_OF_ONE_FIELD if field.many else None
        kind: Any = GenericAlias(tuple, (one, ...)) if field.many else one
        found[field.json_key] = (
            (kind, Field(description=field.about))
            if field.path in needed
            else (kind | None, Field(default=None, description=field.about, max_length=limit))
        )
    return found


_needed = frozenset({"at", "by", "act", "product.name"})
ProductBody: Any = create_model(
    "ProductBody", __base__=_Body, __doc__="What was used.", **_fields_in("product", _needed)
)
EvidenceBody: Any = create_model(
    "EvidenceBody",
    __base__=_Body,
    __doc__="What the named person saw; what is left out was not looked at.",
    **_fields_in("evidence", _needed),
)
_entry_fields: Any = create_model(
    "_entry_fields",
    __base__=_Body,
    **_fields_in("", _needed),
    product=(ProductBody | None, None),
    evidence=(EvidenceBody | None, None),
)


class EntryBody(_entry_fields):
    """One piece of work on one craft, in SI with the unit in the key."""

    if TYPE_CHECKING:
        id: str | None
        at: datetime

    def to_layup_entry(
        self, craft: str, names: Mapping[str, str], shelf: Sequence[ShelfProduct] = ()
    ) -> LayupEntry:
        """The entry of a craft, people put in by their id; RecordError if it cannot be one.

        Of a product of the yard's shelf no more than its name needs to be said.
        """
        said = self.model_dump(mode="json", exclude_none=True)
        for field in FIELDS:
            holder = said.get(field.part, {}) if field.part else said
            if field.person and field.json_key in holder:
                with _fault_named(_json_path(field)):
                    holder[field.json_key] = person_id(holder[field.json_key], names)
        _fill_from_shelf(said.get("product"), shelf)
        said["at"] = self.at.astimezone(UTC).isoformat()
        with _fault_named("replaces" if said["act"] == Act.WITHDRAWN else ""):
            entry = entry_of({**said, "id": self.id or "new", "craft": craft})
        with _fault_named("evidence.witness"):
            check_witness(entry.by, entry.evidence.witness, names)
        return entry if self.id else replace(entry, id=derived_id(entry))


def _json_path(field: EntryField) -> str:
    return f"{field.part}.{field.json_key}" if field.part else field.json_key


@contextmanager
def _fault_named(key: str) -> Iterator[None]:
    """Name the key of the body that a fault is of."""
    try:
        yield
    except ValueError as error:
        raise RecordError([fault_from(error, "entry", key)]) from error


def _fill_from_shelf(product: dict[str, Any] | None, shelf: Sequence[ShelfProduct]) -> None:
    """Put in what the shelf says of a product of which nothing but its name is said."""
    named = product_named(product["name"], shelf) if product and set(product) == {"name"} else None
    if product is None or named is None:
        return
    product.update(name=named.name, liquid=str(named.liquid), glycol_mass_fraction=named.strength)
    if named.lot:
        product["lot"] = named.lot
