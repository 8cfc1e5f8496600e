"""The words of a season record flatter nobody: what was not judged, answered or told is said."""

from dataclasses import replace
from datetime import timedelta
from itertools import pairwise
from xml.etree import ElementTree

import pytest

from monitor.reports.season.answers import season_messages
from monitor.reports.season.charts import nights_chart
from monitor.reports.season.figures import Kept, SeasonAlarm
from monitor.reports.season.page_blocks import Told, span_words
from monitor.reports.season.record_pages import record_pages
from monitor.reports.season.short_words import short_lines
from monitor.store.outbox_reports import MessageFate
from monitor.wording import Units, Wording
from monitor.yard.message import DeliveryOutcome, MessageKind
from monitor.yard.people import names_by_id
from monitor.yard.standing import Standing
from tests.craft.scene import library
from tests.reports.season import winter
from tests.reports.season.winter import ARRIVED, BARN, SHED, ZONE, figures_of, put_craft

UNTIL = ARRIVED + timedelta(days=40)
WORDS = Wording(zone=ZONE, units=Units(), people=names_by_id(winter.yard()))


@pytest.fixture
def store(tmp_path):
    made = winter.open_store(tmp_path)
    yield made
    made.close()


def pages_of(figures):
    return record_pages(figures, winter.yard(), library(), WORDS)


def said_in(pages):
    return [one for part in pages.parts for one in part.blocks if isinstance(one, str)]


def table_of(pages, begins):
    tables = (one for part in pages.parts for one in part.blocks if isinstance(one, Told))
    return next(one for one in tables if one.title.startswith(begins))


def test_nights_that_nobody_judged_are_told_wherever_no_alarm_is(store):
    put_craft(store)
    winter.put_readings(store, ARRIVED, UNTIL, lambda _: -6.0, step=timedelta(hours=1))
    figures = figures_of(store, now=UNTIL)
    nights = len(figures.nights)
    wanted = f"On {nights} nights no round judged it against frost: no frost alarm could come then."
    said = said_in(pages_of(figures))
    assert said.count(wanted) == 2
    assert said[said.index("No alarm was raised over it or its space.") + 1] == wanted
    assert wanted in list(short_lines(figures, winter.yard(), WORDS))
    judged = [replace(one, worst_standing=Standing.EXPOSED) for one in figures.nights]
    less = replace(figures, nights=(*judged[1:], figures.nights[0]))
    assert any(one.startswith("On 1 night no round") for one in said_in(pages_of(less)))
    whole = replace(figures, nights=tuple(judged))
    assert not any("no round" in one for one in said_in(pages_of(whole)))


def test_unheard_hours_stand_where_no_sensor_was_called_silent(store):
    put_craft(store)
    said = " ".join(said_in(pages_of(figures_of(store, now=UNTIL))))
    assert "The hours above went unheard all the same." in said


def test_nights_that_the_table_leaves_out_count_for_where_it_says_they_were(store):
    moved = ARRIVED + timedelta(days=10)
    put_craft(store, stays=[(BARN, ARRIVED), (SHED, moved)])
    winter.put_readings(store, ARRIVED, moved, lambda _: -1.0, space=BARN, step=timedelta(hours=1))
    winter.put_readings(store, moved, UNTIL, lambda _: -9.0, step=timedelta(hours=1))
    table = table_of(pages_of(figures_of(store, now=UNTIL)), "Nights that came near")
    assert table.left_out > 0
    assert {row[1] for row in table.rows} == {"Long Shed"}  # the coldest; the barn's are left out
    assert "all in" not in table.title


def test_an_alarm_that_came_again_does_not_stand_as_answered_each_time(store):
    put_craft(store)
    at = ARRIVED + timedelta(days=5)
    alarm = SeasonAlarm(
        id="a1", cause="frost", space=SHED, part="water-box", is_of_space=False, raised_at=at,
        answered_at=at + timedelta(hours=71), answered_by="ines", over_at=None, times_raised=3,
    )  # fmt: skip
    figures = replace(figures_of(store, now=UNTIL), alarms=(alarm,))
    [row] = table_of(pages_of(figures), "Alarms").rows
    assert row[0].endswith("and 2 times more")
    assert row[2].endswith("(the first)")
    assert row[3] == "2 d 23 h"


def test_no_wait_is_told_shorter_than_it_was():
    assert span_words(47 * 3600 + 59 * 60) == "47 h 59 min"
    assert span_words(4 * 86400) == "4 d 0 h"


def test_it_names_the_clock_and_whether_the_craft_stayed(store):
    put_craft(store)
    facts = dict(pages_of(figures_of(store, now=UNTIL)).facts)
    assert "America/Chicago" in facts["Times"]
    assert facts["In the yard's care"].endswith("still here then")


@pytest.mark.parametrize(
    ("name", "other", "subject", "is_own"),
    [
        ("King", "Kingfisher", "Kingfisher: drain it now", False),
        ("Kingfisher", "King", "Kingfisher: drain it now", True),
        ("King", "Kingfisher", "King, Kingfisher: drain them now", False),
        ("King", "Tern", "King: drain it now", True),
    ],
)
def test_a_subject_of_another_craft_is_told_apart_by_its_whole_name(name, other, subject, is_own):
    stay = Kept(space=SHED, berth="1", since=ARRIVED, until=UNTIL, by="ines")
    fate = MessageFate(
        at=ARRIVED + timedelta(days=1), person="wren", channel="mail", kind=MessageKind.ALARM,
        subject=subject, outcome=DeliveryOutcome.TAKEN, taken_at=None, tries=1,
    )  # fmt: skip
    [found] = season_messages([fate], [stay], name, [other])
    assert found.subject == (subject if is_own else "")


@pytest.mark.parametrize("days", range(200, 260, 5))
def test_no_month_stands_on_another_in_the_chart(store, days):
    put_craft(store)
    end = ARRIVED + timedelta(days=days)
    svg = nights_chart(figures_of(store, now=end).nights, WORDS)
    spans = []
    for one in ElementTree.fromstring(svg).iter("{http://www.w3.org/2000/svg}text"):
        if one.text and one.text[:3].isalpha() and one.text[-4:].isdigit():
            x = float(one.get("x"))
            width = 36.0  # of eight letters of 8.5 pt; measured in a printed record
            spans.append((x - width, x) if one.get("text-anchor") == "end" else (x, x + width))
    assert len(spans) >= 4
    spans.sort()
    assert all(first[1] <= then[0] for first, then in pairwise(spans))
    assert spans[-1][1] <= 500.0  # the chart's width
