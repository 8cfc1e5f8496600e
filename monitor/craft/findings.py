"""What was found to need work, and has not been settled yet."""

from dataclasses import dataclass
from datetime import datetime

from monitor.craft.layup import LayupEntry, Seen
from monitor.craft.work_order import standing_entries


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """Something found, when and by whom; and when it was put right, if it was."""

    seen: Seen
    found_at: datetime
    by: str
    settled_at: datetime | None = None


def findings(entries: tuple[LayupEntry, ...], until: datetime) -> list[Finding]:
    """Every finding on record by that time, the oldest first; those still open have no end."""
    standing = standing_entries(entries, until)
    settled = {name: entry.at for entry in standing for name in entry.settles}
    return [
        Finding(seen=seen, found_at=entry.at, by=entry.by, settled_at=settled.get(seen.id))
        for entry in standing
        for seen in entry.findings
    ]


def open_findings(entries: tuple[LayupEntry, ...], until: datetime) -> list[Finding]:
    """What still needs work."""
    return [one for one in findings(entries, until) if one.settled_at is None]
