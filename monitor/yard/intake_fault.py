"""What is wrong with the way that readings come in, beside the sensors themselves."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum


class IntakeFaultKind(StrEnum):
    """Which part of the way in."""

    OWN_CLOCK = "own clock"  # this machine's clock is not the one that its sensors agree on
    BROKER_DROPS = "broker drops"  # the broker threw messages away that it had acknowledged


@dataclass(frozen=True, slots=True, kw_only=True)
class IntakeFault:
    """One fault as it stands: for as long as it is kept, it has not been mended."""

    kind: IntakeFaultKind
    amount: float  # seconds that the clock is ahead (negative: behind); messages dropped
    since: datetime  # first seen
    last_at: datetime  # last seen to grow or to change
