"""What a yard loses by cold, against an evening's work for nothing: when a chance is worth an act.

An act is called for where what is lost, times the chance of losing it, is more than the act costs.
Only ratios count, so a loss is stated in evenings of needless work.

Damp has none. A night's water on bare metal costs no part: rust goes by the wet hours of a winter
(ISO 9223), and the act against it, shutting doors or moving air, takes five minutes. What a single
night adds cannot be told from nothing, so it is asked for by how long metal gets wet
(`monitor.judgement.damp`), and not by chance times loss.
"""

from dataclasses import dataclass

from monitor.craft.circuit import Circuit

LIKELY = 0.5  # CAP 1.2: "Likely" is more than 50 %
_FIRST_ICE_SHARE = 0.1
_GRAVE_EVENINGS = 5.0  # an expected loss of so many evenings of work is a severe one


@dataclass(frozen=True, slots=True, kw_only=True)
class Losses:
    """How many evenings of work for nothing a yard would rather have than one such loss.

    Defaults are estimates of yard practice, no source: draining a circuit is an evening's hour for
    two people; a cracked block or head costs a new engine or a winter's rebuild; plastic and
    rubber a part and an afternoon. A battery costs less than that, and testing it or taking its
    lead off ten minutes of an evening.
    """

    metal: float = 20.0  # blocks, heads, gearcases, coolers: they crack
    fittings: float = 10.0  # pumps, hoses, filters of plastic and rubber
    batteries: float = 10.0  # one that freezes: its plates, its case, and acid where it stood

    def __post_init__(self) -> None:
        """Refuse a loss that is worth less than the work against it."""
        for name in ("metal", "fittings", "batteries"):
            if not getattr(self, name) >= 1.0:
                raise ValueError(
                    f"losses: {name} is {getattr(self, name)}; a loss is worth one evening's work"
                    " or more, else no act against it ever pays"
                )

    def of_circuit(self, circuit: Circuit) -> float:
        """What ice in a circuit would cost."""
        return self.fittings if circuit.is_tough else self.metal


def chance_of_loss(first_ice: float, third_ice: float) -> float:
    """Chance of losing a circuit of water, from the chances of its ice.

    A third of it ice counts in full: from then on ice may shut in water that still has to freeze.
    Less is feared a tenth as much, for a cold spot may freeze ahead of the rest (estimates, no
    source).
    """
    return third_ice + _FIRST_ICE_SHARE * (first_ice - third_ice)


def act_from(loss: float) -> float:
    """Chance from which on an act pays."""
    return 1.0 / loss


def is_grave(chance: float, loss: float) -> bool:
    """Whether a chance of a loss weighs as a severe one (CAP) or a moderate one."""
    return chance * loss >= _GRAVE_EVENINGS
