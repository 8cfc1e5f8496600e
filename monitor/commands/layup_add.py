"""``laidup layup add``: one piece of work into the record, by flags or question by question."""

import argparse
import json
import re
import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from monitor.commands.layup_prompt import ask
from monitor.commands.opening import Opened, entering
from monitor.commands.shared_flags import add_config
from monitor.craft.account import protections, reached
from monitor.craft.fields import ENTERED_FIELDS, Field, Kind
from monitor.craft.layup import LayupEntry
from monitor.craft.record import CraftRecord
from monitor.craft.rules.examine import examine
from monitor.errors import Fault, RecordError
from monitor.settings.faults import check
from monitor.settings.layup_form import EntryForm, form_keys
from monitor.store.entering import enter

SOURCE = Path("layup add")
_NOT_FLAGS = frozenset({"id", "craft"})  # the craft stands behind the verb
_META = {Kind.MOMENT: "TIME", Kind.DAY: "DATE", Kind.ID: "ID", Kind.FINDING: "ID:PART:WORDS"}


def add_verb(verbs: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the verb."""
    parser = verbs.add_parser(
        "add",
        help="enter a piece of work; without flags it asks",
        description=(
            "Enter one piece of work on one craft. Without --act it asks, question by question."
            " Nothing on record is ever edited: a mistake is corrected with --replaces."
        ),
    )
    # argparse takes -12C for an unknown flag, because it knows -12 only as a bare number.
    parser._negative_number_matcher = re.compile(r"-\.?\d")
    parser.add_argument("craft", nargs="?", metavar="CRAFT")
    for field in ENTERED_FIELDS:
        if field.path not in _NOT_FLAGS:
            _add_flag(parser, field)
    parser.add_argument("--json", action="store_true", help="for machines, in SI units")
    add_config(parser)
    parser.set_defaults(run=run)


def _add_flag(parser: argparse.ArgumentParser, field: Field) -> None:
    about = f"{field.about}; repeat it for several" if field.many else field.about
    if field.path == "act":
        about = f"one of {', '.join(field.words)}"
    said: dict[str, Any] = {"help": about.replace("%", "%%"), "dest": field.column}
    if field.words:
        said["choices"] = field.words
    if field.path == "act":
        said["metavar"] = "ACT"
    elif not field.words:
        said["metavar"] = _META.get(field.kind, "TEXT")
        if field.dimension is not None:
            said["metavar"] = field.dimension.name.upper()
    parser.add_argument(field.flag, action="append" if field.many else "store", **said)


def run(arguments: argparse.Namespace) -> int:
    """Enter the work and say what it adds up to."""
    with entering(arguments, craft_files=True) as bench:
        if arguments.act is None:
            if not sys.stdin.isatty():
                raise _missing("--act", "Name the act, or run it at a terminal to be asked.")
            with bench.store.snapshot() as tx:
                records = tx.layup.records(bench.profiles)
            answers = ask(records, arguments.craft, bench.yard, input, print)
            if answers is None:
                print("Nothing was written.")
                return 1
            craft, form = answers
        else:
            if arguments.craft is None:
                raise _missing("CRAFT", "Name the craft by its id.")
            craft, form = arguments.craft, check(EntryForm, _raw(arguments), SOURCE)
        entry = _entry(form, craft, bench)
        with bench.store.transaction() as tx:
            before = tx.layup.record(craft, bench.profiles)
            new = enter(tx.layup, [entry], bench.profiles, datetime.now(UTC), str(SOURCE))
            after = tx.layup.record(craft, bench.profiles)
        if before is not None and after is not None:
            _report(bench, entry, before, after, new=bool(new), as_json=arguments.json)
    return 0


def _entry(form: EntryForm, craft: str, bench: Opened) -> LayupEntry:
    try:
        return form.entry(craft, bench.yard.zone)
    except ValueError as error:
        problem, _, remedy = str(error).partition("; ")
        raise RecordError(
            [
                Fault(
                    file=str(SOURCE),
                    key=craft,
                    problem=problem,
                    remedy=f"{remedy[:1].upper()}{remedy[1:]}." if remedy else "Correct it.",
                )
            ]
        ) from error


def _raw(arguments: argparse.Namespace) -> dict[str, Any]:
    """The flags as a file would say it; only what was given."""
    said = {
        field.column: value
        for field in ENTERED_FIELDS
        if (value := getattr(arguments, field.column, None)) is not None
    }
    for field in ENTERED_FIELDS:
        if field.kind is Kind.YES_NO and field.column in said:
            said[field.column] = said[field.column] == "yes"
    said.setdefault("at", datetime.now(UTC).isoformat(timespec="seconds"))
    said["findings"] = [_finding(text) for text in said.get("findings", ())]
    del said["craft"]
    return form_keys(said)


def _finding(text: str) -> dict[str, str]:
    parts = text.split(":", 2)
    if len(parts) != 3:
        raise _missing(f"--finding {text!r}", "Write it like k7-seal:gearcase:seal weeps.")
    return {key: part.strip() for key, part in zip(("id", "part", "words"), parts, strict=True)}


def _report(
    bench: Opened,
    entry: LayupEntry,
    before: CraftRecord,
    after: CraftRecord,
    *,
    new: bool,
    as_json: bool,
) -> None:
    """What the entry changed: the circuits that it reached, and rules newly broken."""
    now = max(datetime.now(UTC), entry.at)
    words = bench.wording(as_json=as_json)
    held = protections(
        after.profile, after.entries, after.stays, bench.shelters, now, after.iced, words
    )
    circuits = reached(entry, after.profile)
    known = {(one.rule, one.part, one.entry) for one in examine(before, bench.shelters, now)}
    breaches = [
        one
        for one in examine(after, bench.shelters, now, words)
        if (one.rule, one.part, one.entry) not in known
    ]
    if as_json:
        print(
            json.dumps(
                {
                    "entry": entry.id,
                    "new": new,
                    "circuits": {
                        name: {"state": str(held[name].state), "why": held[name].why}
                        for name in circuits
                    },
                    "breaches": [{"rule": one.rule, "why": one.why} for one in breaches],
                },
                ensure_ascii=False,
            )
        )
        return
    print(f"Entered as {entry.id}." if new else f"{entry.id} is on record already.")
    for name in circuits:
        print(f"  {name}: {held[name].state}. {held[name].why}.")
    for one in breaches:
        print(f"  ! {one.why}. {one.remedy}")


def _missing(key: str, remedy: str) -> RecordError:
    problem = "it is missing" if ":" not in key and "'" not in key else "it will not do"
    return RecordError([Fault(file=str(SOURCE), key=key, problem=problem, remedy=remedy)])
