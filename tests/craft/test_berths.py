"""Craft in one berth at one time are found; craft that followed each other there are not."""

from dataclasses import replace
from datetime import timedelta

from hypothesis import given
from hypothesis import strategies as st

from monitor.craft.berths import shared_berths
from monitor.craft.craft_stays import Stay
from tests.craft.scene import ARRIVED, record

DAY = timedelta(days=1)


def stood(craft: str, *places: tuple[int, str], left: int | None = None):
    """A craft that came to each place (space/berth) on that day."""
    stays = tuple(
        Stay(
            craft=craft,
            since=ARRIVED + day * DAY,
            space=place.partition("/")[0],
            berth=place.partition("/")[2],
        )
        for day, place in places
    )
    gone = None if left is None else ARRIVED + left * DAY
    return replace(record(id=craft, name=craft.upper(), left_at=gone), stays=stays)


def at(day: float, *records):
    return shared_berths(records, ARRIVED + day * DAY)


def test_two_in_one_berth_are_found_with_the_time_of_the_second():
    (found,) = at(9, stood("b", (5, "shed/1")), stood("a", (3, "shed/1")))
    assert (found.space, found.berth) == ("shed", "1")
    assert [craft.name for craft in found.craft] == ["A", "B"]
    assert found.since == ARRIVED + 5 * DAY


def test_who_moved_on_or_left_makes_room_from_that_moment_on():
    moved = stood("a", (0, "shed/1"), (5, "shed/2"))
    gone = stood("b", (0, "shed/3"), left=5)
    new = stood("c", (5, "shed/1")), stood("d", (5, "shed/3"))
    assert at(5, moved, gone, *new) == []
    assert at(9, moved, gone, *new) == []


def test_berths_of_one_name_in_two_spaces_and_no_berth_at_all_are_shared_by_nobody():
    assert at(1, stood("a", (0, "shed/1")), stood("b", (0, "row/1"))) == []
    assert at(1, stood("a", (0, "shed")), stood("b", (0, "shed"))) == []


@given(
    st.lists(
        st.lists(st.tuples(st.integers(0, 9), st.sampled_from(["x/1", "x/2", "y/1"])), max_size=4),
        max_size=6,
    ),
    st.integers(0, 10),
)
def test_no_craft_is_named_twice_and_every_one_of_them_stands_there(moves, day):
    records = [stood(f"c{n}", *dict(of_one).items()) for n, of_one in enumerate(moves)]
    named = [craft.id for one in at(day, *records) for craft in one.craft]
    assert len(named) == len(set(named))
    last = {}
    for one in records:
        begun = [stay for stay in one.stays if stay.since <= ARRIVED + day * DAY]
        if begun:
            latest = max(begun, key=lambda stay: stay.since)
            last.setdefault((latest.space, latest.berth), []).append(one.craft.id)
    assert sorted(named) == sorted(id for ids in last.values() if len(ids) > 1 for id in ids)
