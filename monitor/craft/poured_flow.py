"""One pour as it went through its circuits, and how strong it can and must have become."""

from dataclasses import dataclass

from monitor.craft.contents import Contents
from monitor.craft.lacks import may_hold_less
from monitor.craft.layup import Act, LayupEntry, Liquid, Outflow
from monitor.craft.mixture import mixed_mass_fraction, strength_of, strongest_of
from monitor.craft.profile import CircuitProfile

Stood = tuple[tuple[CircuitProfile, Contents], ...]


def goes_past(entry: LayupEntry, one: CircuitProfile) -> bool:
    """Whether a run leaves a circuit as it is: the shut thermostat of a cold engine keeps it out.

    Where nothing came out nobody knows where it went.
    """
    by_engine = entry.act is Act.ANTIFREEZE_RUN_THROUGH and one.circuit.hot_run
    cold = entry.evidence.engine_hot is False
    return by_engine and cold and entry.evidence.outflow is not Outflow.NONE


@dataclass(frozen=True, slots=True, kw_only=True)
class PouredFlow:
    """One pour, and what stood in all circuits that it went through."""

    entry: LayupEntry
    stood: Stood  # before it, in those that are named
    # And in those that it also passed, though nobody named them: their water is in the mix.
    beside: Stood = ()

    @property
    def whole(self) -> Stood:
        """What stood in all of them before it."""
        return (*self.stood, *self.beside)

    def contents_of(self, one: CircuitProfile) -> Contents:
        """What stood in one of the circuits."""
        return next(held for other, held in self.whole if other is one)

    @property
    def strength(self) -> float | None:
        """Mass fraction of the product that may be reckoned with; None if nothing is known."""
        return strength_of(self.entry.product)

    @property
    def all_dry(self) -> bool:
        """Whether every circuit was seen dry before it."""
        return all(contents.dry for _, contents in self.whole)

    @property
    def thinnest(self) -> float | None:
        """Weakest that any of the circuits can hold after it; None if the product is unknown."""
        if self.strength is None:
            return None
        return min([self.strength, *(held.glycol for _, held in self.whole if not held.dry)])

    def thinnest_in(self, contents: Contents) -> float | None:
        """Weakest that one of the circuits can hold, however little went in; None as above.

        At the worst all that stands in the others came into it unmixed. A tank holds more than
        that, so that part of what stood in it is left.
        """
        thinnest, mix = self.thinnest, contents.mix
        if self.strength is None or thinnest is None or mix is None or contents.glycol == 0.0:
            return thinnest
        volume = sum(
            one.circuit.volume_l for one, _ in self.whole if one.circuit.id == contents.circuit
        )
        others = sum(
            one.circuit.volume_l
            for one, held in self.whole
            if one.circuit.id != contents.circuit and not held.dry
        )
        if contents.may_be_empty or contents.drained or others >= volume:
            return thinnest
        left = others / volume * thinnest + (1.0 - others / volume) * mix.fraction
        return min(self.strength, left)

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
        told = [held.filled_l for _, held in self.whole] + [self.entry.residual_l]
        known = any(one is not None for one in told) and self.entry.quantity_l is not None
        return self._least_l() + (self.entry.quantity_l or 0.0) if known else None

    def _least_l(self) -> float:
        """Least liquid that stood in the circuits together before it."""
        volume = sum(one.circuit.volume_l for one, held in self.whole if not held.dry)
        if not any(held.filled for _, held in self.whole):
            told_l = self.entry.residual_l
            return volume if told_l is None else max(told_l, self._undrained_l())
        told = [held.filled_l for _, held in self.whole if held.filled_l is not None]
        return min(volume, *told) if len(told) == len(self.whole) else volume

    def mixed_fraction(self) -> float | None:
        """Mass fraction in all circuits after it; None where it cannot be reckoned.

        Perfect mixing with what stood in them is the most dilute that can be: a stream that
        pushes the water out leaves less of it. What may not be in the mix counts only where it
        thins it: what was drained unseen, what nobody named, what a thermostat may have shut off.
        The water that was said to be left counts for a first pour only: what an earlier one left
        there, seen or not, is no part of that water.
        """
        product, quantity_l = self.entry.product, self.entry.quantity_l
        if product is None or self.strength is None or quantity_l is None:
            return None
        named = {id(held) for _, held in self.stood if not held.may_be_empty}
        sure: list[tuple[float, float]] = []
        doubtful: list[tuple[float, float]] = []
        for one, held in self.whole:
            pot = (held.glycol, one.circuit.volume_l)
            if not held.dry:
                (sure if id(held) in named and self._surely_passed(one) else doubtful).append(pot)
        doubtful.sort()
        return min(
            self._with(sure + doubtful[:count], self.strength, quantity_l, product.liquid)
            for count in range(len(doubtful) + 1)
        )

    def _surely_passed(self, one: CircuitProfile) -> bool:
        by_engine = self.entry.act is Act.ANTIFREEZE_RUN_THROUGH and one.circuit.hot_run
        return not by_engine or self.entry.evidence.engine_hot is True

    def _with(
        self,
        pots: list[tuple[float, float]],
        strength: float,
        quantity_l: float,
        liquid: Liquid,
    ) -> float:
        volume = sum(volume for _, volume in pots)
        stood = sum(share * volume for share, volume in pots) / volume if volume else 0.0
        first = not any(held.filled for _, held in self.whole)
        if self.entry.residual_l is not None and stood == 0.0 and first:
            volume = max(self.entry.residual_l, self._undrained_l())
        return mixed_mass_fraction(strength, quantity_l, volume, liquid, held_fraction=stood)

    def _undrained_l(self) -> float:
        """Water that stands in the circuits whatever anybody says: nobody let it out."""
        return sum(
            one.circuit.volume_l
            for one, held in self.whole
            if not held.dry and not may_hold_less(one, held)
        )

    @property
    def overstates_drain(self) -> bool:
        """Whether less water is said to be left in the circuits than a drain on record shows."""
        told_l = self.entry.residual_l
        return told_l is not None and told_l < self._undrained_l()
