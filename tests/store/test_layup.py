"""The lay-up record in the store: idempotent, chained, whole or not at all, in any order."""

import random
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from monitor.craft.craft_stays import Stay
from monitor.craft.layup import Liquid, Outflow, Product
from monitor.craft.record import stored_craft
from monitor.errors import RecordError
from monitor.store.entering import enter, move
from monitor.store.store import Store
from monitor.store.taking_in import take_in
from monitor.yard.assessment import Assessment, Hazard, Standing, Subject
from tests.craft.scene import (
    ARRIVED,
    EVE,
    NOON,
    SHELTERS,
    STRONG,
    TWO_STROKE,
    held,
    library,
    record,
    twelve,
    work,
)
from tests.tried import tried
from tests.written import written

NOW = EVE.astimezone(UTC)


def counts(store: Store) -> int:
    with store.snapshot() as tx:
        return tx.layup.revision_mark()


def test_the_yard_comes_back_as_it_went_in(store):
    with store.transaction() as tx:
        taken = take_in(tx.layup, twelve().values(), library(), NOW)
    assert (taken.new_craft, taken.new_stays) == (12, 13)
    with store.snapshot() as tx:
        back = {one.craft.id: one for one in tx.layup.all_records(library())}
    assert list(back) == list(twelve())  # k2 before k10
    for key, one in twelve().items():
        assert stored_craft(back[key], SHELTERS, EVE) == stored_craft(one, SHELTERS, EVE)


def test_the_same_file_again_adds_nothing(store):
    for _ in range(2):
        with store.transaction() as tx:
            taken = take_in(tx.layup, twelve().values(), library(), NOW)
    assert (taken.new_craft, taken.new_stays, taken.new_entries) == (0, 0, 0)


def test_an_entry_of_the_same_id_with_other_words_is_refused(store):
    first = work("flushed", 0, id="flush")
    with store.transaction() as tx:
        take_in(tx.layup, [record(first)], library(), NOW)
    with pytest.raises(RecordError, match="says something else"), store.transaction() as tx:
        enter(tx.layup, [replace(first, by="Tom Varga")], library(), NOW, "test")
    with store.transaction() as tx:
        assert enter(tx.layup, [first], library(), NOW, "test") == 0


def test_an_entry_edited_in_its_file_is_refused_until_it_says_what_it_replaces(store):
    wet = work("drained", 0, "hoses")
    with store.transaction() as tx:
        take_in(tx.layup, [record(wet)], library(), NOW)
    edited = work("drained", 0, "hoses", id="edited", dry=True)
    told = rf"other words, as entry {wet.id}.*replaces"
    with pytest.raises(RecordError, match=told), store.transaction() as tx:
        take_in(tx.layup, [record(edited)], library(), NOW)
    correction = replace(edited, replaces=wet.id)
    for new in (1, 0):
        with store.transaction() as tx:
            assert take_in(tx.layup, [record(wet, correction)], library(), NOW).new_entries == new


def test_one_bad_entry_keeps_the_whole_batch_out(store):
    with store.transaction() as tx:
        take_in(tx.layup, [record()], library(), NOW)
    before = counts(store)
    good = work("flushed", 0)
    for bad in (
        work("drained", 0, "boiler"),
        work("flushed", 0, at=ARRIVED - timedelta(days=1)),
        work("antifreeze-poured", 0, "hoses", quantity_l=53.0),
        work("flushed", 24 * 30),  # still to come
        work("flushed", 0, craft="k99"),
        work("flushed", 1, replaces="nothing"),
    ):
        with pytest.raises(RecordError), store.transaction() as tx:
            enter(tx.layup, [good, bad], library(), NOW, "test")
        assert counts(store) == before


def test_two_craft_with_one_hull_number_leave_nothing_half_written(store):
    with store.transaction() as tx:
        take_in(tx.layup, [record(hull_number="KETTLE01")], library(), NOW)
    before = counts(store)
    other = record(work("flushed", 0, craft="k2"), id="k2", name="Plover", hull_number="KETTLE01")
    extra = record(id="k3", name="Grebe")
    with pytest.raises(RecordError, match="which is Teal's"), store.transaction() as tx:
        take_in(tx.layup, [extra, other], library(), NOW)
    assert counts(store) == before


