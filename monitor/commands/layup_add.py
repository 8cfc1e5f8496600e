"""``laidup layup add``: one piece of work into the record, by flags or question by question."""

import argparse
import json
import re
import sys
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from monitor.commands.layup_prompt import ask
from monitor.commands.opening import Opened, entering
from monitor.commands.shared_flags import add_config
from monitor.craft.account import protections, reached
from monitor.craft.layup import (
    Act,
    Cover,
    FlowOrder,
    LayupEntry,
    Liquid,
    OilLook,
    Outflow,
    Posture,
)
from monitor.craft.record import CraftRecord
from monitor.craft.rules.examine import examine
from monitor.errors import Fault, RecordError
from monitor.settings.faults import check
from monitor.settings.layup_form import EntryForm
from monitor.store.entering import enter

SOURCE = Path("layup add")
_YES = {"yes": True, "no": False}


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
    text: Callable[..., Any] = parser.add_argument
    text("--act", choices=[str(one) for one in Act], metavar="ACT", help=_one_of(Act))
    text("--by", metavar="NAME", help="who did it")
    text("--at", metavar="TIME", help="when, like 2026-11-02T14:30, the yard's time (now)")
    text("--circuit", action="append", metavar="ID", help="a circuit that it reached; repeat it")
    text("--product", metavar="NAME", help="what was used")
    text("--liquid", choices=[str(one) for one in Liquid], help="what the product is made of")
    text("--strength", metavar="PCT", help="glycol in it as poured, like 50%%")
    text("--strength-by", choices=["mass", "volume"], help="how that is stated (mass)")
    text("--label-burst", metavar="TEMP", help="burst rating on the label, like -50F")
    text("--lot", metavar="TEXT")
    text("--quantity", metavar="VOLUME", help="how much, like 14floz or 6L")
    text("--residual", metavar="VOLUME", help="water known to be left before pouring")
    text("--outflow", choices=[str(one) for one in Outflow], help="what was seen at the outlet")
    text("--ice-point", metavar="TEMP", help="refractometer reading of a sample from the outlet")
    text("--scale", choices=["propylene", "ethylene"], help="scale that it was read on")
    text("--zeroed-on", metavar="DATE", help="when the refractometer was last set to zero")
    text("--dry", choices=list(_YES), help="probed and seen dry?")
    text("--engine-hot", choices=list(_YES), help="was the thermostat open?")
    text("--fuel-seen", choices=list(_YES), help="treated fuel seen at the filter or bowl?")
    text("--oil", choices=[str(one) for one in OilLook], help="how the oil looked that came out")
    text("--flow-order", choices=[str(one) for one in FlowOrder], help="which came first")
    text("--posture", choices=[str(one) for one in Posture], help="how it stands")
    text("--cover", choices=[str(one) for one in Cover], help="what the cover is made of")
    text("--space", metavar="ID", help="where the battery went")
    text("--rested", metavar="VOLTS", help="battery at rest, like 12.6V")
    text("--photo", action="append", metavar="REF")
    text("--witness", metavar="NAME")
    text("--finding", action="append", metavar="ID:PART:WORDS", help="something that needs work")
    text("--settles", action="append", metavar="ID", help="a finding that this put right")
    text("--note", metavar="TEXT")
    text("--replaces", metavar="ENTRY", help="the entry that this one corrects")
    text("--json", action="store_true", help="for machines, in SI units")
    add_config(parser)
    parser.set_defaults(run=run)


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
        "at": arguments.at or datetime.now(UTC).isoformat(timespec="seconds"),
        "by": arguments.by,
        "act": arguments.act,
        "circuits": arguments.circuit,
        "product": _product(arguments),
        "quantity": arguments.quantity,
        "residual": arguments.residual,
        "outflow": arguments.outflow,
        "ice_point": arguments.ice_point,
        "scale": arguments.scale,
        "zeroed_on": arguments.zeroed_on,
        "dry": _yes(arguments.dry),
        "engine_hot": _yes(arguments.engine_hot),
        "treated_fuel_seen": _yes(arguments.fuel_seen),
        "oil": arguments.oil,
        "flow_order": arguments.flow_order,
        "posture": arguments.posture,
        "cover": arguments.cover,
        "space": arguments.space,
        "rested": arguments.rested,
        "photos": arguments.photo,
        "witness": arguments.witness,
        "findings": [_finding(text) for text in arguments.finding or ()],
        "settles": arguments.settles,
        "note": arguments.note,
        "replaces": arguments.replaces,
    }
    return {key: value for key, value in said.items() if value is not None}


def _product(arguments: argparse.Namespace) -> dict[str, Any] | None:
    said = {
        "liquid": arguments.liquid,
        "strength": arguments.strength,
        "strength_by": arguments.strength_by,
        "label_burst": arguments.label_burst,
        "lot": arguments.lot,
    }
    given = {key: value for key, value in said.items() if value is not None}
    if not given and arguments.product is None:
        return None
    return {"name": arguments.product or arguments.liquid or "not named", **given}


def _finding(text: str) -> dict[str, str]:
    parts = text.split(":", 2)
    if len(parts) != 3:
        raise _missing(f"--finding {text!r}", "Write it like k7-seal:gearcase:seal weeps.")
    return {key: part.strip() for key, part in zip(("id", "part", "words"), parts, strict=True)}


def _yes(text: str | None) -> bool | None:
    return None if text is None else _YES[text]


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


def _one_of(words: type[Act]) -> str:
    return f"one of {', '.join(str(one) for one in words)}"


def _missing(key: str, remedy: str) -> RecordError:
    problem = "it is missing" if ":" not in key and "'" not in key else "it will not do"
    return RecordError([Fault(file=str(SOURCE), key=key, problem=problem, remedy=remedy)])
