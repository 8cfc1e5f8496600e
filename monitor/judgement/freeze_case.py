"""A kind of circuit in the cold: what is counted on in it, and how much of that is ice when."""

from dataclasses import dataclass

from monitor.craft.circuit import Circuit
from monitor.craft.protection import Basis, Protection
from monitor.judgement.course import Body, Course
from monitor.judgement.slush import locked_point, short_of_glycol, slush_share
from monitor.yard.frost_facts import PastIce

_GUESS_SHARE = 0.1  # above it the start of the lag still counts


@dataclass(frozen=True, slots=True, kw_only=True)
class FrostCase:
    """One kind of circuit in one kind of state; many craft share it."""

    circuit: Circuit
    protection: Protection
    body: Body
    course: Course
    is_probed: bool
    iced: PastIce

    @property
    def mixed(self) -> bool:
        """See `is_mixed`."""
        return is_mixed(self.body)

    @property
    def start_is_guessed(self) -> bool:
        """Whether how cold it was before the readings began still counts."""
        return self.course.unknown_share > _GUESS_SHARE

    def ice_at(self, at_c: float) -> float:
        """Share that is ice: by the lever rule in a mix, by the latent heat in water."""
        if not self.mixed:
            return self.course.ice_fraction
        if at_c >= self.body.ice_point_c:
            return 0.0
        _, glycol = _counted_on(self.protection)
        return slush_share(self.body.ice_point_c, self.protection.glycol, glycol, at_c)


def is_mixed(body: Body) -> bool:
    """Whether it is a mix that turns to slush before its ice counts."""
    return body.locked_c < body.ice_point_c


def body_of(circuit: Circuit, protection: Protection, since_h: float, came_from: str) -> Body:
    """What follows the air for this circuit, here and in the space that its craft came from."""
    point_c, glycol = _counted_on(protection)
    return Body(
        lag_h=circuit.lag_low_h,
        heat_capacity_kj_k=circuit.heat_capacity_kj_k,
        liquid_kg=circuit.volume_l,
        ice_point_c=point_c,
        locked_c=locked_point(point_c, protection.glycol, glycol),
        since_h=since_h,
        came_from=came_from,
    )


def _counted_on(protection: Protection) -> tuple[float, float | None]:
    """Ice point and share of glycol that the judgement counts on: those on record, or fewer."""
    point_c, glycol = protection.ice_point_c, protection.glycol_mass_fraction
    if protection.basis is not Basis.COMPUTED:
        return point_c, glycol
    return short_of_glycol(point_c, protection.glycol, glycol)
