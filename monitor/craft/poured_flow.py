"""One pour as it went through its circuits, and how strong it can and must have become."""

from dataclasses import dataclass

from monitor.craft.contents import Contents
from monitor.craft.lacks import may_hold_less
from monitor.craft.layup import LayupEntry, Liquid
from monitor.craft.mixture import mixed_mass_fraction, strength_of, strongest_of
from monitor.craft.profile import CircuitProfile


@dataclass(frozen=True, slots=True, kw_only=True)
class PouredFlow:
    """One pour, and what stood in all circuits that it went through."""

    entry: LayupEntry
    stood: tuple[tuple[CircuitProfile, Contents], ...]  # before it
    # And in those that it also passed, though nobody named them: their water is in the mix.
    beside: tuple[tuple[CircuitProfile, Contents], ...] = ()

    @property
    def strength(self) -> float | None:
        """Mass fraction of the product that may be reckoned with; None if nothing is known."""
        return strength_of(self.entry.product)

    def contents_of(self, one: CircuitProfile) -> Contents:
        """What stood in one of the circuits."""
        return next(held for other, held in self.stood if other is one)

    @property
    def all_dry(self) -> bool:
        """Whether every circuit was seen dry before it."""
        return all(contents.dry for _, contents in self.stood)

    @property
    def thinnest(self) -> float | None:
        """Weakest that any of the circuits can hold after it; None if the product is unknown."""
        if self.strength is None:
            return None
        return min([self.strength, *(held.glycol for _, held in self.stood if not held.dry)])

    def note_limits(self, contents: Contents, before: Contents) -> None:
        """Note in one of the circuits, which held that before it, how strong it can be now.

        What goes in can push out as much water as it is itself, and mix with none of it.
        """
        product, quantity_l = strongest_of(self.entry.product), self.entry.quantity_l
        volume = self._least_l()
        # What nobody measured may have been a drop.
        share = min(1.0, (quantity_l or 0.0) / volume) if volume else 1.0
        mix = before.mix.fraction if before.mix is not None else None
        stood = mix if mix is not None else before.strongest or 0.0
        contents.strongest = max(stood, share * product + (1.0 - share) * stood)
        contents.undiluted = max(product, mix if mix is not None else before.undiluted or 0.0)
        contents.filled_l = self.filled_l()

    def filled_l(self) -> float | None:
        """Liquid in all circuits after it; None unless the water left in them was told."""
        told = [held.filled_l for _, held in self.stood] + [self.entry.residual_l]
        known = any(one is not None for one in told) and self.entry.quantity_l is not None
        return self._least_l() + (self.entry.quantity_l or 0.0) if known else None

    def _least_l(self) -> float:
        """Least liquid that stood in the circuits together before it."""
        volume = sum(one.circuit.volume_l for one, held in self.stood if not held.dry)
        if not any(held.filled for _, held in self.stood):
            return volume if self.entry.residual_l is None else self.entry.residual_l
        told = [held.filled_l for _, held in self.stood if held.filled_l is not None]
        return min(volume, *told) if len(told) == len(self.stood) else volume

    def mixed_fraction(self) -> float | None:
        """Mass fraction in all circuits after it; None where it cannot be reckoned.

        Perfect mixing with what stood in them is the most dilute that can be: a stream that
        pushes the water out leaves less of it. What was drained unseen may still stand there or
        not: the weaker of both. The water that was said to be left counts for a first pour only:
        what an earlier one left there, seen or not, is no part of that water.
        """
        product, quantity_l = self.entry.product, self.entry.quantity_l
        if product is None or self.strength is None or quantity_l is None:
            return None
        pots = [
            (held.glycol, one.circuit.volume_l, held.may_be_empty)
            for one, held in (*self.stood, *self.beside)
            if not held.dry
        ]
        sure = [(share, volume) for share, volume, may_be_empty in pots if not may_be_empty]
        doubtful = sorted((share, volume) for share, volume, may_be_empty in pots if may_be_empty)
        return min(
            self._with(sure + doubtful[:count], self.strength, quantity_l, product.liquid)
            for count in range(len(doubtful) + 1)
        )

    def _with(
        self,
        pots: list[tuple[float, float]],
        strength: float,
        quantity_l: float,
        liquid: Liquid,
    ) -> float:
        volume = sum(volume for _, volume in pots)
        stood = sum(share * volume for share, volume in pots) / volume if volume else 0.0
        first = not any(held.filled for _, held in self.stood)
        if self.entry.residual_l is not None and stood == 0.0 and first:
            volume = max(self.entry.residual_l, self._undrained_l())
        return mixed_mass_fraction(strength, quantity_l, volume, liquid, held_fraction=stood)

    def _undrained_l(self) -> float:
        """Water that stands in the circuits whatever anybody says: nobody let it out."""
        return sum(
            one.circuit.volume_l
            for one, held in (*self.stood, *self.beside)
            if not held.dry and not may_hold_less(one, held)
        )

    @property
    def overstates_drain(self) -> bool:
        """Whether less water is said to be left in the circuits than a drain on record shows."""
        told_l = self.entry.residual_l
        return told_l is not None and told_l < self._undrained_l()
