"""What stands on the yard's shelf, and how much of which product makes a mix that holds."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, inf, log

from monitor.craft.layup import Liquid, Product
from monitor.craft.mixture import GLYCOLS, ice_point_c, litres_needed, mass_fraction, strength_of
from monitor.errors import BadValueError
from monitor.physics.kinds import HIGHEST_MASS_FRACTION

_EASY_FILLINGS = 3.0  # up to this much of what the passage holds, the weakest product is taken
_MOST_FILLINGS = 6.0  # above it nobody pours: a stronger one is bought
_LEAST_POUR_L = 0.4  # about 14 fl oz, a usual pour
_MARKS = (
    (3.0, 0.1),
    (9.0, 0.5),
    (inf, 1.0),
)  # of the jugs and pails that so much is poured from [L]
_SLIP = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class ShelfProduct:
    """One product that the yard has, or would have to buy.

    Invariant: a glycol whose strength is known, 0 to 0.6 by mass as poured.
    """

    id: str
    name: str
    liquid: Liquid
    strength: float  # mass fraction of glycol
    lot: str = ""
    container_l: float = 5.0  # what it is sold in
    to_buy: bool = False  # none of the yard's products would do

    def __post_init__(self) -> None:
        if self.liquid not in GLYCOLS:
            raise BadValueError(
                (
                    f"shelf product {self.id}: {self.liquid} has no ice point that"
                    " can be reckoned with"
                ),
                "only propylene and ethylene glycol can be planned for",
            )
        if not 0.0 < self.strength <= HIGHEST_MASS_FRACTION:
            raise BadValueError(
                f"shelf product {self.id}: strength {self.strength * 100:g} %",
                (
                    "it must lie above 0 and at most at"
                    f" {HIGHEST_MASS_FRACTION * 100:g} %, as poured: dilute a"
                    " concentrate first"
                ),
            )
        if not self.container_l > 0:
            raise BadValueError(
                f"shelf product {self.id}: a container of {self.container_l:g} L",
                "it must be above 0",
            )

    @property
    def ice_point_c(self) -> float:
        """First ice [°C] of the product as it comes out of its jug: no sample reads colder."""
        return ice_point_c(self.strength, self.liquid)


def product_named(name: str, shelf: Sequence[ShelfProduct]) -> ShelfProduct | None:
    """The product of a shelf that is named by its id or its label; None where none or several are.

    Capitals, spaces and signs do not matter, so that "Pink 50" is "Pink 50 %", where no two
    products differ by them alone.
    """
    sought = name.strip().casefold()
    exact = [one for one in shelf if sought in (one.id, one.name.casefold())]
    plain = _letters(name)
    alike = [one for one in shelf if plain and plain in (_letters(one.id), _letters(one.name))]
    if exact:
        return exact[0]
    return alike[0] if len(alike) == 1 else None


def _letters(name: str) -> str:
    return "".join(sign for sign in name.casefold() if sign.isalnum())


@dataclass(frozen=True, slots=True, kw_only=True)
class Passage:
    """What is to be filled.

    Invariants: it holds something, and no more water stands in it than it holds.
    """

    holds_l: float
    water_l: float  # of that, water or mix that stands in it when the product goes in
    held_fraction: float = 0.0  # glycol by mass in what stands there
    liquid: Liquid | None = None  # which glycol; another would make a mix that nobody can read

    def __post_init__(self) -> None:
        if not 0.0 <= self.water_l <= self.holds_l or not self.holds_l > 0.0:
            raise BadValueError(
                f"passage: {self.water_l:g} L of water in {self.holds_l:g} L",
                "it must hold something, and no less than stands in it",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Dose:
    """So much of a product."""

    product: ShelfProduct
    litres: float


def _usual(
    percent: int, liquid: Liquid = Liquid.PROPYLENE, *, to_buy: bool = False
) -> ShelfProduct:
    return ShelfProduct(
        id=f"{liquid}-{percent}",
        name=f"{percent} % {liquid} glycol",
        liquid=liquid,
        strength=percent / 100.0,
        to_buy=to_buy,
    )


USUAL_SHELF = (_usual(50), _usual(60))  # of a yard that has written none down
_ON_SALE = tuple(
    _usual(percent, liquid, to_buy=True)
    for liquid in (Liquid.PROPYLENE, Liquid.ETHYLENE)
    for percent in (40, 50, 60)
)


def dose_for(
    shelf: Sequence[ShelfProduct],
    goal_c: float,
    passage: Passage,
    *,
    drinking: bool = False,
) -> Dose | None:
    """How much of which product brings a passage to an ice point.

    Parameters
    ----------
    shelf : sequence of ShelfProduct
        What the yard has.
    goal_c : float
        Ice point that the mix must reach [°C].
    passage : Passage
        What it goes into.
    drinking : bool, optional
        Propylene glycol only: people drink from it or wash with it.

    Returns
    -------
    Dose or None
        The weakest product that does it within three fillings, else the one of which least is
        needed, propylene before ethylene; ``to_buy`` where none of the shelf would within six.
        None: no mix of 60 % does.
    """
    for products, most in ((shelf, _MOST_FILLINGS), (_ON_SALE, inf)):
        found = [
            Dose(product=one, litres=_as_measured(litres))
            for one in products
            if _fits(one, passage.liquid, drinking=drinking)
            for litres in (_litres(one, goal_c, passage),)
            if litres is not None and litres <= most * passage.holds_l
        ]
        if found:
            return min(found, key=lambda one: _preference(one, passage.holds_l))
    return None


def _preference(dose: Dose, holds_l: float) -> tuple[bool, bool, float, float]:
    easy = dose.litres <= _EASY_FILLINGS * holds_l
    poison = dose.product.liquid is Liquid.ETHYLENE
    return (poison, not easy, dose.product.strength if easy else 0.0, dose.litres)


def _as_measured(litres: float) -> float:
    """Rounded up to what a jug's marks show, and never less than a usual pour."""
    mark_l = next(mark for below, mark in _MARKS if litres < below)
    return max(_LEAST_POUR_L, round(ceil(litres / mark_l - _SLIP) * mark_l, 1))


