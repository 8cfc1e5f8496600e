"""Sentences kept with their quantities as SI, and read in anybody's units."""

from datetime import UTC, datetime, timedelta
from math import inf, nan
from zoneinfo import ZoneInfo

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from monitor.units import (
    FLUID_OUNCE_L,
    TEMPERATURE,
    TEMPERATURE_DIFFERENCE,
    VOLUME,
    parse_quantity,
)
from monitor.wording import SI, Units, Wording, hours_in_words, in_reader_units, listed, typeset

KEPT = Wording(units=None)
METRIC, CUSTOMARY = Units(), Units(temperature="F", volume="fl oz")
ZONE = ZoneInfo("America/Chicago")
NOW = datetime(2026, 11, 14, 22, tzinfo=UTC)  # Saturday 14 November, 16:00 CST
WORDS = Wording(zone=ZONE, now=NOW)
READERS = st.builds(
    Units,
    temperature=st.sampled_from(["C", "F"]),
    volume=st.sampled_from(["L", "fl oz"]),
    data=st.booleans(),
)


def plain(text):
    return text.replace("\N{NO-BREAK SPACE}", " ").replace("−", "-")


@given(st.floats(-80.0, 80.0), READERS)
def test_a_temperature_that_was_kept_is_read_within_the_last_digit_shown(value_c, units):
    # 0.05 °C or 0.05 °F of rounding, and 0.000 05 °C of what was kept.
    shown = plain(in_reader_units(KEPT.temperature(value_c), units))
    assert abs(parse_quantity(shown, TEMPERATURE) - value_c) <= 0.05 + 0.0001


@given(st.floats(0.0, 80.0), READERS)
def test_a_difference_that_was_kept_is_scaled_and_never_shifted(value_k, units):
    shown = plain(in_reader_units(KEPT.difference(value_k), units)).replace("°", "")
    assert abs(parse_quantity(shown, TEMPERATURE_DIFFERENCE) - value_k) <= 0.05 + 0.0001


@given(st.floats(0.0, 500.0), READERS)
def test_a_volume_that_was_kept_is_read_within_the_last_digit_shown(value_l, units):
    shown = plain(in_reader_units(KEPT.volume(value_l), units))
    step_l = {
        "L": 0.01 if value_l < 9.9 else 0.1,
        "fl oz": FLUID_OUNCE_L,
        "gal": 12.8 * FLUID_OUNCE_L,
    }
    unit = shown.partition(" ")[2]
    assert unit in ({"L"} if units.volume == "L" else {"fl oz", "gal"})
    assert abs(parse_quantity(shown, VOLUME) - value_l) <= step_l[unit] / 2 + 0.0001


@given(st.floats(0.0, 500.0), READERS)
def test_a_rough_volume_is_no_finer_than_a_tenth_of_a_litre_or_an_ounce(value_l, units):
    shown = plain(in_reader_units(KEPT.about(value_l), units))
    step_l = {"L": 0.1 if value_l < 9.5 else 1.0, "fl oz": FLUID_OUNCE_L}
    least = step_l.get(shown.partition(" ")[2], 12.8 * FLUID_OUNCE_L)
    assert abs(parse_quantity(shown, VOLUME) - value_l) <= least / 2 + 0.0001


# Quantities cannot be typed by chance: their brackets are on no keyboard.
ANY = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="⟦"))


@given(ANY, READERS)
@example("Gull {3 Cel} {2 K}", METRIC)
@example("down to -7.2 °C: 14 fl oz poured on 4 Nov", CUSTOMARY)
def test_a_text_without_kept_quantities_is_only_set_and_for_machines_not_even_that(text, units):
    assert in_reader_units(text, units) == (text if units.data else typeset(text))


@given(st.text(st.sampled_from("⟦⟧~-0123456789. CelKL")), READERS)
@example("⟦ Cel⟧ ⟦-3 Cel ⟦3 F⟧ ⟦1e9 Cel⟧ ⟦99999999999999999999 Cel⟧ ⟦3.5Cel⟧", METRIC)
def test_reading_never_raises_and_what_is_no_quantity_stays(text, units):
    found = in_reader_units(text, units)
    assert isinstance(found, str)
    if "Cel" not in text and "K" not in text and "L" not in text:
        assert plain(found) == plain(text)


def test_the_freezing_point_of_water_is_exact_and_that_of_a_mix_is_not():
    assert [
        plain(in_reader_units(KEPT.ice_point(0.0), units)) for units in (METRIC, CUSTOMARY)
    ] == [
        "0 °C",
        "32 °F",
    ]
    assert plain(in_reader_units(KEPT.ice_point(-0.04), METRIC)) == "0.0 °C"
    assert plain(in_reader_units(KEPT.ice_point(-4.0), METRIC)) == "-4.0 °C"


