"""Work of one date: in the order in which one list tells it, and else with what undoes it last."""

from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.craft.layup import Liquid, OilAppearance, Outflow
from monitor.craft.protection import LayupState
from monitor.craft.sittings import in_order_of_work
from monitor.craft.work_order import undoes_work
from tests.craft.scene import NOON, STRONG, TWO_STROKE, held, record, work
from tests.craft.test_less_never_more import FEW, account, assert_no_better, records

SEEN = {"product": STRONG, "quantity_l": 6.0, "outflow": Outflow.FULL_COLOUR}
READ = {"ice_point_c": -30.0, "scale": Liquid.PROPYLENE, "zeroed_on": NOON.date()}
RUN = work("fuel-run-through", 0, id="run")
DRAIN = work("drained", 0, *TWO_STROKE, id="drain")
FILL = work("antifreeze-run-through", 0, *TWO_STROKE, id="fill", **SEEN, **READ)
NEXT_WEEK = NOON + timedelta(days=7)


def box(*entries):
    return held(record(*entries))["water-box"]


def test_a_days_job_told_in_its_order_with_one_date_ends_proven():
    assert box(work("fuel-stabilised", 0), RUN, DRAIN, FILL).ice_point_c == -30.0


@pytest.mark.parametrize(
    "undone",
    [
        RUN,
        work("run-on-water", 0, id="u"),
        work("circuit-opened", 0, "water-box", id="u"),
        work("port-left-open", 0, "water-box", id="u"),
        work("commissioned", 0, id="u"),
    ],
    ids=lambda one: str(one.act),
)
def test_what_a_list_tells_after_the_antifreeze_undoes_it_though_it_has_the_same_date(undone):
    assert box(FILL, undone).state is LayupState.VOID
    assert box(undone, FILL).state is LayupState.PROVEN


def test_of_two_lists_with_one_date_the_one_that_undoes_counts_last():
    for first, second in ((FILL, RUN), (RUN, FILL)):
        told = in_order_of_work([first, second], [NOON, NEXT_WEEK])
        assert [one.id for one in told] == ["fill", "run"]
    same_day = in_order_of_work([RUN, DRAIN, FILL], [NOON, NOON, NOON + timedelta(hours=3)])
    assert [one.id for one in same_day] == ["run", "drain", "fill"]
    unknown = in_order_of_work([RUN, FILL], [None, None])
    assert [one.id for one in unknown] == ["fill", "run"]


def test_work_of_other_times_keeps_its_place_in_the_writing():
    later = replace(FILL, id="later", at=FILL.at + timedelta(hours=1))
    told = in_order_of_work([RUN, later, FILL], [NOON, NOON, NEXT_WEEK])
    assert [one.id for one in told] == ["fill", "later", "run"]


def test_a_correction_puts_no_work_behind_what_was_told_after_it():
    corrected = replace(FILL, id="right", replaces="fill", quantity_l=8.0)
    assert box(FILL, RUN, corrected).state is LayupState.VOID
    twice = replace(corrected, id="again", replaces="right")
    assert box(FILL, RUN, corrected, twice).state is LayupState.VOID
    assert box(RUN, FILL, replace(RUN, id="r2", replaces="run")).state is LayupState.PROVEN


@pytest.mark.parametrize(
    ("act", "circuit", "good", "doubt"),
    [
        ("oil-changed", "pump-housing", {"oil": OilAppearance.CLEAR}, {"oil": OilAppearance.MILKY}),
        ("inspected", "pump-housing", {"oil": OilAppearance.CLEAR}, {"oil": OilAppearance.WATER}),
        ("drained", "hoses", {"dry": True}, {"dry": False}),
    ],
)
def test_of_two_words_on_one_look_the_doubt_counts_in_either_order(act, circuit, good, doubt):
    one, other = work(act, 0, circuit, **good), work(act, 0, circuit, **doubt)
    assert held(record(one))[circuit].state is LayupState.PROVEN
    for told in ((one, other), (other, one)):
        assert held(record(*told))[circuit].state is LayupState.UNPROVEN
    looked_again = replace(one, at=one.at + timedelta(minutes=5))
    assert held(record(other, looked_again))[circuit].state is LayupState.PROVEN


