"""A craft list that comes a second time: what it leaves out stays, what it changes is told."""

import csv
import json
from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from monitor.craft.layup import Act
from monitor.craft.protection import LayupState
from monitor.craft.record import stored_craft
from monitor.errors import RecordError
from monitor.settings.craft_file import load_craft
from monitor.store.taking_in import not_taken_in, take_in
from monitor.store.taking_in_each import take_in_each
from tests.craft.scene import ARRIVED, EVE, SHELTERS, library, record, work, yard

HEADING = ("id", "name", "profile", "arrived", "place", "fittings", "owner", "hull_number", "note")
FULL = {
    "id": "k1",
    "name": "Teal",
    "profile": "pwc-two-stroke",
    "arrived": "2026-10-20T09:00",
    "place": "long-shed/1",
    "fittings": "ballast",
    "owner": "owner-k01",
    "hull_number": "KETTLE01",
    "note": "key on the hook",
}


def import_list(store, tmp_path, *rows, columns=HEADING, by="maren"):
    """Import a list as the command does, and give what it came to."""
    path = tmp_path / "season.csv"
    with path.open("w", newline="") as file:
        writer = csv.DictWriter(file, columns, extrasaction="ignore")
        writer.writeheader()
        writer.writerows(rows)
    with store.transaction() as tx:
        known = {one.craft.id: one for one in tx.layup.all_records(library())}
        records = load_craft(path, yard(), library(), on_record=known)
        return take_in(tx.layup, records, library(), EVE, by)


def on_record(store):
    with store.snapshot() as tx:
        return tx.layup.craft_by_id("k1")


def test_a_file_with_more_digits_of_a_second_than_are_kept_is_taken_in_once(store):
    # As a program writes times; nobody changed anything.
    to_the_microsecond = record(arrived_at=ARRIVED + timedelta(microseconds=519_591))
    moved = replace(
        to_the_microsecond,
        stays=tuple(
            replace(one, since=one.since + timedelta(microseconds=519_591))
            for one in to_the_microsecond.stays
        ),
    )
    with store.transaction() as tx:
        take_in(tx.layup, [moved], library(), EVE)
    with store.snapshot() as tx:
        assert not_taken_in(tx.layup, [moved], EVE) == []
    with store.transaction() as tx:
        again = take_in(tx.layup, [moved], library(), EVE)
    assert (again.changes, again.new_stays) == ((), 0)


def test_a_list_with_fewer_columns_leaves_the_rest_as_it_was(store, tmp_path):
    import_list(store, tmp_path, FULL)
    before = on_record(store)
    again = import_list(store, tmp_path, FULL, columns=HEADING[:5])
    assert on_record(store) == before
    assert (before.owner, before.fittings) == ("owner-k01", ("ballast",))
    assert again.changes == ()


def test_an_empty_cell_means_as_it_was_and_a_dash_clears_it(store, tmp_path):
    import_list(store, tmp_path, FULL)
    before = on_record(store)
    import_list(store, tmp_path, FULL | dict.fromkeys(HEADING[5:], ""))
    assert on_record(store) == before
    taken = import_list(store, tmp_path, FULL | dict.fromkeys(HEADING[5:], "-"))
    after = on_record(store)
    assert (after.fittings, after.owner, after.hull_number, after.note) == ((), "", "", "")
    assert sorted(one.what for one in taken.changes) == sorted(
        ["fittings", "owner", "hull number", "note"]
    )


def test_of_known_craft_a_list_may_say_only_what_is_new(store, tmp_path):
    import_list(store, tmp_path, FULL)
    taken = import_list(store, tmp_path, {"id": "k1", "note": "sold"}, columns=("id", "note"))
    assert [str(one) for one in taken.changes] == ["Teal (k1): note was key on the hook, now sold"]
    with pytest.raises(Exception, match="lacks name, profile, arrived, place"):
        import_list(store, tmp_path, {"id": "k9", "note": "new"}, columns=("id", "note"))


