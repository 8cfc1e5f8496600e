"""A past night as it was seen then: what was said, how craft stood, what judged it."""

from datetime import date, timedelta

import pytest
from bs4 import BeautifulSoup

from monitor.craft.layup import Act, Evidence, LayupEntry
from monitor.phrases.past_night import came_to, origin_lines
from monitor.phrases.standings import is_worse
from monitor.store.entering import enter
from monitor.web.pages.history import NightScope, read_history_page
from monitor.wording import Units, Wording
from monitor.yard.assessment import Hazard, Origin, Standing
from monitor.yard.forecast import SaidNight
from tests.web.pages.looks import check_axe, check_fits, opened, reads_without_scripts
from tests.web.played_night import EVENING

FRIDAY = date(2026, 11, 13)


def page_of(played, evening=FRIDAY, **only):
    return read_history_page(
        played.store, played.settings.yard, played.settings.profiles, evening,
        played.clock.now(), scope=NightScope(**only),
    )  # fmt: skip


def soup(client, path):
    answer = client.get(path)
    assert answer.status_code == 200
    return BeautifulSoup(answer.text, "html.parser")


def said(low_c, cold_c=-4.0, warm_c=-1.0):
    return SaidNight(
        space="shed", evening=FRIDAY, said_at=EVENING, air_c=1.0, cold_c=cold_c, expected_c=-2.0,
        warm_c=warm_c, below_zero=0.9, low_c=low_c,
    )  # fmt: skip


def test_what_was_said_that_evening_is_shown_with_what_it_came_to(evening):
    page = page_of(evening)
    with evening.store.snapshot() as tx:
        kept = {one.space: one for one in tx.said_nights.nights_since(FRIDAY)
                if one.evening == FRIDAY}  # fmt: skip
    assert kept
    assert {row.space.id: row.said for row in page.spaces if row.said} == kept
    assert page.seen_at == max(one.said_at for one in kept.values())


@pytest.mark.parametrize(
    ("low_c", "words"),
    [(None, "not known"), (-5.0, "colder than the range"), (0.0, "milder"), (-2.0, "within")],
)
def test_a_night_is_held_against_its_range(low_c, words):
    assert words in came_to(said(low_c), Wording(units=Units()))


def test_it_shows_that_hour_and_not_what_came_later(evening):
    # By the next evening Pintail's port engine holds ice; on Friday evening nothing was frozen.
    now = page_of(evening, FRIDAY + timedelta(days=1))
    assert any(row.do_not_start for row in now.craft)
    then = page_of(evening)
    assert not any(row.do_not_start for row in then.craft)
    for row in (*then.craft, *then.well):
        assert all(a.at <= then.seen_at for a in row.circuits)


def test_a_craft_alone_and_a_space_alone(evening):
    page = page_of(evening, craft="k5")
    assert [row.craft.id for row in (*page.craft, *page.well)] == ["k5"]
    assert [row.space.id for row in page.spaces] == ["lee-rack"]
    assert {one.first.subject.craft for one in page.changes} <= {"k5", ""}
    page = page_of(evening, space="long-shed")
    assert {row.craft.space for row in (*page.craft, *page.well)} == {"long-shed"}


def test_work_that_was_entered_later_is_not_taken_for_known_then(own_evening):
    before = page_of(own_evening, craft="k8")
    entry = LayupEntry(
        id="n1", craft="k8", at=EVENING - timedelta(hours=2), by="mechanic", act=Act.DRAINED,
        circuits=("block",), evidence=Evidence(dry=True),
    )  # fmt: skip
    with own_evening.store.transaction() as tx:
        enter(tx.layup, [entry], own_evening.settings.profiles, EVENING, "test")
    after = page_of(own_evening, craft="k8")
    told = [
        [(a.subject, a.standing, a.at) for row in (*page.craft, *page.well) for a in row.circuits]
        for page in (before, after)
    ]
    assert told[0] == told[1] != []


def test_it_says_what_judged(browse):
    page = soup(browse, f"/history/{FRIDAY}")
    made = page.select_one("#made").find_next("ul").text
    assert "laidup " in made
    assert "yard's file " in made
    lines = origin_lines([Origin(), Origin(program="0.1", settings="a" * 64), Origin()])
    assert lines == [
        "a program that kept no name, yard's file not kept",
        "laidup 0.1, yard's file aaaaaaaaaaaa",
    ]


@pytest.mark.parametrize(
    "path",
    ["2026-11-16", "2036-01-01", "soon", "2026-11-13?craft=none", "2026-11-13?space=none",
     "2026-11-13?craft=<b>"],
)  # fmt: skip
def test_nights_to_come_and_unknown_ids_are_not_there(browse, path):
    assert browse.get(f"/history/{path}").status_code in {404, 422}


def test_a_night_before_all_readings_says_that_nothing_is_known(browse):
    page = soup(browse, "/history/2026-11-05")
    assert "Nothing was judged by then" in page.text
    assert "Safe tonight" not in page.text.replace("Safe tonight: no water is left", "")


def test_nights_follow_on_each_other_and_keep_to_their_craft(browse):
    page = soup(browse, f"/history/{FRIDAY}?craft=k5")
    links = [each["href"] for each in page.select("nav a")]
    assert links == ["2026-11-12?craft=k5", "2026-11-14?craft=k5", "2026-11-13"]


def test_a_craft_that_moved_on_is_shown_where_it_stood(evening):
    for row in page_of(evening).craft:
        assert all(a.standing in set(Standing) for a in row.circuits)
        assert all(a.subject.space == row.craft.space for a in row.circuits if a.subject.part)


def test_it_fits_can_be_hit_and_axe_finds_nothing(address, chromium):
    check_fits(chromium, f"{address}history/2026-11-14")
    check_axe(chromium, f"{address}history/2026-11-14")
    text = reads_without_scripts(chromium, f"{address}history/2026-11-13")
    assert "What was said of the night" in text


def test_a_night_s_changes_are_told_by_craft_with_what_it_came_to_and_none_is_lost(evening):
    page = page_of(evening)
    places = [(c.first.subject.craft, c.first.subject.space) for c in page.changes]
    craft = [where for where, _ in places if where]
    assert len(craft) == len(set(craft))
    with evening.store.snapshot() as tx:
        kept = tx.assessments.changes_between(
            page.seen_at + timedelta(milliseconds=1), page.ends_at
        )
    told = [each for each in kept if each.hazard in {Hazard.FROST, Hazard.BATTERY, Hazard.AIR}]
    assert sum(len(one.changes) for one in page.changes) == len(told)
    assert any(len(one.changes) > 1 for one in page.changes)
    for one in page.changes:
        assert all(not is_worse(each, one.worst) for each in one.changes)
        assert one.changes[-1].at >= one.worst.at


def test_the_first_night_is_read_in_less_than_five_screens_of_a_phone(address, chromium):
    page, _ = opened(chromium, f"{address}history/2026-11-13")
    assert page.evaluate("document.documentElement.scrollHeight") < 4000
    page.close()
