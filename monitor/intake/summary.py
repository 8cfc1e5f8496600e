"""What one committed batch brought, told to whoever judges by it."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchSummary:
    """What one committed batch brought."""

    readings: int  # that were new
    newest_ms: int | None  # latest time among its readings; None if it had none
    oldest_ms: int | None  # earliest, likewise
    sensors: frozenset[str]
    aside: int  # messages kept aside, wholly or in part
