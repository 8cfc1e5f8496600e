"""What the record says of a craft's own damp, and of what draws from its battery."""

from datetime import timedelta

import pytest

from monitor.craft.canonical import entry_json, entry_of
from monitor.craft.craft_condition import keeping
from monitor.craft.layup import Cover
from monitor.craft.record import stored_craft
from monitor.craft.stored import BatteryPlace
from monitor.craft.work_order import standing_entries
from tests.craft.scene import ARRIVED, SHELTERS, record, work


def kept(*entries):
    return keeping(standing_entries(entries))


def battery_of(*entries, places=("long-shed",), days=60):
    found = stored_craft(record(*entries, places=places), SHELTERS, ARRIVED + timedelta(days=days))
    assert found is not None
    return found.battery


def test_nothing_on_record_says_nothing():
    assert kept() == keeping(())
    assert not kept().covered


def test_a_cover_is_of_its_kind_until_it_comes_off():
    fitted = work("cover-fitted", 0, cover=Cover.SHRINK_WRAP)
    assert kept(fitted).cover is Cover.SHRINK_WRAP
    off = kept(fitted, work("cover-off", 5))
    assert (off.cover, off.covered) == (None, False)


def test_a_torn_cover_leaves_the_bilge_wet_until_somebody_dries_it():
    torn = (work("cover-fitted", 0), work("cover-torn", 5))
    assert kept(*torn).torn
    assert kept(*torn).bilge_wet
    refitted = kept(*torn, work("cover-fitted", 7), work("bilge-dried", 8))
    assert not refitted.torn
    assert not refitted.bilge_wet


def test_film_lasts_until_the_engine_runs_again():
    sprayed = work("sprayed-down", 0)
    assert kept(sprayed).filmed
    assert not kept(sprayed, work("run-on-water", 3)).filmed
    assert kept(work("run-on-water", 0), work("sprayed-down", 3)).filmed


def test_a_cover_is_said_only_of_a_fitting_and_survives_the_canonical_form():
    with pytest.raises(ValueError, match="cover-fitted"):
        work("drained", 0, "cylinder-passages", cover=Cover.BREATHABLE)
    entry = work("cover-fitted", 0, cover=Cover.BREATHABLE)
    assert entry_of(entry_json(entry)) == entry


def test_a_lead_taken_off_takes_the_load_away_until_it_is_on_again():
    aboard = work("battery-left-aboard", 0)
    assert battery_of(aboard).may_be_drawn_from
    off = (aboard, work("battery-disconnected", 0))
    assert not battery_of(*off).may_be_drawn_from
    assert battery_of(*off, work("battery-connected", 9)).may_be_drawn_from
    assert battery_of(*off, work("run-on-water", 9)).may_be_drawn_from
    assert battery_of(*off, work("battery-left-aboard", 9)).may_be_drawn_from  # put back in


def test_a_battery_nobody_noted_counts_as_connected_and_one_on_the_bench_does_not():
    assert battery_of().place is BatteryPlace.UNKNOWN
    assert battery_of().may_be_drawn_from
    assert not battery_of(work("battery-removed", 0, space="bench")).may_be_drawn_from


def test_a_battery_stands_where_it_is_since_it_or_its_craft_was_moved():
    moved = battery_of(places=("stove-barn", "long-shed"))
    assert (moved.since, moved.came_from) == (ARRIVED + timedelta(days=14), "stove-barn")
    benched = work("battery-removed", 3, space="bench")
    found = battery_of(benched, places=("stove-barn", "long-shed"))
    assert (found.since, found.came_from) == (benched.at, "stove-barn")  # where its craft was then
    # Benched and aboard again while the craft stood still: since it came back.
    back = battery_of(benched, work("battery-left-aboard", 50))
    assert (back.came_from, back.space) == ("bench", "long-shed")
