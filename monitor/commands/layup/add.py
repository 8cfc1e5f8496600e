"""``laidup layup add``: one piece of work into the record, by flags or question by question."""

import argparse
import sys
from datetime import datetime
from pathlib import Path
from typing import Any

from monitor.commands.layup.form_entry import SOURCE, enter_form, missing_value
from monitor.commands.layup.interview import ask_step_by_step
from monitor.commands.layup.unfinished import saved_answers
from monitor.commands.opening import (
    Opened,
    craft_named,
    names_on_record,
    open_to_enter,
)
from monitor.commands.parsers.layup_entry import NOT_FLAGS
from monitor.commands.photo_files import take_photo_files
from monitor.craft.fields import ENTERED_FIELDS
from monitor.craft.naming import said_of_craft
from monitor.errors import RecordError, fault_from
from monitor.settings.entry_as_typed import written_form
from monitor.yard.people import names_by_id


def said_by_flags(arguments: argparse.Namespace) -> dict[str, Any]:
    """What the flags said, by column; only what was given."""
    return {
        field.column: value
        for field in ENTERED_FIELDS
        if field.path not in NOT_FLAGS
        and (value := getattr(arguments, field.column, None)) is not None
    }


def run(arguments: argparse.Namespace) -> int:
    """Enter the work and say what it adds up to."""
    with open_to_enter(arguments, craft_files=True) as bench:
        if arguments.act is None:
            if not sys.stdin.isatty():
                raise missing_value(
                    SOURCE, "--act", "Name the act, or run it at a terminal to be asked."
                )
            craft = None
            if arguments.craft is not None:
                craft = craft_named(arguments.craft, names_on_record(bench))
            with saved_answers(Path(arguments.config).resolve()) as answers:
                return ask_step_by_step(craft, bench, answers, as_json=arguments.json)
        if arguments.craft is None:
            raise missing_value(SOURCE, "CRAFT", "Name the craft by its id or name.")
        craft = craft_named(arguments.craft, names_on_record(bench))
        photos = take_photo_files(arguments, SOURCE)
        form = written_form(
            _said_of(craft, arguments, bench),
            datetime.now(bench.yard.zone),
            names_by_id(bench.yard),
            SOURCE,
            shelf=bench.yard.shelf,
        )
        enter_form(form, craft, bench, as_json=arguments.json, photos=photos)
    return 0


def _said_of(craft: str, arguments: argparse.Namespace, bench: Opened) -> dict[str, Any]:
    """What the flags said of a craft, its circuits by the names that they have there."""
    with bench.store.snapshot() as tx:
        record = tx.layup.record_of(craft, bench.profiles)
    said = said_by_flags(arguments)
    try:
        return said if record is None else said_of_craft(said, record.profile)
    except ValueError as error:
        raise RecordError([fault_from(error, str(SOURCE), "--circuit")]) from error