def _fits(product: ShelfProduct, liquid: Liquid | None, *, drinking: bool) -> bool:
    if drinking and product.liquid is not Liquid.PROPYLENE:
        return False
    return liquid is None or product.liquid is liquid


def _litres(product: ShelfProduct, goal_c: float, passage: Passage) -> float | None:
    """Litres of a product that reach the goal; None if none do.

    Reckoned as if nothing ran out before all was mixed, which is the most dilute that can be. Where
    that asks for more than three fillings, what runs out at the far end is reckoned with: the
    passage stays full and well stirred, and a sample of the outlet shows when it is enough.
    """
    if goal_c < product.ice_point_c:
        return None
    strength, held = product.strength, passage.held_fraction
    target = mass_fraction(goal_c, product.liquid)
    mixed = litres_needed(strength, target, passage.water_l, product.liquid, held)
    if mixed is None:
        return None
    full = passage.holds_l
    emptied = full - passage.water_l
    filled = (emptied * strength + passage.water_l * held) / full
    flushed = full * log(max(1.0, (strength - filled) / (strength - target)))
    least = full if emptied > 0.0 else 0.0  # what was drained is filled until it runs over
    by_mixing = emptied + _EASY_FILLINGS * passage.water_l
    return max(least, min(mixed, max(emptied + flushed, by_mixing)))


def can_read(product: Product | None, reading_c: float) -> bool:
    """Whether a sample of what was poured can read so cold; undiluted is the coldest."""
    strength = strength_of(product)
    if product is None or strength is None:
        return False
    return ice_point_c(strength, product.liquid) <= reading_c
