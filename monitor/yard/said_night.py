"""What was said of one space's coming night at the evening hour, and what the night then was."""

from dataclasses import dataclass
from datetime import date, datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class SaidNight:
    """One night of one space, named by its evening's date.

    Invariant: ``cold_c <= expected_c <= warm_c``, the 10, 50 and 90 % quantiles of the lowest
    air from ``said_at`` until the noon after.
    """

    space: str
    evening: date
    said_at: datetime
    air_c: float  # at that time
    cold_c: float
    expected_c: float
    warm_c: float
    below_zero: float | None = None  # chance of air below 0 °C; None: no chance was said
    low_c: float | None = None  # what the air came to; None: not over, or not read

    def __post_init__(self) -> None:
        if not self.cold_c <= self.expected_c <= self.warm_c:  # refuses NaN too
            raise ValueError(
                f"{self.space}, night of {self.evening}: quantiles {self.cold_c},"
                f" {self.expected_c} and {self.warm_c} °C must rise"
            )
