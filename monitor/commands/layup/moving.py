"""``laidup layup move``: enters that a craft stands somewhere else from a time on."""

import argparse
import json
import sys
from datetime import UTC, datetime

from monitor.commands.author import author_of
from monitor.commands.layup import tables as layup_tables
from monitor.commands.opening import (
    at_time,
    craft_named,
    names_on_record,
    open_to_enter,
    tell_marked,
)
from monitor.commands.warnings import berth_faults
from monitor.craft.craft_stays import Stay
from monitor.errors import RecordError, fault_from
from monitor.settings.craft_names import place_meant
from monitor.store.entering import move


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
