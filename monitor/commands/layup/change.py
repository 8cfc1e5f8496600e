"""``laidup layup correct``, ``withdraw`` and ``reassign``: what is on record is put right.

Nothing on record is edited. Each verb writes further entries, and tells what they change.
"""

import argparse
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from monitor.commands.author import author_of
from monitor.commands.layup.add import said_by_flags
from monitor.commands.layup.after_entry import print_consequence
from monitor.commands.opening import (
    Opened,
    craft_named,
    names_on_record,
    open_to_enter,
    tell_marked,
)
from monitor.commands.photo_files import take_photo_files
from monitor.craft.acts import all_circuits
from monitor.craft.canonical import derived_id, entry_from, values_of
from monitor.craft.entry_words import change_words
from monitor.craft.fields import BY_PATH, ENTERED_FIELDS, FIELDS, STRENGTH_BY, Field, StrengthBy
from monitor.craft.layup import Act, LayupEntry, Liquid
from monitor.craft.links import first_entered_at
from monitor.craft.record import CraftRecord
from monitor.errors import Fault, RecordError, fault_from
from monitor.intake.photos import KeptPhoto
from monitor.settings.entry_as_typed import start_of_day, typed_value
from monitor.settings.faults import one_of
from monitor.settings.layup_form import circuits_meant, strength_by_mass
from monitor.settings.written_times import is_day_alone
from monitor.store.entering import enter
from monitor.yard.people import names_by_id

SOURCE = Path("layup")
_KEPT = frozenset({"id", "craft", "replaces", "entered_by"})  # no correction changes these


def run_correct(arguments: argparse.Namespace) -> int:
    """Enter a further entry that says the same but for what is named, and tell what it changes."""
    with open_to_enter(arguments, craft_files=True) as bench:
        record, old = _find_entry(bench, arguments.entry)
        who = _author_of(arguments, bench)
        photos = take_photo_files(arguments, SOURCE)
        changes = _changed_values(arguments, record, old, bench)
        new = _copy_for_change(entry_from({**values_of(old), **changes, "replaces": old.id}), who)
        told = change_words(old, new, bench.wording_for(as_json=False))
        if not told:
            raise _change_error(
                "ENTRY", f"{old.id} says so already", "Name what is to be different."
            )
        if not arguments.json:
            print(f"{record.craft.id} {record.craft.name}, {old.act}:")
            for line in told:
                print(f"  {line}")
        return _enter_changes(bench, [new], record, arguments, about=[old], photos=photos)


def run_withdraw(arguments: argparse.Namespace) -> int:
    """Take an entry away, or bring back what a withdrawal took, and tell what is held then."""
    with open_to_enter(arguments, craft_files=True) as bench:
        record, old = _find_entry(bench, arguments.entry)
        who = _author_of(arguments, bench)
        if old.act is Act.WITHDRAWN:
            gone = next(one for one in record.on_record if one.id == old.replaces)
            new = _copy_for_change(
                replace(gone, replaces=old.id, note=_note_of(arguments) or gone.note), who
            )
            return _enter_changes(bench, [new], record, arguments, about=[gone])
        return _enter_changes(
            bench, [_withdraw_entry(old, who, arguments)], record, arguments, about=[old]
        )


def run_reassign(arguments: argparse.Namespace) -> int:
    """Withdraw an entry from one craft and enter the same on another, both or neither."""
    with open_to_enter(arguments, craft_files=True) as bench:
        record, old = _find_entry(bench, arguments.entry)
        who = _author_of(arguments, bench)
        to = craft_named(arguments.to, names_on_record(bench))
        with bench.store.snapshot() as tx:
            other = tx.layup.record_of(to, bench.profiles)
            told_at = old.told_at or first_entered_at(
                old, record.on_record, tx.layup.links_of(old.craft)
            )
        if other is None or to == record.craft.id:
            problem = f"it is on {record.craft.name} ({record.craft.id}) already"
            raise _change_error("CRAFT", problem, "Name the other craft, on which it was done.")
        moved = _copy_for_change(
            replace(old, craft=to, replaces="", moved_from=record.craft.id, told_at=told_at), who
        )
        gone = _withdraw_entry(old, who, arguments, f"it was {other.craft.name} ({other.craft.id})")
        now = datetime.now(UTC)
        with bench.store.transaction() as tx:
            count = enter(tx.layup, [gone, moved], bench.profiles, now, str(SOURCE))
            after = [tx.layup.record_of(one, bench.profiles) for one in (old.craft, moved.craft)]
            tell_marked(tx.layup.chain.marked)
        for entry, before, then in ((gone, record, after[0]), (moved, other, after[1])):
            if then is not None:
                if not arguments.json:
                    print(f"{before.craft.id} {before.craft.name}:")
                print_consequence(
                    bench, [entry], before, then, count, as_json=arguments.json, about=[old]
                )
    return 0


