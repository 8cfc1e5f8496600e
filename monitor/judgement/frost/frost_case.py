"""One kind of circuit in one kind of state: what it holds, its ice so far, and how it stands."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from math import inf, isfinite

from monitor.clock import hours_after
from monitor.craft.circuit import Circuit
from monitor.craft.protection import Basis, Protection
from monitor.judgement.air.grid import STEP_H
from monitor.judgement.frost.ice_so_far import Body, Cooling
from monitor.judgement.frost.slush import locked_point, short_of_glycol, slush_share
from monitor.yard.assessment import Standing
from monitor.yard.frost_facts import PastIce

_GUESS_SHARE = 0.1  # above it the start of the lag still counts
_MISREAD_K = 1.0  # a refractometer in good hands; 2 K in others' (common practice, no source)
# Sensor, gradient inside the space and the lag's own error (common practice, no source).
MARGIN_K = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class FrostCase:
    """One kind of circuit in one kind of state; many craft share it."""

    now: datetime
    circuit: Circuit
    protection: Protection
    body: Body
    course: Cooling
    is_probed: bool
    iced: PastIce

    @property
    def is_mixed(self) -> bool:
        """Whether it is a mix that turns to slush before its ice counts."""
        return self.body.is_mixed

    @property
    def start_is_guessed(self) -> bool:
        """Whether how cold it was before the readings began still counts."""
        return self.course.unknown_share > _GUESS_SHARE or self.ice_is_assumed

    @property
    def start_at(self) -> datetime | None:
        """When the readings of its air began, of a guessed start."""
        begins_h = max(self.course.known.from_h, self.body.since_h)
        guessed = self.start_is_guessed and isfinite(begins_h)
        return hours_after(self.now, begins_h) if guessed else None

    @property
    def came_at_start(self) -> bool:
        """Whether that is because its craft came then, and not because nothing was read before."""
        read_later_h = self.course.known.from_h - self.body.since_h
        return self.start_at is not None and read_later_h <= 2 * STEP_H

    @property
    def ice_is_assumed(self) -> bool:
        """Whether ice counts now if it began as cold as the air then, and not if it began warm."""
        ices, known = self._may_be_iced, self._is_iced
        return ices and not known

    def standing_of(self, *, exposed: bool, margin_k: float) -> Standing:
        """How it stands: by ice that is known, then by what it went through, then by what comes.

        Parameters
        ----------
        exposed : bool
            The chance of losing it is worth an act.
        margin_k : float
            Room over its first crystals that is left at that chance [K].
        """
        if self._is_iced:
            solid = not self.is_mixed and self._counted_ice >= 1.0
            return Standing.SOLID if solid else Standing.ICING
        if self.iced.at is not None:
            return Standing.SUSPECT
        if exposed or self._may_be_iced:
            return Standing.EXPOSED
        if self.iced.maybe_at is not None:
            return Standing.SUSPECT
        if self.is_mixed and self.course.now_c <= self.body.ice_point_c:
            return Standing.SLUSH
        return Standing.THIN if margin_k < MARGIN_K else Standing.HOLDING

    def ice_since_h(self, may_be_h: float) -> float:
        """Since when the ice is there that is known; ``may_be_h`` if that is all there may be."""
        return may_be_h if self._was_iced_before else _or_else(self.course.known.locked_h, may_be_h)

    def solid_since_h(self, may_be_h: float) -> float:
        """The hour of freezing through; not one that has passed only if it began cold."""
        if self._was_iced_before:
            return may_be_h
        return max(may_be_h, min(self.course.known.frozen_through_h, 0.0))

    def ice_at(self, at_c: float) -> float:
        """Share that is ice: by the lever rule in a mix, by the latent heat in water."""
        if not self.is_mixed:
            return self.course.ice_fraction
        if at_c >= self.body.ice_point_c:
            return 0.0
        _, glycol = _counted_on(self.protection)
        return slush_share(self.body.ice_point_c, self.protection.glycol, glycol, at_c)

    @property
    def _was_iced_before(self) -> bool:
        """Whether it had ice before its air went unread: nobody has seen that thaw."""
        last, begins_h = self.iced.at, self.course.known.from_h
        return last is not None and last < self.now + timedelta(hours=max(begins_h, -1e4))

    @property
    def _may_be_iced(self) -> bool:
        course = self.course
        return course.now_c <= self.body.locked_c or course.ice_fraction > 0.0

    @property
    def _is_iced(self) -> bool:
        if self._was_iced_before:
            return self._may_be_iced
        known = self.course.known
        return known.now_c <= self.body.locked_c or known.ice_fraction > 0.0

    @property
    def _counted_ice(self) -> float:
        course = self.course
        return course.ice_fraction if self._was_iced_before else course.known.ice_fraction


def _or_else(hours: float, other_h: float) -> float:
    return hours if isfinite(hours) else other_h


def body_of(
    circuit: Circuit,
    protection: Protection,
    since_h: float,
    came_from: str,
    outside_c: float = inf,
) -> Body:
    """What follows the air for this circuit, here and in the space that its craft came from."""
    point_c, glycol = _counted_on(protection)
    return Body(
        lag_low_h=circuit.lag_low_h,
        lag_high_h=circuit.lag_high_h,
        heat_capacity_kj_k=circuit.heat_capacity_kj_k,
        liquid_kg=circuit.volume_l,
        ice_point_c=point_c,
        locked_c=locked_point(point_c, protection.glycol, glycol),
        weaker_k=point_c - protection.ice_point_c if point_c < 0.0 else 0.0,
        misread_k=_MISREAD_K if protection.basis is Basis.MEASURED and point_c < 0.0 else 0.0,
        since_h=since_h,
        came_from=came_from,
        outside_c=outside_c,
    )


def _counted_on(protection: Protection) -> tuple[float, float | None]:
    """Ice point and share of glycol that the judgement counts on: those on record, or fewer."""
    point_c, glycol = protection.ice_point_c, protection.glycol_mass_fraction
    if protection.basis is not Basis.COMPUTED:
        return point_c, glycol
    return short_of_glycol(point_c, protection.glycol, glycol)