def test_a_change_is_kept_with_its_date_and_author(store, tmp_path):
    import_list(store, tmp_path, FULL)
    import_list(store, tmp_path, FULL | {"owner": "owner-k02"}, by="vera")
    with store.snapshot() as tx:
        said = [json.loads(link.body) for link in tx.layup.links_of("k1") if link.kind == "craft"]
    assert [(one["craft"]["owner"], one["by"]) for one in said] == [
        ("owner-k01", "maren"),
        ("owner-k02", "vera"),
    ]
    assert said[1]["written_at"] == "2026-11-14T22:00:00Z"  # the evening, in UTC


def test_a_fitting_with_work_on_record_is_not_taken_away(store, tmp_path):
    import_list(store, tmp_path, FULL)
    circuit = library()["ballast"].circuit_ids[0]
    with store.transaction() as tx:
        tx.layup.append_entries([work("drained", 0, circuit, id="pumped", dry=True)], EVE)
    before = on_record(store)
    with pytest.raises(RecordError) as refused:
        import_list(store, tmp_path, FULL | {"fittings": "-", "note": "sold"})
    told = str(refused.value)
    for words in ("entry pumped", circuit, "withdrawn --replaces", "keep the fitting"):
        assert words in told
    assert on_record(store) == before
    with store.transaction() as tx:
        tx.layup.append_entries([work("withdrawn", 1, id="never", replaces="pumped")], EVE)
    import_list(store, tmp_path, FULL | {"fittings": "-"})
    assert on_record(store).fittings == ()


def test_one_refused_craft_does_not_keep_the_others_of_the_files_out(store):
    with store.transaction() as tx:
        drained = work("drained", 0, "water-box", id="box")
        take_in(tx.layup, [record(drained)], library(), EVE)
    other = record(id="k2", name="Plover", note="new")
    taken = take_in_each(store, [record(profile="outboard"), other], library(), EVE)
    assert (taken.new_craft, len(taken.refused)) == (1, 1)
    assert "entry box" in str(taken.refused[0])
    with store.snapshot() as tx:
        assert [one.profile for one in tx.layup.all_craft()] == ["pwc-two-stroke"] * 2
        teal = tx.layup.record_of("k1", library())
    assert stored_craft(teal, SHELTERS, EVE).unreadable == ""


def test_work_that_contradicts_itself_keeps_only_work_on_its_own_circuits_out(store):
    sound = work("drained", 0, "water-box", id="box", dry=True)
    before = work("drained", 1, "hoses", id="before", dry=True)
    wrong = work("drained", 2, "hoses", id="wrong", dry=True, ice_point_c=-30.0)
    other = record(id="k2", name="Plover")
    run = work("run-on-water", 3, id="run")
    taken = take_in_each(store, [record(sound, before, wrong, run), other], library(), EVE)
    assert (taken.new_craft, taken.new_entries, list(taken.refused_craft)) == (2, 2, ["k1"])
    assert "layup[3].ice_point" in taken.refused_craft["k1"]
    with store.snapshot() as tx:
        assert [one.id for one in tx.layup.entries_of("k1")] == ["box", "run"]
    mended = work("drained", 2, "hoses", id="mended", dry=True)
    taken = take_in_each(store, [record(sound, before, mended)], library(), EVE)
    assert (taken.new_entries, taken.refused) == (2, ())


def test_no_work_goes_in_whose_undoing_is_left_out(store):
    sound = work("drained", 0, "water-box", id="box", dry=True)
    opened = work("circuit-opened", 1, "water-box", "hoses", id="opened")
    wrong = work("drained", 2, "hoses", id="wrong", dry=True, ice_point_c=-30.0)
    taken = take_in_each(store, [record(sound, opened, wrong)], library(), EVE)
    assert (taken.new_craft, taken.new_entries, list(taken.refused_craft)) == (1, 0, ["k1"])


def test_refused_work_that_names_no_circuit_keeps_all_new_work_of_its_craft_out(store):
    sound = work("drained", 0, "water-box", id="box", dry=True)
    wrong = work("run-on-water", 1, id="run", dry=True, ice_point_c=-30.0)
    taken = take_in_each(store, [record(sound, wrong)], library(), EVE)
    assert (taken.new_craft, len(taken.refused)) == (0, 1)


