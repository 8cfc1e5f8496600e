"""``laidup layup list``: every craft with what it holds; for one craft, all that is on record."""

from collections.abc import Sequence
from datetime import UTC, datetime
from math import inf
from typing import Any

from rich.table import Table

from monitor.commands.printing import print_json, print_table, print_text
from monitor.craft.canonical import entry_json
from monitor.craft.craft_stays import Stay
from monitor.craft.entry_words import evidence_words, may_lack_its_hour, time_words
from monitor.craft.findings import open_findings
from monitor.craft.layup import LayupEntry
from monitor.craft.links import Link, LinkKind, content_of_body
from monitor.craft.protection import LayupState, Protection
from monitor.craft.record import CraftRecord
from monitor.craft.stored import Battery, BatteryPlace, StoredCraft
from monitor.craft.work_order import standing_entries
from monitor.craft.worst_order import weakest_protection
from monitor.phrases.work_told import changed_fields
from monitor.reports.record_events import RecordEvent, places_in_work, record_events
from monitor.units import json_number
from monitor.wording import Wording

_INDENT = 14  # the evidence stands behind the time


def holds_low(one: Protection, low_c: float) -> bool:
    """Whether a circuit is shown to stand a low without first ice."""
    return one.state is LayupState.PROVEN and one.ice_point_c <= low_c


def list_craft(
    found: Sequence[tuple[CraftRecord, StoredCraft]],
    at: datetime,
    low_c: float,
    words: Wording,
    *,
    as_json: bool,
) -> None:
    """Show every craft: where it stands, how much of it holds a low, its weakest circuit."""
    if as_json:
        rows = [_craft_json(record, stored, at, low_c) for record, stored in found]
        print_json(rows)
        return
    if not found:
        print_text(
            "No craft is on record here at that time. Bring craft in with `laidup import craft`."
        )
        return
    table = Table(title=f"Craft on {words.day(at)}", title_justify="left")
    low = words.temperature(low_c, 0)
    for heading in ("Craft", "Place", f"Holds {low}", "Weakest circuit", "Battery", "Open"):
        table.add_column(heading, overflow="fold")
    for record, stored in found:
        weakest = weakest_protection(stored.protection)
        number = sum(holds_low(one, low_c) for one in stored.protection.values())
        suspect = ", suspect" if weakest.suspect_since else ""
        table.add_row(
            f"{stored.id} {stored.name}",
            place_of(stored),
            f"{number} of {len(stored.protection)}",
            f"{weakest.circuit}: {weakest.state}{suspect}, {ice_words(weakest, words)}",
            _battery_words(stored.battery),
            str(len(open_findings(record.entries, at, record.profile)) or ""),
        )
    print_table(table)
    print_text(
        f"Holds {low}: shown to have no ice at that. All but proven is judged as plain water."
        " laidup is an aid to judgement."
    )


def list_record(
    record: CraftRecord, links: Sequence[Link], at: datetime, words: Wording, *, as_json: bool
) -> None:
    """Show all that is on record of one craft: work with its evidence, moves, who wrote it when.

    What was replaced is named, never hidden.
    """
    told = [one for one in record.on_record if one.at <= at]
    if as_json:
        replaced = {one.replaces: one.id for one in record.on_record if one.replaces}
        written, places = _time_written(links), places_in_work(record, at)
        ordered = sorted(told, key=lambda one: places[one.id])
        rows = [
            {
                **entry_json(one),
                "replaced_by": replaced.get(one.id),
                "written_at": written.get(one.id),
            }
            for one in ordered
        ]
        print_json(rows)
        return
    print_text(f"{record.craft.id} {record.craft.name}, {record.profile.name}")
    for event in record_events(record, links, at):
        lines = _event_lines(event, words)
        print_text(lines[0])
        for line in lines[1:]:
            print_text(line, _INDENT)
    if any(may_lack_its_hour(one, words) for one in told):
        print_text(
            "12:00 may stand for a date without an hour: earlier versions kept it so. It is judged"
            " as noon; `laidup layup correct ENTRY --at DATE` says that the hour is not known."
        )


def _time_written(links: Sequence[Link]) -> dict[str, str]:
    """When each entry was written down, as the chain holds it; without those it cannot tell of."""
    bodies = [content_of_body(one.body) for one in links if one.kind is LinkKind.ENTRY]
    return {
        str(body["entry"]["id"]): str(body["written_at"])
        for body in bodies
        if isinstance(body.get("entry"), dict) and "id" in body["entry"] and "written_at" in body
    }


