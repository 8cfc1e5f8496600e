"""``laidup claim``: what is on record of one circuit's winter, when damage is found in spring."""

import argparse
from collections.abc import Sequence

from monitor.commands.opening import at_time, open_read_only, read_records
from monitor.commands.printing import print_json, print_text
from monitor.craft.findings import Finding
from monitor.craft.record import CraftRecord
from monitor.errors import LaidupError
from monitor.phrases.claim_words import claim_words_of
from monitor.reports.case_lines import (
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

_SAY = claim_words_of("en")


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
            line = found_line(one, record.profile, words)
            print_text(f"\nAlso found: {line} (--finding {one.seen.id})")
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
    for line in (said.found, *said.summary, _SAY.no_judgement):
        if line:
            print_text(line)
    for heading, lines in (
        (_SAY.near, said.near),
        (_SAY.gaps, said.gaps),
        (_SAY.alarms, said.alarms),
        (_SAY.messages, said.messages),
        (_SAY.work, said.work),
        (_SAY.left_undone, said.left_undone),
    ):
        print_text(f"\n{heading}")
        told: Sequence[CaseLine | str] = lines or (_SAY.none_on_record,)
        for each in told:
            if isinstance(each, CaseLine):
                print_text(f"  {each.line}")
                for more in each.more:
                    print_text(f"      {more}")
            else:
                print_text(f"  {each}")
