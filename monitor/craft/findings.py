"""What was found to need work, and has not been settled yet."""

import re
from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime

from monitor.craft.act_table import CLAIMS
from monitor.craft.layup import Act, LayupEntry, Seen
from monitor.craft.profile import CircuitProfile, Profile
from monitor.craft.settling import plain_part, settled_by
from monitor.craft.work_order import standing_entries

_NO_ID = re.compile(r"[^a-z0-9]+")
_LONGEST_ID = 60
# Parts of which people write that a reading was odd.
_OF_READING = frozenset({"reading", "readings", "refractometer", "sample", "scale"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """Something found, when and by whom; and when it was put right, if it was."""

    seen: Seen
    found_at: datetime
    by: str
    settled_at: datetime | None = None


def findings(entries: tuple[LayupEntry, ...], until: datetime, profile: Profile) -> list[Finding]:
    """Every finding on record by that time, the oldest first; those still open have no end."""
    standing = standing_entries(entries, until)
    settled = {name: after.at for name, (_, after) in settled_by(standing, profile).items()}
    return [
        Finding(seen=seen, found_at=entry.at, by=entry.by, settled_at=settled.get(seen.id))
        for entry in standing
        for seen in entry.findings
    ]


def open_findings(
    entries: tuple[LayupEntry, ...], until: datetime, profile: Profile
) -> list[Finding]:
    """What still needs work."""
    return [one for one in findings(entries, until, profile) if one.settled_at is None]


def new_finding_id(craft: str, part: str, entries: Collection[LayupEntry]) -> str:
    """An id for something found now, made of the craft and the part; no finding on it has it."""
    known = {seen.id for one in entries for seen in one.findings}
    plain = "-".join(_NO_ID.split(part.lower())).strip("-")
    stem = f"{craft}-{plain or 'part'}"[:_LONGEST_ID].rstrip("-")
    names = (stem, *(f"{stem}-{n}" for n in range(2, len(known) + 3)))
    return next(one for one in names if one not in known)


def finding_that_doubts(
    entry: LayupEntry, one: CircuitProfile, settled: Collection[str] = ()
) -> Seen | None:
    """A finding of an entry about the very circuit that it claims to have made safe.

    Parameters
    ----------
    entry : LayupEntry
    one : CircuitProfile
        A circuit that the entry reached.
    settled : collection of str
        Ids of findings that were put right.

    Returns
    -------
    Seen or None
        The first one that nobody has settled; None where none is of this circuit, or of the
        reading that the entry holds.
    """
    if entry.act not in CLAIMS | {Act.STOOD}:
        return None
    parts = {plain_part(one.circuit.id), plain_part(one.circuit.name)}
    if entry.evidence.ice_point_c is not None:
        parts |= _OF_READING
    return next(
        (
            seen
            for seen in entry.findings
            if seen.id not in settled and plain_part(seen.part) in parts
        ),
        None,
    )
