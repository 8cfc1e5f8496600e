"""What the bench asks: acts that the craft allows, fields that fit act, craft and answers."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from monitor.craft.act_table import circuits_within_reach
from monitor.craft.acts import ACTS, ON_ENGINES, ActRow, Work, all_circuits, fields_of
from monitor.craft.circuit import Way
from monitor.craft.fields import Field
from monitor.craft.layup import (
    ANTIFREEZE,
    BATTERY_ACTS,
    ENGINE_RUNS,
    FOGGING,
    Act,
    LayupEntry,
    Liquid,
    Outflow,
)
from monitor.craft.mixture import GLYCOLS
from monitor.craft.profile import Chemistry, CircuitKind, CircuitProfile, FuelSystem, Profile, Proof

# Entered by other verbs, or worked out.
_NEVER_ASKED = frozenset(
    {"id", "craft", "at", "by", "act", "evidence.photos", "evidence.photo_sha256", "replaces"}
)
_WITNESSED = ANTIFREEZE | {Act.DRAINED, Act.BLOWN_OUT, Act.OIL_CHANGED, Act.INSPECTED}
_FUEL = frozenset(
    {Act.FUEL_STABILISED, Act.FUEL_RUN_THROUGH, Act.FUEL_DRAINED, Act.FUEL_TANK_EMPTIED}
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What is known while somebody is asked: the act, the craft, answers by path of the field."""

    act: Act
    profile: Profile
    said: Mapping[str, Any]
    open_findings: bool  # the craft has some
    on_record: tuple[LayupEntry, ...] = ()  # work that stands

    @property
    def circuits(self) -> list[CircuitProfile]:
        """The circuits that were named."""
        return [self.profile.find(name) for name in self.said.get("circuits") or ()]

    @property
    def liquid(self) -> Liquid:
        """What the product is made of, as far as it was said."""
        return self.said.get("product.liquid") or Liquid.NOT_KNOWN


def acts_that_fit(profile: Profile) -> list[ActRow]:
    """The acts that this type of craft allows, in the order of their work."""
    rows = [row for row in ACTS.values() if _fits_craft(row.act, profile)]
    return sorted(rows, key=lambda row: list(Work).index(row.work))


def circuits_to_offer(act: Act, profile: Profile) -> tuple[str, ...]:
    """Circuits that the act can say something of; empty where it is about the craft as a whole."""
    if not any(field.path == "circuits" for field in fields_of(act)):
        return ()
    if act in ON_ENGINES:  # asked only where it may be one engine of several, or a tap
        known = all_circuits(act, profile)
        one_engine = len(profile.engine_paths) == 1 and set(known) == set(profile.engine_paths[0])
        return () if one_engine else known
    if act is Act.REPAIRED:  # of a named one it tells that what blocked it is cleared
        return profile.circuit_ids
    if act is Act.STOOD:
        return all_circuits(act, profile)
    return circuits_within_reach(act, profile) or (
        profile.circuit_ids if "circuits" in ACTS[act].needs else ()
    )


def fields_to_ask(asked: Asked) -> Iterator[Field]:
    """Fields that make sense with these answers, in order; among them those answered already."""
    for field in fields_of(asked.act):
        if field.question and field.path not in _NEVER_ASKED:
            fits = _FITS.get(field.path)
            if fits is None or fits(asked):
                yield field


def _fits_craft(act: Act, profile: Profile) -> bool:
    if act is Act.WITHDRAWN:
        return False  # it has a verb of its own
    if act is Act.BATTERY_EQUALISED:
        return profile.battery is not None and profile.battery.chemistry is Chemistry.FLOODED
    if act in BATTERY_ACTS:
        return profile.battery is not None
    if act in FOGGING:
        return profile.fuel not in {FuelSystem.NONE, FuelSystem.DIESEL}
    if act in _FUEL:
        return profile.fuel is not FuelSystem.NONE
    if "circuits" in ACTS[act].needs:
        return bool(circuits_to_offer(act, profile))
    return True


def _asks_circuits(asked: Asked) -> bool:
    return bool(circuits_to_offer(asked.act, asked.profile))


def _names_a_product(asked: Asked) -> bool:
    return asked.act in ANTIFREEZE | FOGGING | {Act.FUEL_STABILISED, Act.SPRAYED_DOWN}


def _has_product(asked: Asked) -> bool:
    return bool(asked.said.get("product.name"))


def _has_antifreeze(asked: Asked) -> bool:
    return _has_product(asked) and asked.act in ANTIFREEZE


def _has_glycol(asked: Asked) -> bool:
    return _has_antifreeze(asked) and asked.liquid in GLYCOLS