def _enter_changes(
    bench: Opened,
    new: list[LayupEntry],
    before: CraftRecord,
    arguments: argparse.Namespace,
    about: list[LayupEntry],
    photos: Sequence[KeptPhoto] = (),
) -> int:
    now = datetime.now(UTC)
    with bench.store.transaction() as tx:
        for one in photos:
            tx.photos.keep_photo(one.sha256, one.content, before.craft.id, new[0].entered_by, now)
        count = enter(tx.layup, new, bench.profiles, now, str(SOURCE))
        after = tx.layup.record_of(before.craft.id, bench.profiles)
        tell_marked(tx.layup.chain.marked)
    if after is not None:
        print_consequence(bench, new, before, after, count, as_json=arguments.json, about=about)
    return 0


def _find_entry(bench: Opened, entry_id: str) -> tuple[CraftRecord, LayupEntry]:
    with bench.store.snapshot() as tx:
        records = tx.layup.all_records(bench.profiles)
    both = [(record, one) for record in records for one in record.on_record]
    found = [pair for pair in both if pair[1].id == entry_id] or [
        pair for pair in both if pair[1].id.startswith(entry_id)
    ]
    if len(found) != 1:
        several = ", ".join(f"{one.id} of {record.craft.id}" for record, one in found[:4])
        problem = (
            f"{entry_id!r} may be {several}" if found else f"no entry {entry_id!r} is on record"
        )
        raise _change_error("ENTRY", problem, "`laidup layup list CRAFT` shows the ids.")
    record, entry = found[0]
    newer = next((one for one in record.on_record if one.replaces == entry.id), None)
    if newer is not None:
        raise _change_error(
            "ENTRY", f"{entry.id!r} was replaced by {newer.id!r}", f"Name {newer.id!r} instead."
        )
    return record, entry


def _author_of(arguments: argparse.Namespace, bench: Opened) -> str:
    return author_of(arguments.entered_by, bench.yard, str(SOURCE), "--entered-by")


def _note_of(arguments: argparse.Namespace) -> str:
    """The note that was given, within the limits that every other way in has; empty: none."""
    field = BY_PATH["note"]
    if not arguments.note:
        return ""
    return str(_typed_value(field, arguments.note, datetime.now(UTC), {}))


def _changed_values(
    arguments: argparse.Namespace, record: CraftRecord, old: LayupEntry, bench: Opened
) -> dict[str, Any]:
    """New values by path; None where a field is cleared."""
    now, names = datetime.now(bench.yard.zone), names_by_id(bench.yard)
    said = said_by_flags(arguments)
    changes: dict[str, Any] = {}
    for field in ENTERED_FIELDS:
        if field.column in said and field.path not in _KEPT:
            changes[field.path] = _typed_value(field, said[field.column], now, names)
    if "at" in changes:
        alone = is_day_alone(said["at"])
        changes["day_began"] = start_of_day(changes["at"], now) if alone else None
    if "circuits" in changes:
        known = all_circuits(changes.get("act", old.act), record.profile)
        changes["circuits"] = circuits_meant(changes["circuits"], known)
    by: StrengthBy | None = changes.pop(STRENGTH_BY.path, None)
    if "product.strength" in changes:
        liquid: Liquid | None = changes.get("product.liquid") or (
            old.product.liquid if old.product else None
        )
        changes["product.strength"] = strength_by_mass(changes["product.strength"], by, liquid)
    clearable = {one.column: one for one in FIELDS if one.path not in {*_KEPT, "at", "by", "act"}}
    for column in arguments.clear:
        if column.replace("-", "_") not in clearable:
            raise _change_error(
                "--clear", f"{column!r} is no field", one_of(column, list(clearable))
            )
        changes[clearable[column.replace("-", "_")].path] = None
    if old.product is None and any(path.startswith("product.") for path in changes):
        changes.setdefault("product.name", "not named")
    return changes


def _typed_value(field: Field, said: Any, now: datetime, names: Mapping[str, str]) -> Any:  # noqa: ANN401
    try:
        return typed_value(field, said, now, names)
    except ValueError as error:
        raise RecordError([fault_from(error, str(SOURCE), field.flag)]) from error


def _withdraw_entry(
    old: LayupEntry, who: str, arguments: argparse.Namespace, why: str = ""
) -> LayupEntry:
    note = "; ".join(part for part in (why, _note_of(arguments)) if part)
    gone = LayupEntry(
        id="new",
        craft=old.craft,
        at=max(old.at, datetime.now(UTC).replace(microsecond=0)),
        by=who,
        act=Act.WITHDRAWN,
        replaces=old.id,
        note=note,
    )
    return replace(gone, id=derived_id(gone))


def _copy_for_change(entry: LayupEntry, who: str) -> LayupEntry:
    written = replace(entry, entered_by=who)
    return replace(written, id=derived_id(written))


def _change_error(key: str, problem: str, remedy: str) -> RecordError:
    return RecordError([Fault(file=str(SOURCE), key=key, problem=problem, remedy=remedy)])
