"""How ``laidup layup`` shows the record: tables for people, JSON in SI for machines."""

import json
from collections.abc import Mapping
from datetime import UTC, datetime
from math import inf, isfinite
from typing import Any

from rich.console import Console
from rich.markup import escape
from rich.table import Table

from monitor.craft.canonical import entry_json
from monitor.craft.findings import Finding, open_findings
from monitor.craft.kept import Shelter
from monitor.craft.layup import LayupEntry, standing_entries
from monitor.craft.protection import LayupState, Protection
from monitor.craft.record import CraftRecord
from monitor.craft.rules.case import Breach
from monitor.craft.rules.examine import examine
from monitor.craft.stored import Battery, BatteryPlace, StoredCraft
from monitor.wording import Wording

_WORST_FIRST = list(reversed(LayupState))


def _print(table: Table) -> None:
    for column in table.columns:  # a narrow terminal may break a word, never swallow its end
        column.overflow = "fold"
    Console(highlight=False).print(table)


def _say(text: str) -> None:
    Console(highlight=False).print(escape(text))


def _dump(rows: list[dict[str, Any]]) -> None:
    print(json.dumps(rows, ensure_ascii=False, indent=1))


def craft(
    found: list[tuple[CraftRecord, StoredCraft]],
    at: datetime,
    words: Wording,
    *,
    as_json: bool,
) -> None:
    """Every craft: where it stands, its weakest circuit, its battery, what is open."""
    if as_json:
        _dump([_craft_json(record, stored, at) for record, stored in found])
        return
    if not found:
        _say("No craft is on record here at that time. Bring craft in with `laidup import craft`.")
        return
    table = Table(title=f"Craft on {words.day(at)}", title_justify="left")
    for heading in ("Craft", "Place", "Proven", "Weakest circuit", "Ice point", "Battery", "Open"):
        table.add_column(heading)
    for record, stored in found:
        weakest = _weakest(stored.protection)
        proven = sum(one.state is LayupState.PROVEN for one in stored.protection.values())
        names = {one.id: one.name for one in stored.circuits}
        suspect = ", suspect" if weakest.suspect_since else ""
        table.add_row(
            escape(f"{stored.id} {stored.name}"),
            escape(_place(stored)),
            f"{proven} of {len(stored.protection)}",
            f"{names[weakest.circuit]}: {weakest.state}{suspect}",
            _ice(weakest, words),
            _battery(stored.battery),
            str(len(open_findings(record.entries, at)) or ""),
        )
    _print(table)
    _say("All but proven is judged as plain water. laidup is an aid to judgement.")


def entries(record: CraftRecord, at: datetime, words: Wording, *, as_json: bool) -> None:
    """All work on one craft, in order; what was replaced is named, never hidden."""
    replaced = {one.replaces: one.id for one in record.entries if one.replaces}
    ordered = sorted(
        (one for one in record.entries if one.at <= at), key=lambda one: (one.at, one.id)
    )
    if as_json:
        _dump([{**entry_json(one), "replaced_by": replaced.get(one.id)} for one in ordered])
        return
    table = Table(title=escape(f"{record.craft.id} {record.craft.name}"), title_justify="left")
    for heading in ("When", "Who", "What", "Circuits", "Seen"):
        table.add_column(heading)
    table.add_column("Entry", no_wrap=True)
    for one in ordered:
        seen = _seen(one, words)
        gone = f"replaced by {replaced[one.id]}" if one.id in replaced else ""
        table.add_row(
            f"{one.at.astimezone(words.zone):%d %b %H:%M}",
            escape(one.by),
            str(one.act),
            ", ".join(one.circuits),
            escape("; ".join(part for part in (seen, gone) if part)),
            one.id,
        )
    _print(table)


def protection(found: list[StoredCraft], words: Wording, *, as_json: bool) -> None:
    """What each circuit can stand, and how we know."""
    if as_json:
        _dump([{"craft": one.id, "circuits": _circuits_json(one)} for one in found])
        return
    for stored in found:
        table = Table(
            title=escape(f"{stored.id} {stored.name}, {_place(stored)}"), title_justify="left"
        )
        for heading in ("Circuit", "State", "Holds", "Ice", "Burst", "Sure", "Why"):
            table.add_column(heading)
        for circuit in stored.circuits:
            one = stored.protection[circuit.id]
            state = f"{one.state}, suspect" if one.suspect_since else str(one.state)
            table.add_row(
                circuit.id,
                state,
                one.liquid,
                _ice(one, words),
                _ice(one, words, burst=True),
                str(one.confidence),
                escape(one.why),
            )
        _print(table)


def review(found: list[tuple[CraftRecord, list[Breach]]], *, as_json: bool) -> None:
    """The record held against the rules of the trade."""
    if as_json:
        _dump(
            [
                {
                    "craft": record.craft.id,
                    "breaches": [
                        {
                            "rule": one.rule,
                            "part": one.part,
                            "at": _time(one.at),
                            "entry": one.entry,
                            "why": one.why,
                            "remedy": one.remedy,
                        }
                        for one in breaches
                    ],
                }
                for record, breaches in found
            ]
        )
        return
    for record, breaches in found:
        if breaches:
            _say(f"{record.craft.id} {record.craft.name}")
        for one in breaches:
            _say(f"  {one.rule}: {one.why}. {one.remedy}")
    kept = [f"{record.craft.id} {record.craft.name}" for record, breaches in found if not breaches]
    if kept:
        _say(f"Every rule kept: {', '.join(kept)}.")