def _is_antifreeze(asked: Asked) -> bool:
    return asked.act in ANTIFREEZE


def _may_be_duplicate(asked: Asked) -> bool:
    """Antifreeze like it is on record: it is a second pour, or the first one told once more."""
    return asked.act in ANTIFREEZE and any(
        one.act in ANTIFREEZE
        and _may_be_one_pour(asked, one)
        and len({_liquid_of(one), asked.liquid} - {Liquid.NOT_KNOWN}) <= 1
        for one in asked.on_record
    )


def _may_be_one_pour(asked: Asked, one: LayupEntry) -> bool:
    """Whether both name a circuit, or ran through one path, whatever parts of it they name."""
    named = {circuit.circuit.id for circuit in asked.circuits}
    if named.intersection(one.circuits):
        return True
    known = [name for name in one.circuits if name in asked.profile.circuit_ids]
    flows = {asked.profile.find(name).flow for name in known} - {""}
    both_run = asked.act is one.act is Act.ANTIFREEZE_RUN_THROUGH
    return both_run and any(circuit.flow in flows for circuit in asked.circuits)


def _liquid_of(entry: LayupEntry) -> Liquid:
    return entry.product.liquid if entry.product else Liquid.NOT_KNOWN


def _is_poured(asked: Asked) -> bool:
    return asked.act is Act.ANTIFREEZE_POURED


def _can_be_read(asked: Asked) -> bool:
    """Something came out, and a refractometer reads it: of ethanol it tells nothing."""
    nothing_there = (
        asked.said.get("evidence.outflow") in {Outflow.NONE, Outflow.NOT_LOOKED}
        or asked.said.get("evidence.dry") is True
    )
    holds_mix = asked.act in ANTIFREEZE or any(
        one.kind is not CircuitKind.OIL for one in asked.circuits
    )
    return holds_mix and not nothing_there and asked.liquid is not Liquid.ETHANOL


def _was_read(asked: Asked) -> bool:
    return _can_be_read(asked) and asked.said.get("evidence.ice_point_c") is not None


def _needs_hot_engine(asked: Asked) -> bool:
    return asked.act is Act.ANTIFREEZE_RUN_THROUGH and any(
        (way := one.treatment(Way.RUN_THROUGH)) is not None and Proof.HOT_ENGINE in way.needs
        for one in asked.circuits
    )


def _runs_on_a_hose(asked: Asked) -> bool:
    by_its_own_pump = asked.circuits and not any(
        one.kind is CircuitKind.RAW for one in asked.circuits
    )
    on_a_hose = asked.act in ENGINE_RUNS and asked.profile.flow_order is not None
    return on_a_hose and not by_its_own_pump


def _stands_matter(asked: Asked) -> bool:
    if asked.act is Act.STOOD:
        return True
    return asked.act in {Act.DRAINED, Act.BLOWN_OUT} and any(
        one.posture is not None for one in asked.circuits
    )


def _sees_oil(asked: Asked) -> bool:
    return asked.act is Act.OIL_CHANGED or any(
        one.kind is CircuitKind.OIL for one in asked.circuits
    )


def _looks_for_water(asked: Asked) -> bool:
    if asked.act in {Act.INSPECTED, Act.STOOD}:
        never_dry = {CircuitKind.OIL, CircuitKind.COOLANT}
        return any(one.kind not in never_dry for one in asked.circuits)
    return True


def _has_battery(asked: Asked) -> bool:
    about_battery = asked.act is Act.INSPECTED or asked.act in BATTERY_ACTS
    return about_battery and asked.profile.battery is not None


_FITS: Mapping[str, Callable[[Asked], bool]] = {
    "circuits": _asks_circuits,
    "product.name": _names_a_product,
    "product.liquid": _has_antifreeze,
    "product.strength": _has_glycol,
    "product.label_burst_c": _has_antifreeze,
    "product.lot": _has_product,
    "quantity_l": _is_antifreeze,
    "residual_l": _is_poured,
    "again": _may_be_duplicate,
    "evidence.dry": _looks_for_water,
    "evidence.ice_point_c": _can_be_read,
    "evidence.scale": _was_read,
    "evidence.zeroed_on": _was_read,
    "evidence.engine_hot": _needs_hot_engine,
    "evidence.oil": _sees_oil,
    "evidence.treated_fuel_seen": lambda asked: asked.act is Act.FUEL_RUN_THROUGH,
    "evidence.witness": lambda asked: asked.act in _WITNESSED,
    "flow_order": _runs_on_a_hose,
    "posture": _stands_matter,
    "rested_v": _has_battery,
    "settles": lambda asked: asked.open_findings,
}
