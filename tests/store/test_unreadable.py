"""One craft whose record cannot be read: it counts as unprotected and says so; others go on."""

from dataclasses import replace

import pytest
from sqlalchemy import create_engine, text

from monitor.craft.craft_condition import UnsettledKind
from monitor.craft.protection import LayupState
from monitor.craft.record import stored_craft
from monitor.errors import RecordError
from monitor.store.entering import enter
from monitor.store.taking_in import take_in
from tests.craft.scene import EVE, SHELTERS, library, record, twelve, work

DRY = work("drained", 0, "water-box", id="box", dry=True)


@pytest.fixture
def spoil(store, url):
    """The twelve on record, and one statement over the tables behind the store's back."""
    with store.transaction() as tx:
        take_in(tx.layup, twelve().values(), library(), EVE)

    def run(statement: str) -> None:
        engine = create_engine(url)
        with engine.begin() as connection:
            connection.execute(text(statement))
        engine.dispose()

    return run


SPOILT = {
    "of a type that nobody knows": ("UPDATE craft SET profile = 'none' WHERE", "no profile of"),
    "with a fitting gone": (
        "UPDATE craft SET profile = 'outboard', fittings = '[]' WHERE",
        "names",
    ),
    "with a row that is no list": ("UPDATE craft SET fittings = '[' WHERE", "its row in the table"),
    "left before it came": ("UPDATE craft SET left_ms = 1 WHERE", "its row in the table"),
    "with an entry that is no JSON": (
        "UPDATE layup_entries SET body = substr(body, 3) WHERE",
        "its entry",
    ),
    "with an act of a later laidup": (
        'UPDATE layup_entries SET body = replace(body, \'"act":"\', \'"act":"x-\') WHERE',
        "its entry",
    ),
}


@pytest.mark.parametrize(("statement", "words"), SPOILT.values(), ids=SPOILT)
def test_a_craft_that_cannot_be_read_is_unprotected_and_the_others_are_as_before(
    store, spoil, statement, words
):
    spoil(f"{statement} craft_id = 'k1'")
    with store.snapshot() as tx:
        records = {one.craft.id: one for one in tx.layup.all_records(library())}
    assert list(records) == list(twelve())
    for key, one in records.items():
        found = stored_craft(one, SHELTERS, EVE)
        if key != "k1":
            assert found == stored_craft(twelve()[key], SHELTERS, EVE)
            continue
        assert words in found.unreadable
        assert {held.state for held in found.protection.values()} == {LayupState.UNKNOWN}
        assert [each.kind for each in found.unsettled] == [UnsettledKind.UNREADABLE]
        assert found.space == "long-shed"  # it is judged where it stands


@pytest.mark.usefixtures("spoil")
def test_work_that_does_not_fit_can_be_withdrawn_and_the_craft_counts_again(store):
    with store.transaction() as tx:
        # Written as laidup writes, so that its chain holds: only the work does not fit.
        tx.layup.put_craft([replace(tx.layup.craft_by_id("k1"), profile="outboard")], EVE)
    with store.snapshot() as tx:
        teal = tx.layup.record_of("k1", library())
    known = set(library()["outboard"].circuit_ids)
    odd = [one for one in teal.set_aside if set(one.circuits) - known]
    assert odd
    withdrawn = [
        work("withdrawn", 24 + n, replaces=one.id, id=f"gone-{n}") for n, one in enumerate(odd)
    ]
    with store.transaction() as tx:
        enter(tx.layup, withdrawn, library(), EVE, "test")
    with store.snapshot() as tx:
        assert tx.layup.record_of("k1", library()).unreadable == ""


def test_work_on_a_craft_of_no_known_type_is_refused_with_what_to_mend(store, spoil):
    spoil("UPDATE craft SET profile = 'none' WHERE craft_id = 'k1'")
    with pytest.raises(RecordError, match=r"none\.toml back"), store.transaction() as tx:
        enter(tx.layup, [DRY], library(), EVE, "test")


def test_a_record_that_cannot_be_added_up_counts_for_nothing():
    dry = work("drained", 1, "hoses", dry=True)
    found = stored_craft(record(dry, work("drained", 0, "boiler", dry=True)), SHELTERS, EVE)
    assert "boiler" in found.unreadable
    assert {held.state for held in found.protection.values()} == {LayupState.UNKNOWN}