def test_a_sentence_reads_in_each_readers_units_and_as_si_for_machines():
    sentence = (
        f"Inside {KEPT.temperature(-3.61)} now, {KEPT.difference(2.0)} short; pour"
        f" {KEPT.about(0.8)}, ice at {KEPT.temperature(0.0, 0)}."
    )
    assert plain(in_reader_units(sentence, METRIC)) == (
        "Inside -3.6 °C now, 2.0 °C short; pour 0.8 L, ice at 0 °C."
    )
    # SP 811: t/°F = 1.8 t/°C + 32; 0.8 L are 27.05 US fl oz.
    assert plain(in_reader_units(sentence, CUSTOMARY)) == (
        "Inside 25.5 °F now, 3.6 °F short; pour 27 fl oz, ice at 32 °F."
    )
    assert (
        in_reader_units(sentence, SI) == "Inside -3.6 °C now, 2.0 K short; pour 0.8 L, ice at 0 °C."
    )


def test_what_was_told_once_is_not_told_anew():
    once = in_reader_units(KEPT.temperature(-3.61), CUSTOMARY)
    assert in_reader_units(once, METRIC) == once


def test_what_is_not_known_or_has_no_limit_is_said_in_words():
    for write in (KEPT.temperature, KEPT.difference, WORDS.temperature):
        assert (write(nan), write(inf)) == ("not known", "no limit")


def test_the_same_quantity_is_kept_whoever_the_yard_writes_for():
    assert KEPT.temperature(-3.6111) == "⟦-3.6111 Cel⟧"
    assert Wording(zone=ZONE, now=NOW, units=None).volume(0.4140294) == "⟦0.414 L⟧"


@pytest.mark.parametrize(
    ("after_h", "says"),
    [
        (2.25, "18:15"),
        (15, "07:00"),  # the coming night needs no day
        (19.9, "11:54"),
        (24, "Sun 16:00"),  # the same hour again does
        (-3, "13:00"),
        (-17, "Fri 23:00"),
        (24 * 7, "21 Nov 16:00"),
    ],
)
def test_a_time_names_its_day_only_where_it_must(after_h, says):
    assert WORDS.clock(NOW + timedelta(hours=after_h)) == says


def test_times_are_the_yards_whatever_zone_they_came_in():
    assert WORDS.clock(datetime(2026, 11, 15, 0, 15, tzinfo=UTC)) == "18:15"
    assert WORDS.weekday(datetime(2026, 11, 15, 0, 15, tzinfo=UTC)) == "Saturday 14 November"
    assert WORDS.day(datetime(2026, 11, 15, 0, 15, tzinfo=UTC)) == "14 Nov 2026"
    assert WORDS.clock(None) == ""


def test_without_a_present_no_time_is_near():
    assert Wording(zone=ZONE).clock(NOW) == "14 Nov 16:00"


def test_the_hour_that_comes_twice_is_told_with_its_zone():
    # US rules: at 02:00 CDT on 1 November 2026 clocks go back to 01:00 CST.
    twice = datetime(2026, 11, 1, 6, 30, tzinfo=UTC)
    words = Wording(zone=ZONE, now=twice - timedelta(hours=6))
    assert words.clock(twice) == "01:30 CDT"
    assert words.clock(twice + timedelta(hours=1)) == "01:30 CST"
    assert words.clock(twice + timedelta(hours=2)) == "02:30"


@pytest.mark.parametrize(
    ("raw", "set_"),
    [
        ("down to -7.2 °C now", "down to −7.2 °C now"),
        ("2026-11-14 and two-stroke stay", "2026-11-14 and two-stroke stay"),
        ("run 14 fl oz through", "run 14 fl oz through"),
        ("hold 2.1 gal", "hold 2.1 gal"),
        ("11.9 V rested", "11.9 V rested"),
    ],
)
def test_numbers_get_a_true_minus_and_keep_their_unit(raw, set_):
    assert typeset(raw).replace("\N{NO-BREAK SPACE}", " ") == set_
    assert typeset(raw).count("\N{NO-BREAK SPACE}") == (0 if "2026" in raw else 1)


def test_names_that_hold_commas_are_set_apart_by_semicolons():
    assert listed(["a", "b", "c"]) == "a, b and c"
    assert listed(["Gull, red", "Wren"]) == "Gull, red; and Wren"


@pytest.mark.parametrize(
    ("value", "says"), [(0.0, "none"), (0.5, "0.5 h"), (43.2, "43 h"), (nan, "not known")]
)
def test_hours_are_as_fine_as_they_can_be_known(value, says):
    assert hours_in_words(value) == says


@pytest.mark.parametrize("gallons", [1, 2, 5])
def test_what_is_sold_by_the_gallon_is_read_in_gallons(gallons):
    words = Wording(units=CUSTOMARY)
    assert plain(words.about(parse_quantity(f"{gallons}gal", VOLUME))) == f"{gallons}.0 gal"


@given(
    st.floats(allow_nan=False, allow_infinity=False),
    st.sampled_from([Units(), Units(temperature="F", volume="fl oz"), SI]),
)
@example(99_999_999.99999, SI)
def test_a_quantity_that_is_said_at_once_reads_as_one_that_was_kept(value, units):
    said, kept = Wording(units=units), Wording(units=None)
    for write in ("temperature", "ice_point", "difference", "volume", "about"):
        text = getattr(kept, write)(value)
        assert getattr(said, write)(value) == in_reader_units(text, units)
