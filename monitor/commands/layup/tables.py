"""How ``laidup layup`` shows the record: tables for people, JSON in SI for machines."""

from collections.abc import Mapping
from datetime import datetime

from rich.table import Table

from monitor.commands.layup.listing import circuits_json, ice_words, place_of, time_json
from monitor.commands.printing import print_json, print_table, print_text
from monitor.craft.craft_stays import Shelter
from monitor.craft.findings import Finding
from monitor.craft.record import CraftRecord
from monitor.craft.stored import StoredCraft
from monitor.wording import Wording


def print_protection(found: list[StoredCraft], words: Wording, *, as_json: bool) -> None:
    """What each circuit can stand, and how we know; craft of which all is equal share a table."""
    if as_json:
        print_json([{"craft": one.id, "circuits": circuits_json(one)} for one in found])
        return
    alike: dict[_TableOfCraft, list[StoredCraft]] = {}
    for stored in found:
        alike.setdefault(_table_of_craft(stored, words), []).append(stored)
    for (rows, reasons), craft in alike.items():
        names = "; ".join(f"{one.id} {one.name}, {place_of(one)}" for one in craft)
        table = Table(title=names, title_justify="left")
        for heading in ("Circuit", "State", "Holds", "Ice", "Burst", "Sure", "Why"):
            table.add_column(heading)
        for row in rows:
            table.add_row(*row)
        print_table(table)
        for number, why in enumerate(reasons, start=1):
            print_text(f" {number}  {why[:1].upper()}{why[1:]}.")


_TableOfCraft = tuple[tuple[tuple[str, ...], ...], tuple[str, ...]]  # its rows; reasons below it


def _table_of_craft(stored: StoredCraft, words: Wording) -> _TableOfCraft:
    """What a craft's table says of its circuits; a reason that several share has one number."""
    reasons: dict[str, int] = {}
    rows = []
    for circuit in stored.circuits:
        one = stored.protection[circuit.id]
        rows.append(
            (
                circuit.id,
                f"{one.state}, suspect" if one.suspect_since else str(one.state),
                one.liquid,
                ice_words(one, words),
                ice_words(one, words, burst=True),
                str(one.confidence),
                str(reasons.setdefault(one.why, len(reasons) + 1)),
            )
        )
    return tuple(rows), tuple(reasons)


def print_undone(
    record: CraftRecord, shelters: Mapping[str, Shelter], at: datetime, words: Wording
) -> None:
    """Say at once what a move undid."""
    from monitor.craft.rules.examine import examine

    for one in examine(record, shelters, at, words):
        if one.rule == "moved-into-cold" and one.at == at:
            print_text(f"{one.rule}: {one.why}. {one.remedy}")


def print_findings(
    found: list[tuple[CraftRecord, list[Finding]]], words: Wording, *, as_json: bool
) -> None:
    """What was found to need work, with its date."""
    if as_json:
        print_json(
            [
                {
                    "craft": record.craft.id,
                    "finding": one.seen.id,
                    "part": one.seen.part,
                    "kind": one.seen.kind and str(one.seen.kind),
                    "words": one.seen.words,
                    "found_at": time_json(one.found_at),
                    "by": one.by,
                    "settled_at": time_json(one.settled_at),
                }
                for record, several in found
                for one in several
            ]
        )
        return
    if not any(several for _, several in found):
        print_text("Nothing was found that still needs work.")
    for record, several in found:
        for one in several:
            kind = "" if one.seen.kind is None else f" ({one.seen.kind})"
            done = f", settled {words.day(one.settled_at)}" if one.settled_at else ""
            print_text(
                f"{record.craft.id} {record.craft.name}: {one.seen.part}{kind}: {one.seen.words}"
                f" ({one.seen.id}, {words.day(one.found_at)}, {words.person(one.by)}{done})"
            )
