"""What cannot be true of one entry by itself: fields its act cannot use, words against words."""

import re
from collections.abc import Iterator

from monitor.craft.acts import acts_that_take, fields_of
from monitor.craft.canonical import values_of
from monitor.craft.fields import FIELDS
from monitor.craft.layup import Act, LayupEntry, Liquid, OilAppearance, Outflow
from monitor.craft.mixture import strongest_of
from monitor.craft.readings import coldest_credible_c, glycol_read
from monitor.units import temperature_in_both

# A field, what is wrong with it, and the remedy.
Complaint = tuple[str, str, str]

_LEAST_RESTED_V = 2.0  # of a battery that still is one; a gravity is 1.05 to 1.30
_NAMED = 4  # acts, before the rest are left out
_MILKY = re.compile(
    r"\b(milk|emulsi|water in (the )?(oil|lube))", re.IGNORECASE
)  # oil with water in it


def unusable_fields(entry: LayupEntry) -> Iterator[Complaint]:
    """Fields that say nothing with this act: whoever wrote them meant another act."""
    takes = {field.path for field in fields_of(entry.act)}
    said = values_of(entry)
    if said.get("product.liquid") is Liquid.NOT_KNOWN:
        del said["product.liquid"]
    for field in FIELDS:
        if field.path in takes or field.path not in said:
            continue
        if field.part == "product" and field.name != "name" and "product.name" not in takes:
            continue  # its name was told already
        acts = acts_that_take(field.path)
        more = ", ..." if len(acts) > _NAMED else ""
        yield (
            field.column,
            f"{field.label} says nothing with {entry.act}",
            f"Leave it out, or was it {', '.join(acts[:_NAMED])}{more}?",
        )


def contradictions(entry: LayupEntry) -> Iterator[Complaint]:
    """Words of one entry that cannot be true together."""
    yield from _of_reading(entry)
    yield from _of_what_was_seen(entry)
    product = entry.product
    if product is not None and product.strength is not None and product.liquid is Liquid.ETHANOL:
        yield (
            "strength",
            "an ethanol blend has no strength of glycol",
            "Leave the strength out, or correct the liquid.",
        )
    if entry.rested_v is not None and entry.rested_v < _LEAST_RESTED_V:
        yield (
            "rested",
            f"{entry.rested_v:g} V at rest is no craft's battery",
            "Was it a gravity, or a decimal lost? Enter a dead battery as a finding.",
        )


def _of_reading(entry: LayupEntry) -> Iterator[Complaint]:
    """A reading that cannot have been read of what the rest of the entry tells."""
    seen = entry.evidence
    if seen.outflow is Outflow.NONE and seen.ice_point_c is not None:
        yield (
            "ice_point",
            "nothing came out, so there was no sample to read",
            "Correct the outflow, or leave the reading out.",
        )
    if seen.outflow is Outflow.CLEAR_WATER and seen.ice_point_c:
        yield (
            "ice_point",
            "clear water came out, and a sample of it read below freezing",
            "Correct the outflow, or leave the reading out.",
        )
    if seen.dry and seen.ice_point_c is not None:
        yield (
            "ice_point",
            "seen dry, and a sample of what is in it was read",
            "Enter them apart, each with its circuits and its time.",
        )
    if seen.zeroed_on is not None and seen.zeroed_on > entry.at.date():
        yield (
            "zeroed_on",
            f"the refractometer was set to zero on {seen.zeroed_on}, after the reading",
            "Give the last day before it.",
        )
    if seen.ice_point_c is None:
        return
    strongest = None if entry.product is None else strongest_of(entry.product)
    coldest = coldest_credible_c(glycol_read(entry.product, ()), strongest)
    if seen.ice_point_c < coldest:
        undiluted = "any" if strongest is None else f"undiluted {strongest * 100:g} %"
        yield (
            "ice_point",
            f"a sample read {temperature_in_both(seen.ice_point_c)}, and {undiluted} glycol reads"
            f" no colder than {temperature_in_both(coldest)}",
            "Was it read off the jug or its label? Correct the reading, its scale or the product.",
        )


def _of_what_was_seen(entry: LayupEntry) -> Iterator[Complaint]:
    seen = entry.evidence
    looked = seen.dry is not None or seen.ice_point_c is not None
    if looked and not entry.circuits and entry.act in {Act.INSPECTED, Act.STOOD}:
        yield (
            "circuits",
            "something was seen or read, and nobody says in which circuit",
            "Name those that were looked at.",
        )
    if seen.dry and entry.residual_l:
        yield "residual", "seen dry, and water is left in it", "Correct one of them."
    told_wet = next((one for one in entry.findings if _MILKY.search(one.words)), None)
    if seen.oil is OilAppearance.CLEAR and told_wet is not None:
        yield (
            "oil",
            f"the oil was clear, and a finding says {told_wet.words!r}",
            f"Enter the oil as {OilAppearance.MILKY}, or correct the finding.",
        )
    if seen.witness and seen.witness.casefold().split() == entry.by.casefold().split():
        yield (
            "witness",
            f"{seen.witness} did the work, and is no witness of it",
            "Name another person who saw it, or leave the witness out.",
        )
