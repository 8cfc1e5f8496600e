"""One lay-up entry as people write it, in a file, with flags or at a prompt."""

from dataclasses import replace
from datetime import date, datetime, tzinfo
from typing import Annotated, Literal

from pydantic import Field, StringConstraints

from monitor.craft.chain import derived_id
from monitor.craft.layup import (
    ONE_LINE,
    Act,
    Cover,
    Evidence,
    FlowOrder,
    LayupEntry,
    Liquid,
    OilLook,
    Outflow,
    Posture,
    Product,
    Seen,
)
from monitor.craft.mixture import GLYCOLS, glycol_of
from monitor.physics.antifreeze import mass_fraction_of_volume
from monitor.settings.faults import Block
from monitor.settings.quantities import quantity
from monitor.settings.words import Id, Text
from monitor.units import STRENGTH, TEMPERATURE, VOLTAGE, VOLUME

Name = Annotated[
    str,
    StringConstraints(min_length=1, max_length=80, strip_whitespace=True, pattern=ONE_LINE),
]
Note = Annotated[str, StringConstraints(max_length=2000)]
Temperature = Annotated[float, quantity(TEMPERATURE)]
Volume = Annotated[float, quantity(VOLUME)]
Volts = Annotated[float, quantity(VOLTAGE)]
Strength = Annotated[float, quantity(STRENGTH)]


class ProductForm(Block):
    """What was used."""

    name: Text
    liquid: Liquid = Liquid.NOT_KNOWN
    strength: Strength | None = None
    strength_by: Literal["mass", "volume"] = "mass"
    label_burst: Temperature | None = None
    lot: str = ""

    def product(self) -> Product:
        """What was used, its strength by mass."""
        strength = self.strength
        if strength is not None and self.strength_by == "volume" and self.liquid in GLYCOLS:
            strength = round(float(mass_fraction_of_volume(strength, glycol_of(self.liquid))), 4)
        return Product(
            name=self.name,
            liquid=self.liquid,
            strength=strength,
            label_burst_c=self.label_burst,
            lot=self.lot,
        )


class FindingForm(Block):
    """Something seen that needs work."""

    id: Id
    part: Text
    words: Text


class EntryForm(Block):
    """One piece of work; a time without an offset is the yard's own."""

    id: Id | None = None
    at: datetime
    by: Name
    act: Act
    circuits: tuple[Id, ...] = ()
    product: ProductForm | None = None
    quantity: Volume | None = None
    residual: Volume | None = None
    flow_order: FlowOrder | None = None
    posture: Posture | None = None
    cover: Cover | None = None
    space: Id | None = None
    rested: Volts | None = None
    outflow: Outflow = Outflow.NOT_LOOKED
    dry: bool | None = None
    ice_point: Temperature | None = None
    scale: Liquid | None = None
    zeroed_on: date | None = None
    engine_hot: bool | None = None
    oil: OilLook | None = None
    treated_fuel_seen: bool | None = None
    photos: tuple[Text, ...] = ()
    witness: str = ""
    findings: tuple[FindingForm, ...] = ()
    settles: tuple[Id, ...] = ()
    note: Note = ""
    replaces: Annotated[str, Field(max_length=80)] = ""

    def entry(self, craft: str, zone: tzinfo) -> LayupEntry:
        """The entry of a craft; ValueError if it cannot be one."""
        entry = LayupEntry(
            id=self.id or "new",
            craft=craft,
            at=in_zone(self.at, zone),
            by=self.by,
            act=self.act,
            circuits=self.circuits,
            product=self.product.product() if self.product else None,
            quantity_l=self.quantity,
            residual_l=self.residual,
            flow_order=self.flow_order,
            posture=self.posture,
            cover=self.cover,
            space=self.space or "",
            rested_v=self.rested,
            evidence=Evidence(
                outflow=self.outflow,
                dry=self.dry,
                ice_point_c=self.ice_point,
                scale=self.scale,
                zeroed_on=self.zeroed_on,
                engine_hot=self.engine_hot,
                oil=self.oil,
                treated_fuel_seen=self.treated_fuel_seen,
                photos=self.photos,
                witness=self.witness,
            ),
            findings=tuple(
                Seen(id=one.id, part=one.part, words=one.words) for one in self.findings
            ),
            settles=self.settles,
            note=self.note,
            replaces=self.replaces,
        )
        return entry if self.id else replace(entry, id=derived_id(entry))


def in_zone(at: datetime, zone: tzinfo) -> datetime:
    """Read a time without an offset as the yard's wall clock."""
    return at.replace(tzinfo=zone) if at.tzinfo is None else at
