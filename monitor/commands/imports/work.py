"""``laidup import work``: a list of work on many craft, taken in whole or not at all."""

import argparse
import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

from monitor.commands.imports.piped import readable_file, shown_name
from monitor.commands.layup.after_entry import print_consequence
from monitor.commands.opening import (
    Opened,
    open_to_enter,
    read_records,
    tell_marked,
)
from monitor.commands.printing import print_json
from monitor.commands.progress import Progress
from monitor.craft.account import season
from monitor.craft.acts import all_circuits
from monitor.craft.layup import LayupEntry
from monitor.craft.record import CraftRecord
from monitor.errors import Fault, RecordError, fault_from
from monitor.settings.faults import one_of
from monitor.settings.work_list import ListedStep, read_work_list
from monitor.store.entering import enter
from monitor.store.layup import Layup
from monitor.yard.people import names_by_id

_MOST_TOLD = 50  # craft whose circuits are told one by one; a yard's autumn is read in the list
_NUMBER = re.compile(r"entry (\d+)\.?")


class _OnlyTriedError(Exception):
    """Takes back what was tried."""


def run(arguments: argparse.Namespace) -> int:
    """Take in a work list and say what each craft holds then."""
    opened = open_to_enter(arguments, craft_files=True)
    with opened as bench, Progress() as progress, readable_file(arguments.file) as file:
        before = {one.craft.id: one for one in read_records(bench)}
        given = {key: value for key in ("at", "by") if (value := getattr(arguments, key))}
        now = datetime.now(bench.yard.zone)
        standing = {
            craft: [one for one in record.standing(now) if season(one.at) == season(now)]
            for craft, record in before.items()
        }
        names = names_by_id(bench.yard)
        craft_names = {key: record.craft.name for key, record in before.items()}
        steps, wrong = read_work_list(
            file,
            now,
            names,
            standing,
            given,
            bench.yard.shelf,
            craft_names,
            progress.tell_counts("rows read"),
            profiles={key: record.profile for key, record in before.items()},
        )
        progress.say_stage(f"{len(steps):,} steps are being checked and entered")
        entries, steps = _entries_of(steps, before, file, bench, wrong)
        after: dict[str, CraftRecord | None] = {}
        new = 0
        try:
            with bench.store.transaction() as tx:
                new = _enter_all(entries, steps, tx.layup, bench, file, wrong)
                named = list(dict.fromkeys(one.craft for one in entries))
                found = tx.layup.records_of(named, bench.profiles)
                after = {craft: found.get(craft) for craft in named}
                tell_marked(tx.layup.chain.marked)
                if arguments.only_try:
                    raise _OnlyTriedError
        except _OnlyTriedError:
            pass
        progress.wipe_line()
        if arguments.json:
            print_json(
                {
                    "steps": len(entries),
                    "craft": list(after),
                    "new": new,
                    "written": not arguments.only_try,
                }
            )
            return 0
        _print_result(bench, entries, before, after, new)
    steps_told = "1 step" if len(entries) == 1 else f"{len(entries)} steps"
    print(
        f"{shown_name(arguments.file)}: {steps_told} on {len(after)} craft"
        + (f", {new} would be new; nothing was written." if arguments.only_try else f", {new} new.")
    )
    return 0


def _entries_of(
    steps: Sequence[ListedStep],
    records: Mapping[str, CraftRecord],
    file: Path,
    bench: Opened,
    wrong: list[Fault],
) -> tuple[list[LayupEntry], list[ListedStep]]:
    """The entries that steps come to, with their steps; what cannot be one adds to the faults."""
    entries, entered = [], []
    for step in steps:
        record = records.get(step.craft)
        if record is None:
            fault = Fault(
                file=str(file),
                key=f"{step.where}craft",
                problem=f"no craft {step.craft!r} is on record",
                remedy=one_of(step.craft, list(records)),
            )
            wrong.append(fault)
            continue
        try:
            known = all_circuits(step.form.act, record.profile)
            entries.append(step.form.to_layup_entry(step.craft, bench.yard.zone, known))
            entered.append(step)
        except ValueError as error:
            wrong.append(fault_from(error, str(file), step.where.rstrip(":. ")))
    return entries, entered


def _enter_all(
    entries: Sequence[LayupEntry],
    steps: Sequence[ListedStep],
    layup: Layup,
    bench: Opened,
    file: Path,
    wrong: Sequence[Fault],
) -> int:
    """Enter all, and tell how many are new; or raise every fault of the list, in its order."""
    new, found = 0, list(wrong)
    try:
        new = enter(layup, entries, bench.profiles, datetime.now(UTC), str(file))
    except RecordError as error:
        found.extend(_at_its_line(one, steps) for one in error.faults)
    if found:
        raise RecordError(sorted(dict.fromkeys(found), key=_place_in_list))
    return new


def _place_in_list(fault: Fault) -> tuple[int, ...]:
    """Numbers of its line, or of its job and step."""
    return tuple(int(number) for number in re.findall(r"\d+", fault.key)[:2])


def _at_its_line(fault: Fault, steps: Sequence[ListedStep]) -> Fault:
    """Name the line in place of the number of the entry."""
    match = _NUMBER.match(fault.key)
    if match is not None:
        where, column = steps[int(match[1]) - 1].where, fault.key[match.end() :]
    elif len(steps) == 1:
        where, column = steps[0].where, fault.key  # of a single entry no number is given
    else:
        return fault
    return replace(fault, key=f"{where}{column}".rstrip(":. "))


def _print_result(
    bench: Opened,
    entries: Sequence[LayupEntry],
    before: Mapping[str, CraftRecord],
    after: Mapping[str, CraftRecord | None],
    new: int,
) -> None:
    work: dict[str, list[LayupEntry]] = {}
    for entry in entries:
        work.setdefault(entry.craft, []).append(entry)
    several = len(after) > _MOST_TOLD
    for craft, record in after.items():
        if record is None or craft not in before:
            continue
        of_this = work[craft]
        known = {one.id for one in before[craft].on_record}
        fresh = len({one.id for one in of_this} - known)  # what stands there twice is one
        steps = "1 step" if len(of_this) == 1 else f"{len(of_this)} steps"
        print(f"{craft} {record.craft.name}: {steps}, {fresh} new")
        if not several:
            print_consequence(bench, [], before[craft], record, new, as_json=False, about=of_this)
    if several:
        print("What each holds now: `laidup layup list`; what is left to do: `laidup layup plan`.")
