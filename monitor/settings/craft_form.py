"""One craft as people write it in a craft file."""

from collections.abc import Iterator
from datetime import datetime
from typing import Annotated, Any

from pydantic import AfterValidator, Field, StringConstraints, model_validator

from monitor.craft.craft_stays import Craft, MeasuredLag, Stay
from monitor.settings.faults import Block
from monitor.settings.layup_form import EntryForm, Name, Note
from monitor.settings.words import Duration, Id, Text
from monitor.settings.written_times import in_zone
from monitor.yard.people import names_by_id, person_id
from monitor.yard.space import Yard

Place = Annotated[
    str,
    StringConstraints(pattern=r"^[a-z0-9][a-z0-9-]{0,62}(/[a-z0-9][a-z0-9-]{0,62})?$"),
]
HullNumber = Annotated[
    str, StringConstraints(strip_whitespace=True, max_length=20), AfterValidator(str.upper)
]


class StayBlock(Block):
    """``[[craft.stays]]``: from then on it stands here; ``place`` is space or space/berth."""

    place: Place
    since: datetime | None = None  # None: since it arrived
    by: str = ""


class MeasuredBlock(Block):
    """``[craft.measured.CIRCUIT]``: a time constant fitted from a probe in this craft."""

    lag: tuple[Duration, Duration]
    how: Text


# What a file may leave out of a craft: it stays as it was. Beside each, what it is in `Craft`.
_OPTIONAL = {
    "fittings": "fittings",
    "owner": "owner",
    "hull_number": "hull_number",
    "left": "left_at",
    "note": "note",
    "measured": "measured",
}
_CLEARED = "-"  # instead of a value: there is none any more


class CraftBlock(Block):
    """``[[craft]]``: one craft in the yard's care; what is left out stays as it was."""

    id: Id
    name: Name
    profile: Id
    fittings: tuple[Id, ...] = ()
    owner: str = ""
    hull_number: HullNumber = ""
    arrived: datetime
    left: datetime | None = None
    note: Note = ""
    stays: tuple[StayBlock, ...] = ()
    measured: Annotated[dict[Id, MeasuredBlock], Field(default_factory=dict)]
    layup: tuple[EntryForm, ...] = ()

    @model_validator(mode="before")
    @classmethod
    def _clear_dashes(cls, said: Any) -> Any:  # noqa: ANN401  whatever stands in the file
        """Put nothing in place of each ``-``, so that it counts as said."""
        if not isinstance(said, dict):
            return said
        return {
            key: cls.model_fields[key].get_default(call_default_factory=True)
            if key in _OPTIONAL and value == _CLEARED
            else value
            for key, value in said.items()
        }

    @property
    def unset_fields(self) -> frozenset[str]:
        """Fields of `Craft` that the file does not speak of."""
        return frozenset(
            field for name, field in _OPTIONAL.items() if name not in self.model_fields_set
        )


class CraftFile(Block):
    """All of a craft file; each craft is then checked by itself, as a `CraftBlock`."""

    craft: Annotated[tuple[dict[str, Any], ...], Field(min_length=1)]


def craft_of_block(block: CraftBlock, yard: Yard) -> Craft:
    """The craft that a block tells of; ValueError if it cannot be one."""
    return Craft(
        id=block.id,
        name=block.name,
        profile=block.profile,
        fittings=block.fittings,
        owner=block.owner,
        hull_number=block.hull_number,
        arrived_at=in_zone(block.arrived, yard.zone),
        left_at=None if block.left is None else in_zone(block.left, yard.zone),
        measured=tuple(
            MeasuredLag(circuit=circuit, low_h=one.lag[0], high_h=one.lag[1], how=one.how)
            for circuit, one in block.measured.items()
        ),
        note=block.note,
    )


def stays_of_block(block: CraftBlock, yard: Yard) -> Iterator[Stay]:
    """Stays of a craft by its block; times without an offset are in the yard's zone."""
    for stay in block.stays:
        space, _, berth = stay.place.partition("/")
        yield Stay(
            craft=block.id,
            since=in_zone(stay.since or block.arrived, yard.zone),
            space=space,
            berth=berth,
            by=_id_where_known(stay.by, yard),
        )


def _id_where_known(said: str, yard: Yard) -> str:
    """Who moved it, by id; as written where nobody of the yard is meant: an old file stays good."""
    try:
        return person_id(said, names_by_id(yard)) if said else ""
    except ValueError:
        return said