def _event_lines(event: RecordEvent, words: Wording) -> list[str]:
    if event.entry is not None:
        return _entry_lines(event, event.entry, words)
    if event.move is not None:
        return [_move_line(event, event.move, words)]
    if event.changed is not None:
        by = f" by {words.person(event.by)}" if event.by else ""
        changes = "; ".join(changed_fields(*event.changed))
        return [f"{_time_words(event.at, words)}  changed{by}: {changes}"]
    if not event.is_readable:
        return [f"Link {event.number} cannot be read; `laidup verify` says more"]
    return [f"{_time_words(event.at, words)}  the chain did not hold before this"]


def _entry_lines(event: RecordEvent, entry: LayupEntry, words: Wording) -> list[str]:
    circuits = f": {', '.join(entry.circuits)}" if entry.circuits else ""
    head = f"{time_words(entry, words):>12}  {entry.act}{circuits}, {words.person(entry.by)}"
    late = f", written {words.date(event.written_at)}" if event.is_late and event.written_at else ""
    gone = [f"replaced by {event.replaced_by}"] if event.replaced_by else []
    seen = "; ".join([*evidence_words(entry, words), *gone])
    return [f"{head}  [{entry.id}{late}]", *([seen] if seen else [])]


def _move_line(event: RecordEvent, move: Stay, words: Wording) -> str:
    place = "/".join(part for part in (move.space, move.berth) if part)
    by = f", {words.person(move.by)}" if move.by else ", nobody said by whom"
    late = ""
    if event.is_late and event.written_at:
        late = f"; written {words.date(event.written_at)}"
    return f"{_time_words(event.at, words)}  stands in {place}{by}{late}"


def _time_words(at: datetime, words: Wording) -> str:
    local = at.astimezone(words.zone)
    return f"{local.day:>2} {local:%b %H:%M}"


def place_of(stored: StoredCraft) -> str:
    """Where it stands, as people write it."""
    return f"{stored.space}/{stored.berth}" if stored.berth else stored.space


def ice_words(one: Protection, words: Wording, *, burst: bool = False) -> str:
    """The point at which ice begins, or at which it breaks something."""
    point = one.burst_point_c if burst else one.ice_point_c
    return "dry" if point == -inf else words.ice_point(point)


def _battery_words(battery: Battery | None) -> str:
    if battery is None:
        return ""
    fed = "fed" if battery.maintained else "not fed"
    if battery.place is BatteryPlace.AWAY:
        return "with its owner"
    off = ", lead off" if battery.disconnected else ""
    volts = f", {battery.rested_v:g} V" if battery.rested_v is not None else ""
    return f"{battery.place}, {fed}{off}{volts}"


def time_json(at: datetime | None) -> str | None:
    """A time for machines: UTC, with a Z."""
    return None if at is None else at.astimezone(UTC).isoformat().replace("+00:00", "Z")


def circuits_json(stored: StoredCraft) -> list[dict[str, Any]]:
    """What each circuit can stand, for machines; null for dry, so no limit."""
    return [
        {
            "circuit": one.id,
            "state": str(held.state),
            "liquid": held.liquid,
            "glycol_mass_fraction": held.glycol_mass_fraction,
            "ice_point_c": json_number(held.ice_point_c),
            "burst_point_c": json_number(held.burst_point_c),
            "basis": str(held.basis),
            "confidence": str(held.confidence),
            "suspect_since": time_json(held.suspect_since),
            "why": held.why,
        }
        for one in stored.circuits
        for held in (stored.protection[one.id],)
    ]


def _craft_json(
    record: CraftRecord, stored: StoredCraft, at: datetime, low_c: float
) -> dict[str, Any]:
    battery = stored.battery
    return {
        "craft": stored.id,
        "name": stored.name,
        "profile": stored.profile,
        "owner": stored.owner,
        "space": stored.space,
        "berth": stored.berth,
        "moves": [
            {"since": time_json(one.since), "space": one.space, "berth": one.berth, "by": one.by}
            for one in record.stays
            if one.since <= at
        ],
        "low_c": low_c,
        "holds_low": sum(holds_low(one, low_c) for one in stored.protection.values()),
        "circuits": circuits_json(stored),
        "battery": None
        if battery is None
        else {
            "place": str(battery.place),
            "space": battery.space,
            "maintained": battery.maintained,
            "rested_v": battery.rested_v,
            "rested_at": time_json(battery.rested_at),
        },
        "open_findings": [one.seen.id for one in open_findings(record.entries, at, record.profile)],
        "entries": len(standing_entries(record.entries, at)),
    }
