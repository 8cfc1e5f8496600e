"""Of the orders that days without hours leave open, the worst counts, circuit by circuit."""

from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.craft.layup import Act, Outflow
from monitor.craft.protection import Basis, LayupState
from monitor.craft.reasons import Because
from monitor.craft.record import protections_on_record
from monitor.craft.sittings import in_order_of_work, possible_orders
from tests.craft.scene import NOON, SHELTERS, STRONG, record, work
from tests.craft.test_less_never_more import (
    EACH,
    FEW,
    LATER,
    account,
    assert_no_better,
    records,
)

MIDNIGHT = NOON - timedelta(hours=12)
SEEN = {"product": STRONG, "quantity_l": 6.0, "outflow": Outflow.FULL_COLOUR, "ice_point_c": -30.0}


def on_day(entry, by, days=0):
    began = MIDNIGHT + timedelta(days=days)
    return replace(entry, by=by, at=began + timedelta(hours=12), day_began=began)


def counted(*lists, profile="pwc-two-stroke"):
    """What holds where each list was written a day after the one before it."""
    rows = [entry for told in lists for entry in told]
    written = [NOON + timedelta(days=40 + n) for n, told in enumerate(lists) for _ in told]
    whole = record(*in_order_of_work(rows, written), profile=profile)
    return protections_on_record(
        replace(whole, orders=possible_orders(rows, written)), SHELTERS, LATER
    )


def run_and_fill(by, circuit):
    run, fill = (
        work("run-on-water", 0, id=f"{by}-run"),
        work("antifreeze-poured", 0, circuit, **SEEN),
    )
    return [on_day(run, by), on_day(replace(fill, id=f"{by}-fill"), by)]


@pytest.mark.parametrize("ines_first", [True, False])
def test_two_lists_that_each_run_and_then_fill_may_each_have_undone_the_other(ines_first):
    lists = [run_and_fill("Ines", "water-box"), run_and_fill("Tom", "hoses")]
    found = counted(*(lists if ines_first else lists[::-1]))
    assert found["water-box"].state is LayupState.VOID
    assert found["hoses"].state is LayupState.VOID
    assert found["hoses"].reasons[-1].because is Because.ORDER_NOT_TOLD
    assert "nobody knows in which order" in found["hoses"].why


def test_a_second_day_tells_what_held_at_the_end_of_the_first():
    again = [
        on_day(replace(one, id=f"{one.id}-2"), one.by, 1) for one in run_and_fill("Tom", "hoses")
    ]
    found = counted(run_and_fill("Ines", "water-box"), run_and_fill("Tom", "hoses"), again)
    assert found["hoses"].state is LayupState.PROVEN
    assert found["water-box"].state is LayupState.VOID


@pytest.mark.parametrize("poured_first", [True, False])
def test_of_a_pour_and_a_drain_by_two_people_the_one_that_holds_less_counts(poured_first):
    pour = [on_day(work("antifreeze-poured", 0, "hoses", id="pour", **SEEN), "Ines")]
    drain = [on_day(work("drained", 0, "hoses", id="drain", dry=True), "Tom")]
    one = counted(*((pour, drain) if poured_first else (drain, pour)))["hoses"]
    assert (one.state, one.basis, one.ice_point_c) == (LayupState.PROVEN, Basis.MEASURED, -30.0)
    alone = counted(drain)["hoses"]
    assert alone.basis is Basis.DRAINED
    assert "nobody knows in which order" not in alone.why


def test_one_list_and_hours_that_are_told_leave_no_order_open():
    told = [*run_and_fill("Ines", "water-box"), *run_and_fill("Tom", "hoses")]
    assert possible_orders(told, [NOON] * 4) == ()
    at_hours = [
        replace(one, at=one.at + timedelta(hours=n), day_began=None) for n, one in enumerate(told)
    ]
    assert possible_orders(at_hours, [NOON, NOON, LATER, LATER]) == ()


@pytest.mark.parametrize(("sittings", "days"), [(2, 1), (2, 2), (3, 1), (3, 4), (6, 1), (9, 9)])
def test_few_orders_are_tried_however_many_write(sittings, days):
    rows = [
        on_day(work("run-on-water", 0, id=f"{day}-{n}"), f"p{n}", day)
        for day in range(days)
        for n in range(sittings)
    ]
    found = possible_orders(rows, [NOON + timedelta(days=n) for n in range(len(rows))])
    assert 2 <= len(found) <= 24
    assert len(set(found)) == len(found)
    assert all(sorted(one) == sorted(row.id for row in rows) for one in found)


def two_days_of(data, done):
    """Work of one day without hours, parted between two people."""
    of_tom = data.draw(st.lists(st.booleans(), min_size=len(done), max_size=len(done)))
    ines = [on_day(one, "Ines") for one, tom in zip(done, of_tom, strict=True) if not tom]
    tom = [on_day(one, "Tom") for one, is_tom in zip(done, of_tom, strict=True) if is_tom]
    return ines, tom


@FEW
@given(records(), st.data())
def test_the_order_of_writing_between_two_peoples_days_never_raises_what_is_held(drawn, data):
    profile, done, _ = drawn
    ines, tom = two_days_of(data, done)
    assert counted(ines, tom, profile=profile) == counted(tom, ines, profile=profile)


@EACH
@given(records(), st.permutations(range(4)), st.data())
def test_nor_does_that_between_four_people(drawn, turns, data):
    profile, done, _ = drawn
    whose = data.draw(st.lists(st.integers(0, 3), min_size=len(done), max_size=len(done)))
    lists = [
        [on_day(one, f"p{n}") for one, who in zip(done, whose, strict=True) if who == n]
        for n in range(4)
    ]
    turned = [lists[n] for n in turns]
    assert counted(*lists, profile=profile) == counted(*turned, profile=profile)


@FEW
@given(records(), st.data())
def test_two_peoples_days_hold_no_more_than_either_whole_behind_the_other(drawn, data):
    profile, done, _ = drawn
    done = [one for one in done if one.act not in {Act.KEPT_WARM}]
    ines, tom = two_days_of(data, done)
    found = counted(ines, tom, profile=profile)
    for told in ([*ines, *tom], [*tom, *ines]):
        assert_no_better(found, account(profile, told))
