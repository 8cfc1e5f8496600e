"""A product named as people name it is found on the yard's shelf."""

import pytest

from monitor.craft.layup import Liquid
from monitor.craft.plan.shelf import ShelfProduct
from monitor.settings.entry_as_typed import from_shelf

PINK = ShelfProduct(id="pink-50", name="Pink 50 %", liquid=Liquid.PROPYLENE, strength=0.5)
WEAK = ShelfProduct(id="pink-30", name="Pink 30 %", liquid=Liquid.PROPYLENE, strength=0.3)


@pytest.mark.parametrize(
    "named", ["pink-50", "Pink 50 %", "Pink 50%", "pink 50", "PINK50", " pink_50"]
)
def test_capitals_spaces_and_signs_do_not_hide_a_product_of_the_shelf(named):
    assert from_shelf(named, [PINK, WEAK])["strength"] == "50%"


@pytest.mark.parametrize("named", ["pink", "50", "%", "", None])
def test_what_names_no_one_product_takes_none(named):
    assert from_shelf(named, [PINK, WEAK]) == {}


def test_of_two_products_that_differ_by_signs_alone_only_the_exact_name_takes_one():
    dotted = ShelfProduct(id="a", name="Pink 5.0", liquid=Liquid.PROPYLENE, strength=0.6)
    assert from_shelf("pink 50", [PINK, dotted]) == {}
    assert from_shelf("pink 5.0", [PINK, dotted])["strength"] == "60%"
