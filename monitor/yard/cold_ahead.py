"""How cold the nights ahead may get where a craft stands."""

from dataclasses import dataclass
from math import isfinite


@dataclass(frozen=True, slots=True, kw_only=True)
class ColdAhead:
    """The coldest air that a space may come to, and who says so."""

    coldest_c: float  # -inf: nobody knows
    by_forecast: str = ""  # the agency that says so; empty: of tonight, by the yard's own readings

    @property
    def is_known(self) -> bool:
        """Whether anybody knows how cold it may get."""
        return isfinite(self.coldest_c)
