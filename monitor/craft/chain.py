"""The canonical form of an entry, and the chain of hashes that shows when one was changed."""

import json
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from hashlib import sha256
from typing import Any

import rfc8785

from monitor.craft.layup import (
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

FIRST = "0" * 64  # what the first entry of a chain names as the one before


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """One entry in its craft's chain.

    ``body`` is the canonical form (RFC 8785) of entry, number, time of writing and the hash of
    the entry before; ``hash`` is its SHA-256.
    """

    number: int
    body: str
    hash: str


def entry_json(entry: LayupEntry) -> dict[str, Any]:
    """An entry as JSON: SI with the unit in the key, only what was said, times in UTC."""
    evidence, product = entry.evidence, entry.product
    said: dict[str, Any] = {
        "id": entry.id,
        "craft": entry.craft,
        "at": _time(entry.at),
        "by": entry.by,
        "act": str(entry.act),
        "circuits": sorted(entry.circuits),
        "product": None
        if product is None
        else _said(
            {
                "name": product.name,
                "liquid": str(product.liquid),
                "glycol_mass_fraction": product.strength,
                "label_burst_c": product.label_burst_c,
                "lot": product.lot,
            }
        ),
        "quantity_l": entry.quantity_l,
        "residual_l": entry.residual_l,
        "flow_order": _word(entry.flow_order),
        "posture": _word(entry.posture),
        "cover": _word(entry.cover),
        "space": entry.space,
        "rested_v": entry.rested_v,
        "evidence": _said(
            {
                "outflow": None
                if evidence.outflow is Outflow.NOT_LOOKED
                else str(evidence.outflow),
                "dry": evidence.dry,
                "ice_point_c": evidence.ice_point_c,
                "scale": _word(evidence.scale),
                "zeroed_on": evidence.zeroed_on.isoformat() if evidence.zeroed_on else None,
                "engine_hot": evidence.engine_hot,
                "oil": _word(evidence.oil),
                "treated_fuel_seen": evidence.treated_fuel_seen,
                "photos": list(evidence.photos),
                "witness": evidence.witness,
            }
        ),
        "findings": [
            {"id": seen.id, "part": seen.part, "words": seen.words} for seen in entry.findings
        ],
        "settles": list(entry.settles),
        "note": entry.note,
        "replaces": entry.replaces,
    }
    return _said(said)


def entry_of(said: dict[str, Any]) -> LayupEntry:
    """The entry that `entry_json` wrote."""
    product, evidence = said.get("product"), said.get("evidence", {})
    return LayupEntry(
        id=said["id"],
        craft=said["craft"],
        at=datetime.fromisoformat(said["at"]),
        by=said["by"],
        act=Act(said["act"]),
        circuits=tuple(said.get("circuits", ())),
        product=None
        if product is None
        else Product(
            name=product["name"],
            liquid=Liquid(product["liquid"]),
            strength=product.get("glycol_mass_fraction"),
            label_burst_c=product.get("label_burst_c"),
            lot=product.get("lot", ""),
        ),
        quantity_l=said.get("quantity_l"),
        residual_l=said.get("residual_l"),
        flow_order=FlowOrder(said["flow_order"]) if "flow_order" in said else None,
        posture=Posture(said["posture"]) if "posture" in said else None,
        cover=Cover(said["cover"]) if "cover" in said else None,
        space=said.get("space", ""),
        rested_v=said.get("rested_v"),
        evidence=Evidence(
            outflow=Outflow(evidence.get("outflow", Outflow.NOT_LOOKED)),
            dry=evidence.get("dry"),
            ice_point_c=evidence.get("ice_point_c"),
            scale=Liquid(evidence["scale"]) if "scale" in evidence else None,
            zeroed_on=date.fromisoformat(evidence["zeroed_on"])
            if "zeroed_on" in evidence
            else None,
            engine_hot=evidence.get("engine_hot"),
            oil=OilLook(evidence["oil"]) if "oil" in evidence else None,
            treated_fuel_seen=evidence.get("treated_fuel_seen"),
            photos=tuple(evidence.get("photos", ())),
            witness=evidence.get("witness", ""),
        ),
        findings=tuple(Seen(**seen) for seen in said.get("findings", ())),
        settles=tuple(said.get("settles", ())),
        note=said.get("note", ""),
        replaces=said.get("replaces", ""),
    )


def derived_id(entry: LayupEntry) -> str:
    """Id of an entry that was given none: the same work written down again has the same id."""
    said = entry_json(entry)
    del said["id"]
    return sha256(rfc8785.dumps(said)).hexdigest()[:12]


def link(entry: LayupEntry, number: int, written_at: datetime, before: str) -> Link:
    """Chain an entry behind the one whose hash is ``before``."""
    body = rfc8785.dumps(
        {
            "entry": entry_json(entry),
            "number": number,
            "written_at": _time(written_at),
            "before": before,
        }
    )
    return Link(number=number, body=body.decode(), hash=sha256(body).hexdigest())


def breaks(links: Iterable[Link]) -> list[str]:
    """Where a chain does not hold; empty if nothing was changed, left out or put in between."""
    found, before = [], FIRST
    for place, one in enumerate(links):
        if one.number != place:
            found.append(f"entry {one.number} stands where entry {place} should")
        if sha256(one.body.encode()).hexdigest() != one.hash:
            found.append(f"entry {one.number} was changed after it was written")
        if json.loads(one.body).get("before") != before:
            found.append(f"entry {one.number} does not follow the one before it")
        before = one.hash
    return found


def _time(at: datetime) -> str:
    return at.astimezone(UTC).isoformat().replace("+00:00", "Z")


def _word(value: object) -> str | None:
    return None if value is None else str(value)


def _said(fields: dict[str, Any]) -> dict[str, Any]:
    """Leave out what nobody said."""
    return {
        key: value
        for key, value in fields.items()
        if value is not None and value not in ("", [], {})
    }
