"""``laidup layup``: enter lay-up work, and see what the record adds up to."""

import argparse
import json
import sys
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime

from monitor.commands.author import author_of
from monitor.commands.layup import listing as layup_list
from monitor.commands.layup import plan as layup_plan
from monitor.commands.layup import tables as layup_tables
from monitor.commands.opening import (
    Opened,
    at_time,
    craft_named,
    names_on_record,
    open_read_only,
    open_to_enter,
    read_records,
    tell_marked,
)
from monitor.commands.warnings import berth_faults
from monitor.craft.craft_stays import Stay
from monitor.craft.findings import findings
from monitor.craft.record import CraftRecord, stored_craft
from monitor.errors import RecordError, fault_from
from monitor.settings.craft_names import place_meant
from monitor.store.entering import move

_Show = Callable[[Opened, list[CraftRecord], datetime, argparse.Namespace], None]


def run_verb(arguments: argparse.Namespace) -> int:
    """Read the records that are asked for, and show them by the verb's own function."""
    with open_read_only(arguments) as bench:
        at = at_time(arguments.at, bench.yard)
        records = read_records(bench, arguments.craft)
        arguments.show(bench, records, at, arguments)
    return 0


def show_list(
    bench: Opened, records: list[CraftRecord], at: datetime, arguments: argparse.Namespace
) -> None:
    """Show every craft and what it holds; of craft that are named, all that is on record."""
    words = bench.wording_for(as_json=arguments.json)
    if arguments.craft:
        for record in records:
            everything = replace(record, entries=record.on_record)
            with bench.store.snapshot() as tx:
                links = tx.layup.links_of(record.craft.id)
            layup_list.list_record(everything, links, at, words, as_json=arguments.json)
        return
    craft = [
        (record, stored)
        for record in records
        if (stored := stored_craft(record, bench.shelters, at, words)) is not None
    ]
    low_c = layup_plan.low_of(bench, arguments.low)
    layup_list.list_craft(craft, at, low_c, words, as_json=arguments.json)


def show_protection(
    bench: Opened, records: list[CraftRecord], at: datetime, arguments: argparse.Namespace
) -> None:
    """Show what each circuit can stand, and how we know."""
    words = bench.wording_for(as_json=arguments.json)
    craft = [
        stored
        for record in records
        if (stored := stored_craft(record, bench.shelters, at, words)) is not None
    ]
    layup_tables.print_protection(craft, words, as_json=arguments.json)


def show_findings(
    bench: Opened, records: list[CraftRecord], at: datetime, arguments: argparse.Namespace
) -> None:
    """Show what was found to need work."""
    words = bench.wording_for(as_json=arguments.json)
    found = [
        (
            record,
            [
                one
                for one in findings(record.entries, at, record.profile)
                if arguments.all or not one.settled_at
            ],
        )
        for record in records
    ]
    layup_tables.print_findings(found, words, as_json=arguments.json)


def move_craft(arguments: argparse.Namespace) -> int:
    """Enter that a craft stands somewhere else from a time on."""
    with open_to_enter(arguments, craft_files=True) as bench:
        try:
            place = place_meant(arguments.place, bench.yard)
        except ValueError as error:
            raise RecordError([fault_from(error, "layup move", "PLACE")]) from error
        space, _, berth = place.partition("/")
        craft = craft_named(arguments.craft, names_on_record(bench))
        since = at_time(arguments.at, bench.yard)
        who = author_of(arguments.by, bench.yard, "layup move", "--by")
        stay = Stay(craft=craft, since=since, space=space, berth=berth, by=who)
        with bench.store.transaction() as tx:
            now = datetime.now(UTC)
            new = move(tx.layup, stay, now, "layup move")
            tell_marked(tx.layup.chain.marked)
            records = tx.layup.all_records(bench.profiles)
        record = next((one for one in records if one.craft.id == stay.craft), None)
        shared = [fault for fault in berth_faults(records, bench.yard, now) if fault.key == place]
        for fault in shared:
            print(fault, file=sys.stderr)
        if arguments.json:
            print(
                json.dumps(
                    {
                        "craft": stay.craft,
                        "place": place,
                        "new": bool(new),
                        "shared": bool(shared),
                    }
                )
            )
        else:
            print(f"{stay.craft} stands in {place}." if new else "On record already.")
            if record is not None:
                words = bench.wording_for(as_json=False)
                layup_tables.print_undone(record, bench.shelters, since, words)
    return 0
