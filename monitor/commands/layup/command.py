"""``laidup layup``: what the record adds up to, asked of some craft or of all.

A question imports what it shows and no more: the answer about one craft is waited for in the cold.
"""

import argparse
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime

from monitor.commands.opening import Opened, at_time, open_read_only, read_records
from monitor.craft.record import CraftRecord, stored_craft

_Show = Callable[[Opened, list[CraftRecord], datetime, argparse.Namespace], None]


def run_verb(arguments: argparse.Namespace) -> int:
    """Read the records that are asked for, and show them by the verb's own function."""
    with open_read_only(arguments, about=arguments.craft) as bench:
        at = at_time(arguments.at, bench.yard)
        records = read_records(bench, arguments.craft)
        arguments.show(bench, records, at, arguments)
    return 0


def show_list(
    bench: Opened, records: list[CraftRecord], at: datetime, arguments: argparse.Namespace
) -> None:
    """Show every craft and what it holds; of craft that are named, all that is on record."""
    from monitor.commands.layup import listing as layup_list

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
    from monitor.commands.layup import plan as layup_plan

    low_c = layup_plan.low_of(bench, arguments.low)
    layup_list.list_craft(craft, at, low_c, words, as_json=arguments.json)


def show_protection(
    bench: Opened, records: list[CraftRecord], at: datetime, arguments: argparse.Namespace
) -> None:
    """Show what each circuit can stand, and how we know."""
    from monitor.commands.layup import tables as layup_tables

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
    from monitor.commands.layup import tables as layup_tables
    from monitor.craft.findings import findings

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