def test_a_hull_number_that_one_craft_gives_up_another_may_take_in_the_same_file(store):
    with store.transaction() as tx:
        take_in(tx.layup, [record(hull_number="KETTLE01")], library(), NOW)
    other = record(id="k2", name="Plover", hull_number="KETTLE01")
    with pytest.raises(RecordError, match="which is Teal's"), store.transaction() as tx:
        take_in(tx.layup, [other, record(hull_number="")], library(), NOW)
    with store.transaction() as tx:
        take_in(tx.layup, [record(hull_number=""), other], library(), NOW)
    with store.snapshot() as tx:
        assert [one.hull_number for one in tx.layup.all_craft()] == ["", "KETTLE01"]


def test_a_craft_may_be_entered_again_with_more_known_of_it(store):
    with store.transaction() as tx:
        take_in(tx.layup, [record(hull_number="KETTLE01")], library(), NOW)
        take_in(tx.layup, [record(hull_number="KETTLE01", note="key on the hook")], library(), NOW)
    with store.snapshot() as tx:
        assert tx.layup.craft_by_id("k1").note == "key on the hook"


def test_what_takes_the_place_of_what_was_known_of_a_craft_is_told_as_a_change(store):
    told = []
    for known in ({}, {"left_at": EVE}, {"left_at": EVE}, {}):
        with store.transaction() as tx:
            take_in(tx.layup, [record(**known)], library(), NOW)
        told.append(counts(store))
    here, left, still, back = told
    assert here < left == still < back


def test_moves_are_dated_and_history_stays(store):
    with store.transaction() as tx:
        take_in(tx.layup, [record(work("kept-warm", 0), places=("stove-barn",))], library(), NOW)
        out = Stay(craft="k1", since=NOON + timedelta(days=5), space="lee-rack", berth="4")
        assert move(tx.layup, out, NOW, "test") == 1
        assert move(tx.layup, out, NOW, "test") == 0
    with store.snapshot() as tx:
        one = tx.layup.record_of("k1", library())
    places = [stored_craft(one, SHELTERS, at).space for at in (NOON, EVE)]
    assert places == ["stove-barn", "lee-rack"]


def test_a_move_may_not_rewrite_where_it_stood_nor_foretell_where_it_will(store):
    with store.transaction() as tx:
        take_in(tx.layup, [record()], library(), NOW)
    for since, words in (
        (ARRIVED, "already"),
        (ARRIVED - timedelta(days=1), "no time when Teal was here"),
        (EVE + timedelta(days=1), "still to come"),
    ):
        stay = Stay(craft="k1", since=since, space="lee-rack")
        with pytest.raises(RecordError, match=words), store.transaction() as tx:
            move(tx.layup, stay, NOW, "test")


def test_ice_that_judgement_saw_makes_an_unproven_circuit_suspect(store):
    poured = work(
        "antifreeze-poured",
        0,
        "hoses",
        product=STRONG,
        quantity_l=1.0,
        outflow=Outflow.NONE,
    )
    icing = Assessment(
        subject=Subject("long-shed", "k1", "hoses"),
        hazard=Hazard.FROST,
        standing=Standing.ICING,
        at=NOON + timedelta(days=2),
        **written("computed below 0 °C"),
    )
    with store.transaction() as tx:
        take_in(tx.layup, [record(poured)], library(), NOW)
        tx.assessments.replace_judgements([icing])
    with store.snapshot() as tx:
        stored = stored_craft(tx.layup.record_of("k1", library()), SHELTERS, EVE)
    assert stored.protection["hoses"].suspect_since == icing.at
    assert stored.protection["water-box"].suspect_since is None


def test_yards_do_not_see_each_others_craft(store, url):
    other = Store(url, "elsewhere")
    with store.transaction() as tx:
        take_in(tx.layup, [record(hull_number="KETTLE01")], library(), NOW)
    with other.transaction() as tx:
        assert tx.layup.all_craft() == []
        take_in(tx.layup, [record(work("flushed", 0), hull_number="KETTLE01")], library(), NOW)
    with store.snapshot() as tx:
        assert tx.layup.entries_of("k1") == ()
    other.close()


