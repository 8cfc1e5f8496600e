"""Who counts as told in a drilled winter: by any letter that tells it, and by no other."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

from monitor.yard.alarm import Topic
from tests.bench.winter.stage import Arrived
from tests.bench.winter.verdict import Kept, Raised, Written, compare

AT = datetime(2025, 11, 14, 8, tzinfo=UTC)
HOUR = timedelta(hours=1)


def raised(cause, *, space="boat-hall", craft="", part="", at=AT):
    return Raised(cause, space, craft, part, at, None)


def winter(alarms, *letters):
    """Of alarms, and of letters: topics, when it arrived, and its words."""
    written = [
        Written("oda", frozenset(topics), "alarm", at, "handed over", f"Letter {at}", words)
        for topics, at, words in letters
    ]
    arrived = [Arrived(at, "oda", f"Letter {at}", words) for _, at, words in letters]
    return Kept(alarms, written, arrived, [], 0, 0, 0, AT + 30 * 24 * HOUR, 0)


def missed(calm, disturbed):
    return compare(calm, disturbed)[1]


DAMP = raised("damp")
CALM = winter([DAMP], ({Topic.DAMP}, AT + HOUR, "Dry Boat Hall"))


def test_news_that_went_along_in_a_letter_of_another_topic_was_told():
    said = ({Topic.SILENCE, Topic.DAMP}, AT + HOUR, "Set the clock, keep Boat Hall dry")
    assert missed(CALM, winter([DAMP], said)) == []
    alone = ({Topic.SILENCE}, AT + HOUR, "Compare the sensors of Boat Hall")
    assert len(missed(CALM, winter([DAMP], alone))) == 1


def test_wet_metal_told_in_a_space_is_its_damp_told_but_not_days_ago():
    sweat = raised("sweat", craft="smew", part="engine", at=AT - 90 * HOUR)
    lately = ({Topic.DAMP}, AT - 4 * HOUR, "Keep Boat Hall dry: metal sweats on Smew")
    assert missed(CALM, winter([sweat, DAMP], lately)) == []
    long_ago = ({Topic.DAMP}, AT - 80 * HOUR, "Keep Boat Hall dry: metal sweats on Smew")
    assert len(missed(CALM, winter([sweat, DAMP], long_ago))) == 1


def test_who_is_to_read_a_silent_space_by_hand_is_not_missed_by_the_frost_there():
    frost = raised("frost", space="east-row", craft="whimbrel", part="pump-housing")
    calm = winter([frost], ({Topic.FROST}, AT, "Drain Whimbrel by 22:01"))
    blind = raised("silence-urgent", space="east-row", part="sensor")
    by_hand = ({Topic.SILENCE}, AT, "Read East Row by hand")
    assert missed(calm, winter([blind], by_hand)) == []
    elsewhere = replace(blind, space="quay-rack")
    assert len(missed(calm, winter([elsewhere], by_hand))) == 1
    assert len(missed(calm, winter([blind]))) == 1


def test_the_operator_reads_a_silent_space_also_for_a_mechanic_who_would_have_been_told():
    battery = raised("battery-freezing", space="east-row", craft="whimbrel", part="battery")
    calm = winter([battery], ({Topic.BATTERY}, AT, "Warm the battery of Whimbrel by 00:36"))
    calm = replace(calm, arrived=[replace(one, to="pim") for one in calm.arrived],
                   written=[replace(one, person="pim") for one in calm.written])  # fmt: skip
    blind = raised("blind-space", space="east-row", part="sensor")
    by_hand = ({Topic.SILENCE}, AT, "Read East Row by hand")
    assert missed(calm, winter([blind], by_hand)) == []
    assert len(missed(calm, winter([blind]))) == 1
    own = ({Topic.BATTERY}, AT, "Warm the battery of Whimbrel")
    assert len(missed(calm, winter([battery], own))) == 1, "told to the operator, not to pim"


def test_frost_told_is_no_ice_told():
    ice = raised("ice", craft="smew", part="hoses")
    frost = raised("frost", craft="smew", part="hoses", at=AT - 2 * HOUR)
    calm = winter([ice], ({Topic.FROST}, AT, "Leave Smew alone, ice inside"))
    drain = ({Topic.FROST}, AT - HOUR, "Drain Smew by 22:01")
    assert len(missed(calm, winter([frost], drain))) == 1
