"""``laidup layup list``: every craft with what it holds; for one craft, all that is on record."""

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from math import inf
from typing import Any

from rich.table import Table

from monitor.commands.printing import print_json, print_table, print_text
from monitor.craft.canonical import UNREADABLE, entry_json, entry_of
from monitor.craft.conflicting_words import judged_order
from monitor.craft.entry_words import evidence_words, may_lack_its_hour, time_words
from monitor.craft.findings import open_findings
from monitor.craft.layup import LayupEntry
from monitor.craft.links import Link, LinkKind, content_of_body
from monitor.craft.protection import LayupState, Protection
from monitor.craft.record import CraftRecord
from monitor.craft.stored import Battery, BatteryPlace, StoredCraft
from monitor.craft.work_order import standing_entries
from monitor.units import json_number
from monitor.wording import Wording

_INDENT = 14  # the evidence stands behind the time
_WORST_FIRST = list(reversed(LayupState))


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
        weakest = _weakest_protection(stored.protection)
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
    replaced = {one.replaces: one.id for one in record.on_record if one.replaces}
    written = _time_written(links)
    places = _places_in_work(record, at)
    told = [one for one in record.on_record if one.at <= at]
    if as_json:
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
    lines_told = _chain_lines(links, replaced, places, at, words)
    for _, _, lines in sorted(lines_told, key=lambda one: one[:2]):
        print_text(lines[0])
        for line in lines[1:]:
            print_text(line, _INDENT)
    if any(may_lack_its_hour(one, words) for one in told):
        print_text(
            "12:00 may stand for a date without an hour: earlier versions kept it so. It is judged"
            " as noon; `laidup layup correct ENTRY --at DATE` says that the hour is not known."
        )


_Place = tuple[datetime, int]  # a time, and the place among all that counts as done at it


def _places_in_work(record: CraftRecord, at: datetime) -> dict[str, _Place]:
    """Where each entry stands in the order by which circuits are judged.

    What was corrected stands with what took its place; what was withdrawn at its own time.
    """
    entries = record.on_record
    by_id = {one.id: one for one in entries}
    found = {one.id: (one.at, len(entries)) for one in entries}
    for number, done in enumerate(judged_order(entries, at)):
        step: LayupEntry | None = done.entry
        passed: set[str] = set()
        while step is not None and step.id not in passed:
            found[step.id] = (done.at, number)
            passed.add(step.id)
            step = by_id.get(step.replaces)
    return found


def _time_written(links: Sequence[Link]) -> dict[str, str]:
    """When each entry was written down, as the chain holds it; without those it cannot tell of."""
    bodies = [content_of_body(one.body) for one in links if one.kind is LinkKind.ENTRY]
    return {
        str(body["entry"]["id"]): str(body["written_at"])
        for body in bodies
        if isinstance(body.get("entry"), dict) and "id" in body["entry"] and "written_at" in body
    }


def _chain_lines(
    links: Sequence[Link],
    replaced: Mapping[str, str],
    places: Mapping[str, _Place],
    until: datetime,
    words: Wording,
) -> list[tuple[_Place, int, list[str]]]:
    """Each link of the chain at its place, in lines; moves stand before work of the same time.

    A correction stands right under what it corrects, whatever time it gives for the work.
    """
    found: list[tuple[_Place, int, list[str]]] = []
    known: dict[str, Any] | None = None
    last = datetime.min.replace(tzinfo=UTC)
    for number, one in enumerate(links):
        body = content_of_body(one.body)
        try:
            told = _link_told(one.kind, body, known, replaced, words)
        except UNREADABLE:
            # It stands where it was written, behind the link before it.
            told = (last, [f"Link {one.number} cannot be read; `laidup verify` says more"])
        if told is not None:
            at, lines = told
            said = body.get("entry")
            entry = said if isinstance(said, dict) else {}
            if at <= until:
                found.append((places.get(str(entry.get("id", "")), (at, -1)), number, lines))
            last = at
        known = body["craft"] if isinstance(body.get("craft"), dict) else known
    return found


def _link_told(
    kind: LinkKind,
    body: Mapping[str, Any],
    known: Mapping[str, Any] | None,
    replaced: Mapping[str, str],
    words: Wording,
) -> tuple[datetime, list[str]] | None:
    """One link at the time of what it tells; None for the first version of a craft."""
    written = datetime.fromisoformat(body["written_at"])
    if kind is LinkKind.ENTRY:
        entry = entry_of(body["entry"])
        return entry.at, _entry_lines(entry, written, replaced, words)
    if kind is LinkKind.MOVE:
        since = datetime.fromisoformat(body["move"]["since"])
        return since, [_move_line(body["move"], since, written, words)]
    if kind is LinkKind.CRAFT:
        if known is None:
            return None
        by = f" by {words.person(body['by'])}" if body.get("by") else ""
        changes = _list_changes(known, body["craft"])
        return written, [f"{_time_words(written, words)}  changed{by}: {changes}"]
    return written, [f"{_time_words(written, words)}  the chain did not hold before this"]


def _entry_lines(
    entry: LayupEntry, written: datetime, replaced: Mapping[str, str], words: Wording
) -> list[str]:
    circuits = f": {', '.join(entry.circuits)}" if entry.circuits else ""
    head = f"{time_words(entry, words):>12}  {entry.act}{circuits}, {words.person(entry.by)}"
    late = f", written {words.date(written)}" if _is_late(entry.at, written) else ""
    gone = [f"replaced by {replaced[entry.id]}"] if entry.id in replaced else []
    seen = "; ".join([*evidence_words(entry, words), *gone])
    return [f"{head}  [{entry.id}{late}]", *([seen] if seen else [])]


def _is_late(at: datetime, written: datetime) -> bool:
    """Written down so long after the work that it matters."""
    return (written - at).total_seconds() > 12 * 3600


def _move_line(move: Mapping[str, str], since: datetime, written: datetime, words: Wording) -> str:
    place = "/".join(part for part in (move["space"], move.get("berth", "")) if part)
    by = f", {words.person(move['by'])}" if move.get("by") else ", nobody said by whom"
    late = f"; written {words.date(written)}" if _is_late(since, written) else ""
    return f"{_time_words(since, words)}  stands in {place}{by}{late}"


def _list_changes(before: Mapping[str, Any], after: Mapping[str, Any]) -> str:
    keys = [key for key in {**before, **after} if before.get(key) != after.get(key)]
    return "; ".join(
        f"{key.replace('_', ' ')} was {before.get(key, 'none')}, now {after.get(key, 'none')}"
        for key in keys
    )


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


def _weakest_protection(held: Mapping[str, Protection]) -> Protection:
    return max(
        held.values(),
        key=lambda one: (
            one.suspect_since is not None,
            _WORST_FIRST.index(one.state) < len(_WORST_FIRST) - 1,
            one.ice_point_c,
        ),
    )


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
