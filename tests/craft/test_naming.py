"""Circuits as people write them in lists and behind flags."""

import pytest

from monitor.craft.naming import circuits_named, said_of_craft
from tests.craft.scene import library


@pytest.mark.parametrize(
    ("profile", "said", "meant"),
    [
        ("tow-boat", "raw side", ["raw-side"]),
        ("tow-boat", "Raw-Side, lift muffler", ["raw-side", "lift-muffler"]),
        ("cuddy", "water tank + water heater", ["water-tank", "water-heater"]),
        ("cuddy", "block and heads; taps", ["block", "taps"]),
        ("cuddy", "block and manifolds", ["block", "manifolds"]),
        ("cuddy", "raw pump block", ["raw-pump", "block"]),
        ("cuddy", "block block", ["block"]),
        ("pwc-two-stroke", "cooling, bailer and flush hoses", ["hoses"]),
        ("jet-boat-twin", "port", ["port"]),
        ("outboard", "all", ["all"]),
        ("outboard", "gearbox", ["gearbox"]),  # none of the craft's: refused later, as written
        ("outboard", ["power head", "gearcase"], ["power", "head", "gearcase"]),
    ],
)
def test_circuits_are_known_by_their_names_too(profile, said, meant):
    assert circuits_named(said, library()[profile]) == meant


@pytest.mark.parametrize("words", ["gear oil changed", "Gear-lube", "lower unit", "gear oil"])
def test_oil_of_the_gearcase_is_of_the_gearcase(words):
    said = said_of_craft({"act": words, "oil": "milky"}, library()["outboard"])
    assert said["circuits"] == ["gearcase"]
    assert said_of_craft({"act": "oil changed"}, library()["outboard"]) == {"act": "oil changed"}


@pytest.mark.parametrize("profile", ["jet-boat-twin", "tow-boat"])
def test_gear_oil_of_one_of_two_housings_or_of_none_is_refused(profile):
    with pytest.raises(ValueError, match=r"housings|no gearcase"):
        said_of_craft({"act": "gear oil changed", "oil": "milky"}, library()[profile])
