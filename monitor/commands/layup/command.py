"""``laidup layup``: enter lay-up work, and see what the record adds up to."""

import argparse
import json
import sys
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime

from monitor.commands.author import author_of
from monitor.commands.layup import add as layup_add
from monitor.commands.layup import change as layup_change
from monitor.commands.layup import confirm as layup_confirm
from monitor.commands.layup import listing as layup_list
from monitor.commands.layup import plan as layup_plan
from monitor.commands.layup import tables as layup_tables
from monitor.commands.opening import (
    Opened,
    add_at,
    add_config,
    at_time,
    craft_named,
    names_on_record,
    open_to_enter,
    open_to_look,
    read_records,
    tell_marked,
)
from monitor.commands.warnings import berth_faults
from monitor.craft.findings import findings
from monitor.craft.kept import Stay
from monitor.craft.record import CraftRecord, stored_craft
from monitor.errors import RecordError, fault_from
from monitor.settings.craft_names import place_meant
from monitor.store.entering import move

_Show = Callable[[Opened, list[CraftRecord], datetime, argparse.Namespace], None]


def add_parser(children: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command and its verbs."""
    parser = children.add_parser(
        "layup", help="enter lay-up work; see protection, the job plan, findings, the spring plan"
    )
    verbs = parser.add_subparsers(metavar="VERB", required=True)
    layup_add.add_verb(verbs)
    layup_change.add_verbs(verbs)
    layup_confirm.add_verb(verbs)
    _add_move(verbs)
    listed = _add_verb(
        verbs, "list", _show_list, "every craft and what it holds; for one craft, its record"
    )
    layup_plan.add_low(listed)
    _add_verb(verbs, "protection", _show_protection, "what each circuit can stand, and how we know")
    layup_plan.add_low(
        _add_verb(verbs, "plan", layup_plan.show_plans, layup_plan.ABOUT_PLAN, also=("missing",))
    )
    layup_plan.add_crew(
        _add_verb(verbs, "supplies", layup_plan.show_supplies, layup_plan.ABOUT_SUPPLIES)
    )
    _add_verb(
        verbs, "review", layup_plan.show_review, "the record held against the rules of the trade"
    )
    found = _add_verb(verbs, "findings", _show_findings, "what was found to need work")
    found.add_argument("--all", action="store_true", help="those that were settled, too")
    _add_verb(
        verbs, "spring", layup_plan.show_spring, "what to do before the first start, in order"
    )


def _add_verb(
    verbs: "argparse._SubParsersAction[argparse.ArgumentParser]",
    name: str,
    show: _Show,
    about: str,
    also: tuple[str, ...] = (),
) -> argparse.ArgumentParser:
    parser = verbs.add_parser(name, help=about, description=about, aliases=also)
    parser.add_argument("craft", nargs="*", metavar="CRAFT", help="ids or names of craft (all)")
    add_at(parser, "as the record stood then")
    parser.add_argument("--json", action="store_true", help="for machines, in SI units")
    add_config(parser)
    parser.set_defaults(run=_run_verb, show=show)
    return parser


def _run_verb(arguments: argparse.Namespace) -> int:
    with open_to_look(arguments) as bench:
        at = at_time(arguments.at, bench.yard)
        records = read_records(bench, arguments.craft)
        arguments.show(bench, records, at, arguments)
    return 0


def _show_list(
    bench: Opened, records: list[CraftRecord], at: datetime, arguments: argparse.Namespace
) -> None:
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


def _show_protection(
    bench: Opened, records: list[CraftRecord], at: datetime, arguments: argparse.Namespace
) -> None:
    words = bench.wording_for(as_json=arguments.json)
    craft = [
        stored
        for record in records
        if (stored := stored_craft(record, bench.shelters, at, words)) is not None
    ]
    layup_tables.print_protection(craft, words, as_json=arguments.json)


def _show_findings(
    bench: Opened, records: list[CraftRecord], at: datetime, arguments: argparse.Namespace
) -> None:
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


def _add_move(verbs: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    parser = verbs.add_parser("move", help="a craft stands somewhere else from now on")
    parser.add_argument("craft", metavar="CRAFT")
    parser.add_argument("place", metavar="PLACE", help="SPACE or SPACE/BERTH")
    add_at(parser, "when it was moved")
    parser.add_argument(
        "--by",
        metavar="PERSON",
        help="who moved it (the user of this machine, where the yard knows that name)",
    )
    parser.add_argument("--json", action="store_true", help="for machines")
    add_config(parser)
    parser.set_defaults(run=_move_craft)


def _move_craft(arguments: argparse.Namespace) -> int:
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