@FEW
@given(records())
def test_a_list_with_one_date_is_judged_as_if_each_row_had_its_minute(drawn):
    profile, done, _ = drawn
    if len({(one.act, frozenset(one.circuits)) for one in done}) < len(done):
        return  # two words on one look
    one_date = [replace(one, at=NOON) for one in done]
    in_turn = [replace(one, at=NOON + timedelta(minutes=n)) for n, one in enumerate(done)]
    less, more = account(profile, one_date), account(profile, in_turn)
    assert_no_better(less, more)
    assert_no_better(more, less)


@FEW
@given(records(), st.data())
def test_of_sittings_with_one_date_an_undoing_act_is_never_better_than_told_last(drawn, data):
    profile, done, _ = drawn
    rows = data.draw(st.permutations([replace(one, at=NOON) for one in done]))
    apart = [NOON + timedelta(days=n) for n in range(len(rows))]
    arranged = in_order_of_work(rows, apart)
    undoing = [one for one in rows if undoes_work(one)]
    told_last = [one for one in rows if not undoes_work(one)] + undoing
    assert_no_better(account(profile, list(arranged)), account(profile, told_last))


def test_single_entries_of_two_people_count_in_the_worse_order_and_of_one_as_written():
    by_other = replace(RUN, by="Tom Varga")
    hours = [NOON, NOON + timedelta(hours=1)]
    for told in ([by_other, FILL], [FILL, by_other]):
        assert box(*in_order_of_work(told, hours)).state is LayupState.VOID
    assert box(*in_order_of_work([RUN, FILL], hours)).state is LayupState.PROVEN
    # One person wrote both down, whoever did the work.
    run, fill = (replace(one, entered_by="Ines Aldaz") for one in (by_other, FILL))
    assert box(*in_order_of_work([run, fill], hours)).state is LayupState.PROVEN
    # They stand in one list.
    assert box(*in_order_of_work([by_other, FILL], [NOON, NOON])).state is LayupState.PROVEN


@pytest.mark.parametrize("swapped", [False, True])
def test_of_two_lists_that_both_end_undoing_neither_saves_the_others_work(swapped):
    box_fill = replace(FILL, id="box", circuits=("water-box",))
    torn, off = work("cover-torn", 0, id="torn"), work("cover-off", 0, id="off")
    lists = [[box_fill, torn], [replace(RUN, by="Tom Varga"), off]]
    if swapped:
        lists.reverse()
    rows = [one for each in lists for one in each]
    told = in_order_of_work(rows, [NOON, NOON, NEXT_WEEK, NEXT_WEEK])
    assert box(*told).state is LayupState.VOID


def test_work_behind_a_lists_own_run_stands_where_no_other_list_undoes_it():
    lists = [[RUN, FILL], [work("cover-torn", 0, id="torn")]]
    rows = [one for each in lists for one in each]
    assert box(*in_order_of_work(rows, [NOON, NOON, NEXT_WEEK])).state is LayupState.PROVEN


@FEW
@given(records(), st.data())
def test_two_lists_of_one_date_hold_no_more_than_told_one_after_the_other(drawn, data):
    profile, done, _ = drawn
    rows = [replace(one, at=NOON) for one in done]
    cut = data.draw(st.integers(0, len(rows)))

    def with_undoing_last(several):
        return sorted(several, key=undoes_work)

    first, second = with_undoing_last(rows[:cut]), with_undoing_last(rows[cut:])
    times = [NOON] * len(first) + [NEXT_WEEK] * len(second)
    arranged = in_order_of_work([*first, *second], times)
    for each in (first, second):
        kept = [one for one in arranged if one in each]
        assert kept == each  # a list keeps its order
    # How surely may rest on whichever reading came first; of all orders the worst counts later.
    told = account(profile, [*first, *second])
    assert_no_better(account(profile, list(arranged)), told, sure=False)