def undone(
    record: CraftRecord, shelters: Mapping[str, Shelter], at: datetime, words: Wording
) -> None:
    """Say at once what a move undid."""
    for one in examine(record, shelters, at, words):
        if one.rule == "moved-into-cold" and one.at == at:
            _say(f"{one.rule}: {one.why}. {one.remedy}")


def findings(
    found: list[tuple[CraftRecord, list[Finding]]], words: Wording, *, as_json: bool
) -> None:
    """What was found to need work, with its date."""
    if as_json:
        _dump(
            [
                {
                    "craft": record.craft.id,
                    "finding": one.seen.id,
                    "part": one.seen.part,
                    "words": one.seen.words,
                    "found_at": _time(one.found_at),
                    "by": one.by,
                    "settled_at": _time(one.settled_at),
                }
                for record, several in found
                for one in several
            ]
        )
        return
    if not any(several for _, several in found):
        _say("Nothing was found that still needs work.")
    for record, several in found:
        for one in several:
            done = f", settled {words.day(one.settled_at)}" if one.settled_at else ""
            _say(
                f"{record.craft.id} {record.craft.name}: {one.seen.part}: {one.seen.words}"
                f" ({one.seen.id}, {words.day(one.found_at)}, {one.by}{done})"
            )


def _weakest(held: Mapping[str, Protection]) -> Protection:
    return max(
        held.values(),
        key=lambda one: (
            one.suspect_since is not None,
            _WORST_FIRST.index(one.state) < len(_WORST_FIRST) - 1,
            one.ice_point_c,
        ),
    )


def _place(stored: StoredCraft) -> str:
    return f"{stored.space}/{stored.berth}" if stored.berth else stored.space


def _ice(one: Protection, words: Wording, *, burst: bool = False) -> str:
    point = one.burst_point_c if burst else one.ice_point_c
    return "dry" if point == -inf else words.ice_point(point)


def _battery(battery: Battery | None) -> str:
    if battery is None:
        return ""
    fed = "fed" if battery.maintained else "not fed"
    if battery.place is BatteryPlace.AWAY:
        return "with its owner"
    off = ", lead off" if battery.disconnected else ""
    volts = f", {battery.rested_v:g} V" if battery.rested_v is not None else ""
    return f"{battery.place}, {fed}{off}{volts}"


def _seen(entry: LayupEntry, words: Wording) -> str:
    evidence, product = entry.evidence, entry.product
    parts = [
        words.volume(entry.quantity_l) if entry.quantity_l is not None else "",
        product.name if product else "",
        f"outflow: {evidence.outflow}" if evidence.outflow != "not looked" else "",
        f"read {words.temperature(evidence.ice_point_c)}"
        if evidence.ice_point_c is not None
        else "",
        {True: "seen dry", False: "water still in it", None: ""}[evidence.dry],
        f"oil {evidence.oil}" if evidence.oil else "",
        {True: "engine hot", False: "engine cold", None: ""}[evidence.engine_hot],
        f"stands {entry.posture}" if entry.posture else "",
        f"{entry.cover} cover" if entry.cover else "",
        f"{entry.rested_v:g} V at rest" if entry.rested_v is not None else "",
        *(f"found: {one.words}" for one in entry.findings),
        f"settles {', '.join(entry.settles)}" if entry.settles else "",
        f"replaces {entry.replaces}" if entry.replaces else "",
        entry.note,
    ]
    return "; ".join(part for part in parts if part)


def _time(at: datetime | None) -> str | None:
    return None if at is None else at.astimezone(UTC).isoformat().replace("+00:00", "Z")


def _point(value_c: float) -> float | None:
    return value_c if isfinite(value_c) else None  # null: dry, so no limit


def _circuits_json(stored: StoredCraft) -> list[dict[str, Any]]:
    return [
        {
            "circuit": one.id,
            "state": str(held.state),
            "liquid": held.liquid,
            "glycol_mass_fraction": held.glycol_mass_fraction,
            "ice_point_c": _point(held.ice_point_c),
            "burst_point_c": _point(held.burst_point_c),
            "basis": str(held.basis),
            "confidence": str(held.confidence),
            "suspect_since": _time(held.suspect_since),
            "why": held.why,
        }
        for one in stored.circuits
        for held in (stored.protection[one.id],)
    ]


def _craft_json(record: CraftRecord, stored: StoredCraft, at: datetime) -> dict[str, Any]:
    battery = stored.battery
    return {
        "craft": stored.id,
        "name": stored.name,
        "profile": stored.profile,
        "owner": stored.owner,
        "space": stored.space,
        "berth": stored.berth,
        "circuits": _circuits_json(stored),
        "battery": None
        if battery is None
        else {
            "place": str(battery.place),
            "space": battery.space,
            "maintained": battery.maintained,
            "rested_v": battery.rested_v,
            "rested_at": _time(battery.rested_at),
        },
        "open_findings": [one.seen.id for one in open_findings(record.entries, at)],
        "entries": len(standing_entries(record.entries, at)),
    }