def test_all_that_is_refused_is_told_and_the_rest_is_there(store):
    with store.transaction() as tx:
        first = record(hull_number="KETTLE01")
        take_in(tx.layup, [first, record(id="k2", name="Plover")], library(), EVE)
    twins = [record(id=key, name=key, hull_number="KETTLE01") for key in ("k3", "k4")]
    taken = take_in_each(store, [*twins, record(id="k5", name="Grebe")], library(), EVE)
    assert [str(error).partition(":")[2].split(".")[0].strip() for error in taken.refused] == [
        "k3",
        "k4",
    ]
    with store.snapshot() as tx:
        assert [one.id for one in tx.layup.all_craft()] == ["k1", "k2", "k5"]


def test_a_craft_that_comes_back_keeps_its_first_arrival_and_its_work_is_proven_no_more(
    store, tmp_path
):
    import_list(store, tmp_path, FULL)
    done = work("drained", 0, "hoses", dry=True)
    with store.transaction() as tx:
        tx.layup.append_entries([done], EVE)
    first = on_record(store).arrived_at
    returned = FULL | {"arrived": "2026-11-10T09:00", "place": "north-row/2"}
    for new in (1, 0):  # the same list again adds nothing
        taken = import_list(store, tmp_path, returned)
        assert (taken.new_entries, on_record(store).arrived_at) == (new, first)
    with store.snapshot() as tx:
        one = tx.layup.record_of("k1", library())
    assert [entry.act for entry in one.entries] == [Act.DRAINED, Act.BROUGHT_BACK]
    assert [stay.space for stay in one.stays] == ["long-shed", "north-row"]
    assert stored_craft(one, SHELTERS, EVE).protection["hoses"].state is LayupState.UNPROVEN


def test_a_craft_that_left_and_is_listed_anew_has_both_times_in_the_yard(store, tmp_path):
    columns = (*HEADING, "left")
    import_list(store, tmp_path, FULL | {"left": "2026-10-30T09:00"}, columns=columns)
    import_list(
        store, tmp_path, FULL | {"arrived": "2026-11-10T09:00", "left": "-"}, columns=columns
    )
    with store.snapshot() as tx:
        one = tx.layup.record_of("k1", library())
    days = ("2026-10-25", "2026-11-05", "2026-11-12")
    there = [one.in_yard_at(datetime.fromisoformat(f"{day}T12:00:00+00:00")) for day in days]
    assert there == [True, False, True]


def test_a_list_without_the_column_of_leaving_takes_a_later_arrival_as_a_return(store, tmp_path):
    columns = (*HEADING, "left")
    import_list(store, tmp_path, FULL | {"left": "2026-10-30T09:00"}, columns=columns)
    import_list(store, tmp_path, FULL | {"arrived": "2026-11-10T09:00"})
    with store.snapshot() as tx:
        one = tx.layup.record_of("k1", library())
    assert [entry.act for entry in one.entries] == [Act.TAKEN_OUT, Act.BROUGHT_BACK]
    assert (one.craft.left_at, one.in_yard_at(EVE)) == (None, True)


@pytest.mark.parametrize("says", ["-", "2027-01-10T09:00"])
def test_a_craft_that_its_list_has_here_again_was_away_until_somebody_withdraws_it(
    store, tmp_path, says
):
    columns = (*HEADING, "left")
    done = work("drained", 0, "hoses", dry=True)
    import_list(store, tmp_path, FULL)
    with store.transaction() as tx:
        tx.layup.append_entries([done], EVE)
    import_list(store, tmp_path, FULL | {"left": "2026-11-10T09:00"}, columns=columns)
    for new in (2, 0):  # the same list again adds nothing
        taken = import_list(store, tmp_path, FULL | {"left": says}, columns=columns)
        assert taken.new_entries == new
    with store.snapshot() as tx:
        one = tx.layup.record_of("k1", library())
    assert [entry.act for entry in one.entries[1:]] == [Act.TAKEN_OUT, Act.BROUGHT_BACK]
    assert stored_craft(one, SHELTERS, EVE).protection["hoses"].state is LayupState.UNPROVEN


