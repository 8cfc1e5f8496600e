"""``laidup claim``: what is on record of one circuit's winter, when damage is found in spring."""

import argparse
from collections.abc import Sequence

from monitor.commands.opening import at_time, open_read_only, read_records
from monitor.commands.printing import print_json, print_text
from monitor.craft.findings import Finding
from monitor.craft.record import CraftRecord
from monitor.errors import LaidupError
from monitor.reports.case_lines import (
    NO_JUDGEMENT,
    CaseLine,
    CaseLines,
    case_json,
    case_lines,
    found_line,
)
from monitor.reports.circuit_case import (
    circuit_of_part,
    finding_asked_for,
    findings_on_circuits,
    read_circuit_case,
)


def run(arguments: argparse.Namespace) -> int:
    """Tell the case, or what cases there are."""
    with open_read_only(arguments) as here:
        at = at_time(arguments.at, here.yard)
        [record] = read_records(here, [arguments.craft])
        words = here.wording_for(as_json=arguments.json)
        found = findings_on_circuits(record, at)
        finding = _finding_asked_for(found, arguments)
        circuit = _circuit_asked_for(record, finding, arguments.circuit)
        with here.store.snapshot() as tx:
            case = read_circuit_case(tx, here.yard, record, circuit, at, finding)
        if arguments.json:
            print_json(case_json(case))
            return 0
        _show(case_lines(case, here.yard, words))
        others = [one for one in found if one is not finding]
        for one in others:
            print_text(f"\nAlso found: {found_line(one, words)} (--finding {one.seen.id})")
    return 0


def _finding_asked_for(found: list[Finding], arguments: argparse.Namespace) -> Finding | None:
    finding = finding_asked_for(found, arguments.finding or "", arguments.circuit or "")
    if finding is None and arguments.finding:
        known = ", ".join(one.seen.id for one in found) or "none"
        raise LaidupError(
            f"--finding {arguments.finding}: no finding on a circuit of {arguments.craft} has that"
            f" id; there are: {known}"
        )
    return finding


def _circuit_asked_for(record: CraftRecord, finding: Finding | None, said: str | None) -> str:
    known = record.profile.circuit_ids
    if said is not None and said not in known:
        raise LaidupError(f"--circuit {said}: no such circuit; there are: {', '.join(known)}")
    if said is not None:
        return said
    if finding is not None:
        return circuit_of_part(finding.seen.part, record.profile)
    raise LaidupError(
        f"Nothing was found on a circuit of {record.craft.id}. Enter it with `laidup layup add"
        f" {record.craft.id} inspected --finding`, or name a circuit with --circuit:"
        f" {', '.join(known)}"
    )


def _show(said: CaseLines) -> None:
    print_text(said.title)
    for line in (said.found, *said.summary, NO_JUDGEMENT):
        if line:
            print_text(line)
    for heading, lines in (
        ("Nights near or past its limit", said.near),
        ("When nobody watched", said.gaps),
        ("Alarms on it, and who answered", said.alarms),
        ("Messages that told of this craft", said.messages),
        ("What was done, with every correction", said.work),
        ("Declined, or left undone on purpose", said.left_undone),
    ):
        print_text(f"\n{heading}")
        told: Sequence[CaseLine | str] = lines or ("Nothing is on record.",)
        for each in told:
            if isinstance(each, CaseLine):
                print_text(f"  {each.line}")
                for more in each.more:
                    print_text(f"      {more}")
            else:
                print_text(f"  {each}")
