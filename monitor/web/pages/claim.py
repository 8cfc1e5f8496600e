"""A claim's case: what is on record of one circuit's winter, for the shop and for the owner."""

from collections.abc import Mapping
from dataclasses import dataclass

from monitor.craft.profile import Profile
from monitor.craft.record import CraftRecord
from monitor.phrases.claim_words import ClaimWords, claim_words_of
from monitor.phrases.names import plain
from monitor.phrases.owner_languages import catalogue_of
from monitor.reports.case_lines import CaseLines, case_lines, found_line
from monitor.reports.circuit_case import (
    circuit_of_part,
    finding_asked_for,
    findings_on_circuits,
    read_circuit_case,
)
from monitor.store.store import Store
from monitor.wording import Wording
from monitor.yard.space import Yard


@dataclass(frozen=True, slots=True, kw_only=True)
class ClaimPage:
    """What the template shows: the choice of a case, and the one that was chosen."""

    record: CraftRecord
    name: str
    findings: tuple[tuple[str, str], ...]  # id and line of each whose part is a circuit
    circuits: tuple[tuple[str, str], ...]  # id and name
    case: CaseLines | None
    chosen: str  # finding or circuit
    say: ClaimWords


def read_claim_page(
    store: Store,
    yard: Yard,
    profiles: Mapping[str, Profile],
    craft: str,
    words: Wording,
    *,
    finding: str = "",
    circuit: str = "",
    with_subjects: bool,
) -> ClaimPage | None:
    """Read the case of a finding, or of a circuit; None if there is no such craft, or no such case.

    Parameters
    ----------
    store : Store
    yard : Yard
    profiles : mapping of str to Profile
    craft : str
    words : Wording
        The reader's; its time ends the case.
    finding : str
        Id of what was found; empty: the newest that names a circuit, unless a circuit is asked for.
    circuit : str
    with_subjects : bool
        Whether the reader may know what else the messages told of, in other owners' craft.
    """
    part_name = catalogue_of(words.language).part_name
    with store.snapshot() as tx:
        record = tx.layup.record_of(craft, profiles)
        if record is None:
            return None
        found = findings_on_circuits(record, words.now)
        opened = finding_asked_for(found, finding, circuit)
        which = circuit or (circuit_of_part(opened.seen.part, record.profile) if opened else "")
        if (finding and opened is None) or (which and which not in record.profile.circuit_ids):
            return None
        case = read_circuit_case(tx, yard, record, which, words.now, opened) if which else None
    return ClaimPage(
        record=record,
        name=plain(record.craft.name),
        findings=tuple((one.seen.id, found_line(one, record.profile, words)) for one in found),
        circuits=tuple(
            (one.circuit.id, plain(part_name(one.circuit.name))) for one in record.profile.circuits
        ),
        case=None if case is None else case_lines(case, yard, words, with_subjects=with_subjects),
        chosen=opened.seen.id if opened else which,
        say=claim_words_of(words.language),
    )