def test_a_return_that_somebody_entered_is_not_entered_again_as_its_list_has_it_here(
    store, tmp_path
):
    columns = (*HEADING, "left")
    import_list(store, tmp_path, FULL)
    done = work("drained", 0, "hoses", dry=True)
    back = work("brought-back", 0, at=EVE - timedelta(days=2), used_away=False)
    import_list(store, tmp_path, FULL | {"left": "2026-11-10T09:00"}, columns=columns)
    with store.transaction() as tx:
        tx.layup.append_entries([done, back], EVE)
    import_list(store, tmp_path, FULL | {"left": "-"}, columns=columns)
    with store.snapshot() as tx:
        one = tx.layup.record_of("k1", library())
    assert sorted(entry.act for entry in one.entries[1:]) == [Act.BROUGHT_BACK, Act.TAKEN_OUT]
    assert stored_craft(one, SHELTERS, EVE).protection["hoses"].state is LayupState.PROVEN


def test_a_day_of_leaving_that_is_only_moved_is_a_date_put_right(store, tmp_path):
    columns = (*HEADING, "left")
    for left in ("2026-11-10T09:00", "2026-11-12T09:00"):
        import_list(store, tmp_path, FULL | {"left": left}, columns=columns)
    for left in ("2027-01-10T09:00", "-"):  # it has not left yet
        import_list(
            store,
            tmp_path,
            FULL | {"id": "k2", "left": left, "place": "north-row/1", "hull_number": ""},
            columns=columns,
        )
    with store.snapshot() as tx:
        assert (tx.layup.entries_of("k1"), tx.layup.entries_of("k2")) == ((), ())


def test_a_later_arrival_with_nothing_on_record_before_it_is_a_date_put_right(store, tmp_path):
    import_list(store, tmp_path, FULL)
    import_list(store, tmp_path, FULL | {"arrived": "2026-10-21T09:00"})
    with store.snapshot() as tx:
        assert tx.layup.entries_of("k1") == ()
    assert on_record(store).arrived_at.date().isoformat() == "2026-10-21"


def test_a_file_that_names_people_is_entered_by_id_and_adds_nothing_a_second_time(store):
    names = {"ines": "Ines Aldaz"}
    named = record(work("flushed", 0), id="k1")
    with store.transaction() as tx:
        assert take_in(tx.layup, [named], library(), EVE, names=names).new_entries == 1
        assert [one.by for one in tx.layup.entries_of("k1")] == ["ines"]
        assert take_in(tx.layup, [named], library(), EVE, names=names).new_entries == 0
        by_id = record(work("flushed", 0, by="ines"), id="k1")
        assert take_in(tx.layup, [by_id], library(), EVE, names=names).new_entries == 0


def test_work_on_record_under_a_name_is_not_entered_again_under_the_id(store):
    with store.transaction() as tx:
        take_in(tx.layup, [record(work("flushed", 0))], library(), EVE)
        by_id = record(work("flushed", 0, by="ines"))
        names = {"ines": "Ines Aldaz"}
        assert take_in(tx.layup, [by_id], library(), EVE, names=names).new_entries == 0
        assert [one.by for one in tx.layup.entries_of("k1")] == ["Ines Aldaz"]


CONTRADICTS = work("drained", 0, "hoses", dry=True, ice_point_c=-30.0)


def test_new_work_of_a_file_that_contradicts_itself_is_refused_and_old_work_stays(store):
    with pytest.raises(RecordError, match="seen dry, and a sample"), store.transaction() as tx:
        take_in(tx.layup, [record(CONTRADICTS)], library(), EVE)
    with store.transaction() as tx:
        take_in(tx.layup, [record()], library(), EVE)
        tx.layup.append_entries([CONTRADICTS], EVE)  # from before there were such limits
        assert take_in(tx.layup, [record(CONTRADICTS)], library(), EVE).new_entries == 0
