"""One water-bearing volume of a craft, as its profile describes it."""

from dataclasses import dataclass
from enum import StrEnum

from monitor.errors import BadValueError


class Drainage(StrEnum):
    """Whether a circuit empties itself on the hard."""

    SELF = "self"  # when the craft stands as the profile says
    PARTLY = "partly"
    NONE = "none"


class Way(StrEnum):
    """A way to protect a circuit."""

    DRAIN = "drain"
    BLOW_OUT = "blow out"
    RUN_THROUGH = "run through"  # antifreeze, with the engine or the circuit's own pump
    POUR_IN = "pour in"  # antifreeze, by hand
    CHANGE_OIL = "change oil"
    TEST = "test"  # read the coolant that stays in
    STAND = "stand"  # as its profile says: it empties itself, and nobody need probe it


_GIVES = ("plastic", "rubber", "hose", "seal")
_CRACKS = ("alumin", "iron", "bronze", "block", "cooler", "bearing", "valve", "carrier")


@dataclass(frozen=True, slots=True, kw_only=True)
class Circuit:
    """Where water stays in a craft, and how fast cold reaches it.

    Invariants: every figure is positive; the short end of the time constant is not above the
    long end. Frost is judged with lags all over the range, damp with the long end.
    """

    id: str  # unique within the craft: ``port-cylinder-passages``
    name: str
    volume_l: float  # liquid that stays after ordinary draining
    lag_low_h: float
    lag_high_h: float
    heat_capacity_kj_k: float  # of the circuit's metal and liquid together
    material: str  # what breaks
    drainage: Drainage
    ways: tuple[Way, ...] = ()  # how it can be protected, the usual way first
    hot_run: bool = False  # antifreeze run through goes past it while the engine is cold
    drinking: bool = False  # people drink from it or wash with it: ethylene glycol is poison there
    where: str = ""  # where the water stays, in a mechanic's words
    figures: str = "estimate"  # "estimate", or "measured" with how

    @property
    def is_tough(self) -> bool:
        """Whether it is of plastic, rubber or hose alone: it gives way a little before it splits.

        What the profile does not name so counts as metal, which may crack at first ice.
        """
        named = self.material.lower()
        return any(each in named for each in _GIVES) and not any(each in named for each in _CRACKS)

    def __post_init__(self) -> None:
        figures = {
            "volume_l": self.volume_l,
            "lag_low_h": self.lag_low_h,
            "lag_high_h": self.lag_high_h,
            "heat_capacity_kj_k": self.heat_capacity_kj_k,
        }
        for name, value in figures.items():
            if not value > 0:
                raise BadValueError(f"circuit {self.id}: {name} is {value}", "it must be above 0")
        if self.lag_low_h > self.lag_high_h:
            raise BadValueError(
                (
                    f"circuit {self.id}: lag_low_h {self.lag_low_h} is above"
                    f" lag_high_h {self.lag_high_h}"
                ),
                "were they swapped?",
            )
