"""Quantities at the edges, against the factors of NIST SP 811, appendix B (from memory)."""

import json
from math import inf, nan

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.errors import QuantityError
from monitor.units import (
    CHARGE,
    HUMIDITY,
    LENGTH,
    STRENGTH,
    TEMPERATURE,
    TEMPERATURE_DIFFERENCE,
    VOLTAGE,
    VOLUME,
    difference_text,
    json_number,
    parse_quantity,
    temperature_in_both,
    temperature_text,
    volume_in_both,
    volume_text,
)


@pytest.mark.parametrize(
    ("text", "dimension", "si"),
    [
        # SP 811: t/°C = (t/°F - 32)/1.8; water freezes at 32 °F and boils at 212 °F.
        ("32F", TEMPERATURE, 0.0),
        (" 212 °f ", TEMPERATURE, 100.0),
        ("-40 F", TEMPERATURE, -40.0),
        ("-4.5C", TEMPERATURE, -4.5),
        # SP 811: a difference of 1 °F is 1/1.8 K; the zero points do not matter.
        ("1.8 F", TEMPERATURE_DIFFERENCE, 1.0),
        # SP 811, B.9: US fluid ounce 29.573 53 mL, quart 0.946 352 9 L, gallon 3.785 412 L.
        ("1 fl. oz.", VOLUME, 0.02957353),
        ("1qt", VOLUME, 0.9463529),
        ("1 gal", VOLUME, 3.785412),
        # SP 811, B.9: foot 0.3048 m, inch 0.0254 m, both exact.
        ("1 ft", LENGTH, 0.3048),
        ("1in", LENGTH, 0.0254),
        ("80 %", HUMIDITY, 80.0),
        ("50%", STRENGTH, 0.5),
        ("12400 mV", VOLTAGE, 12.4),
        ("1.8e1Ah", CHARGE, 18.0),
        ("\u221212,5 °C", TEMPERATURE, -12.5),  # as laidup writes it, and with a comma
        ("\u22125\u00a0°C", TEMPERATURE, -5.0),
        ("\u20135C", TEMPERATURE, -5.0),  # a dash that a word processor made of the minus
        ("0,41 L", VOLUME, 0.41),
        # As people write them out. SP 811, B.9: pint 0.473 176 5 L.
        ("2 gallons", VOLUME, 7.570824),
        ("1 US gal.", VOLUME, 3.785412),
        ("1 quart", VOLUME, 0.9463529),
        ("1 pint", VOLUME, 0.4731765),
        ("14 fluid ounces", VOLUME, 0.4140294),
        ("2 Liters", VOLUME, 2.0),
        ("5 deg F", TEMPERATURE, -15.0),
        ("5 \u00baF", TEMPERATURE, -15.0),  # the sign of an ordinal, as keyboards have it
        ("50 percent", STRENGTH, 0.5),
        ("12,65V", VOLTAGE, 12.65),
        ("0,500 L", VOLUME, 0.5),  # no thousand begins with a nought
    ],
)
def test_what_people_write_becomes_si(text, dimension, si):
    # SP 811 gives seven digits.
    assert parse_quantity(text, dimension) == pytest.approx(si, rel=5e-7, abs=1e-12)


@pytest.mark.parametrize(
    ("text", "dimension", "words"),
    [
        ("25", TEMPERATURE, "no unit"),
        ("1,000 L", VOLUME, "write 1000 or 1.000 L"),
        ("1,2,3 L", VOLUME, "unit ',3 L'"),
        ("25 K", TEMPERATURE, "unit 'K'"),
        ("cold", TEMPERATURE, "like -4C or 25F"),
        ("-500 F", TEMPERATURE, "outside"),  # below absolute zero, -459.67 °F
        ("101 %", HUMIDITY, "0 to 100 %"),
        ("120%", STRENGTH, "0 to 100 %"),
        ("-1 L", VOLUME, "outside"),
        ("1e400 V", VOLTAGE, "outside"),
        ("nan C", TEMPERATURE, "no temperature"),
    ],
)
def test_what_is_no_quantity_is_told_with_the_way_to_write_it(text, dimension, words):
    with pytest.raises(QuantityError, match=words):
        parse_quantity(text, dimension)


@given(st.floats(-80.0, 60.0), st.sampled_from(["C", "F"]))
def test_a_temperature_that_was_written_reads_back_within_its_last_digit(value_c, unit):
    text = temperature_text(value_c, unit)
    assert abs(parse_quantity(text, TEMPERATURE) - value_c) <= 0.05 + 1e-9


def test_what_is_not_known_or_has_no_limit_is_no_number():
    for write in (temperature_text, difference_text):
        assert (write(nan), write(-inf)) == ("not known", "no limit")


def test_no_zero_is_written_with_a_minus():
    assert temperature_text(-0.04) == "0.0 °C"
    assert difference_text(-0.01, "F") == "0.0 °F"


def test_volumes_are_written_in_the_yards_unit():
    # SP 811: 14 fl oz are 0.414 029 L.
    assert (volume_text(0.414029), volume_text(0.414029, "fl oz")) == ("0.41 L", "14 fl oz")
    # A jug is read to a hundredth of a litre, a tank to a tenth.
    assert (volume_text(9.99), volume_text(20.0)) == ("9.99 L", "20.0 L")


@pytest.mark.parametrize(
    ("value", "written"), [(-3.14159, "-3.142"), (nan, "null"), (-inf, "null"), (7, "7")]
)
def test_a_number_that_json_cannot_hold_is_null(value, written):
    assert json.dumps(json_number(value, 3), allow_nan=False) == written


def test_where_the_reader_is_not_known_both_measures_are_written():
    # SP 811, B.9: a gallon is 3.785 412 L, a fluid ounce 29.573 53 mL.
    assert volume_in_both(5.678) == "5.68 L (1.5 gal)"
    assert volume_in_both(0.1) == "0.1 L (3 fl oz)"
    assert temperature_in_both(-40.0) == "-40 °C (-40 °F)"
    assert temperature_in_both(-28.89) == "-28.9 °C (-20 °F)"