@settings(
    max_examples=tried(8),
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(st.integers(0, 2**32))
def test_any_order_of_importing_gives_the_same_protection(stores, seed):
    chance = random.Random(seed)
    store = Store(stores.new_url(), "kettlemoss")
    parts = [
        replace(one, entries=(entry,), stays=(stay,))
        for one in twelve().values()
        for entry in (one.entries or (None,))
        for stay in one.stays
    ]
    parts = [
        replace(part, entries=tuple(entry for entry in part.entries if entry is not None))
        for part in parts
    ]
    chance.shuffle(parts)
    with store.transaction() as tx:
        take_in(tx.layup, parts, library(), NOW)
    with store.snapshot() as tx:
        back = tx.layup.all_records(library())
    for one in back:
        want = stored_craft(twelve()[one.craft.id], SHELTERS, EVE)
        assert stored_craft(one, SHELTERS, EVE) == want
    store.close()


def test_a_correction_of_what_is_on_record_counts_at_once(store):
    slip = work(
        "antifreeze-poured",
        0,
        "water-box",
        id="slip",
        ice_point_c=-3.0,
        product=Product(name="pink", liquid=Liquid.PROPYLENE),
    )
    right = work(
        "antifreeze-poured",
        0,
        "water-box",
        id="right",
        ice_point_c=-30.0,
        product=STRONG,
        quantity_l=9.0,
        replaces="slip",
    )
    with store.transaction() as tx:
        take_in(tx.layup, [record(slip)], library(), NOW)
        enter(tx.layup, [right], library(), NOW, "test")
    with store.snapshot() as tx:
        one = tx.layup.record_of("k1", library())
        assert len(tx.layup.entries_of("k1")) == 2  # the slip stays on record
    assert stored_craft(one, SHELTERS, EVE).protection["water-box"].ice_point_c == -30.0


def test_times_of_writing_are_in_the_chain_and_not_in_the_protection(store):
    with store.transaction() as tx:
        take_in(tx.layup, [record(work("flushed", 0))], library(), datetime(2027, 1, 1, tzinfo=UTC))
        *_, link = tx.layup.links_of("k1")
    assert '"written_at":"2027-01-01T00:00:00Z"' in link.body


def test_a_run_and_a_fill_of_one_date_count_as_one_list_tells_them_or_with_the_run_last(store):
    run = work("fuel-run-through", 0, id="run")
    fill = work(
        "antifreeze-run-through", 0, *TWO_STROKE, id="fill", ice_point_c=-30.0, quantity_l=9.0
    )
    for craft, lists in (("k1", [[run, fill]]), ("k2", [[run], [fill]])):
        with store.transaction() as tx:
            tx.layup.put_craft([replace(record().craft, id=craft)], NOON)
            for n, entries in enumerate(lists):
                mine = [replace(one, craft=craft) for one in entries]
                tx.layup.append_entries(mine, NOON + timedelta(days=7 * n))
    with store.snapshot() as tx:
        found = {key: tx.layup.record_of(key, library()) for key in ("k1", "k2")}
    assert held(found["k1"])["water-box"].ice_point_c == -30.0
    assert held(found["k2"])["water-box"].ice_point_c == 0.0


POURED = {"product": STRONG, "quantity_l": 3.0, "outflow": Outflow.FULL_COLOUR}


@pytest.mark.parametrize(
    ("good", "doubt"),
    [
        (POURED, {**POURED, "outflow": Outflow.CLEAR_WATER}),
        (POURED, {**POURED, "quantity_l": 1.0}),
        (POURED, {**POURED, "ice_point_c": -3.0}),
        (POURED, {**POURED, "outflow": Outflow.NONE}),
        ({"act": "drained", "dry": True}, {"act": "drained", "dry": False}),
    ],
    ids=["clear water", "less", "thin", "blocked", "wet"],
)
def test_a_doubt_goes_into_the_record_though_the_good_word_has_the_same_minute(store, good, doubt):
    def told(said, **more):
        said = {"act": "antifreeze-poured", **said, **more}
        return work(said.pop("act"), 0, "hoses", **said)

    with store.transaction() as tx:
        tx.layup.put_craft([record().craft], NOON)
        enter(tx.layup, [told(good)], library(), NOW, "test")
        assert enter(tx.layup, [told(doubt)], library(), NOW, "test") == 1
        found = held(tx.layup.record_of("k1", library()))["hoses"]
    alone = held(record(told(doubt)))["hoses"]
    assert found.ice_point_c >= alone.ice_point_c


def test_a_better_word_of_the_same_minute_is_still_refused_with_the_way_to_correct(store):
    with store.transaction() as tx:
        tx.layup.put_craft([record().craft], NOON)
        enter(tx.layup, [work("antifreeze-poured", 0, "hoses", **POURED)], library(), NOW, "test")
        more = work("antifreeze-poured", 0, "hoses", **{**POURED, "quantity_l": 4.0})
        with pytest.raises(RecordError, match="replaces = "):
            enter(tx.layup, [more], library(), NOW, "test")
