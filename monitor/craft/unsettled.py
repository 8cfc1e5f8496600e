"""What has happened to a craft, asks for work, and has not been put right yet."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from monitor.craft.layup import Act


class UnsettledKind(StrEnum):
    """What happened."""

    UNDONE = "undone"  # a run, an opened circuit: its lay-up has to be done again
    OUT_OF_HEAT = "out of heat"  # safe only while warm, and it stands where it is not
    SNOW = "snow"  # on its cover or wrap
    TORN = "torn"  # its cover
    UNREADABLE = "unreadable"  # what is on record of it cannot be read


@dataclass(frozen=True, slots=True, kw_only=True)
class Unsettled:
    """One thing that happened, by whose word, and which circuits it took protection from."""

    kind: UnsettledKind
    at: datetime
    by: str  # empty where nobody is named
    circuits: tuple[str, ...] = ()
    act: Act | None = None  # what was entered; None: a move
    words: str = ""  # what cannot be read
