"""A craft's page over a real store: what is left to do, what it holds, its record."""

import re
from dataclasses import replace
from datetime import timedelta

import pytest
from bs4 import BeautifulSoup
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from monitor.craft.layup import Act, Evidence, LayupEntry
from monitor.phrases.judgements import act_text
from monitor.phrases.names import plain
from monitor.reports.craft_nights import read_craft_course, weakest_circuit
from monitor.settings.load import load_settings
from monitor.store.entering import enter
from monitor.store.migrate import migrate
from monitor.store.store import Store
from monitor.store.taking_in import take_in
from monitor.web.pages.craft import read_craft_page, steps_of_text
from monitor.yard.assessment import Hazard
from monitor.yard.space import STAFF
from tests.commands.yard_files import copied_yard
from tests.web.pages.conftest import EMOJI, NASTY, RIGHT_TO_LEFT, app_of
from tests.web.pages.looks import check_axe, check_fits, opened, reads_without_scripts
from tests.web.played_night import EVENING, play_night


def page_of(played, craft):
    return read_craft_page(
        played.store, played.settings.yard, played.settings.profiles, craft, played.clock.now()
    )


def drained(entry_id, note):
    return LayupEntry(
        id=entry_id, craft="k8", at=EVENING - timedelta(hours=3), by="mechanic", act=Act.DRAINED,
        circuits=("block",), evidence=Evidence(dry=True), note=note,
    )  # fmt: skip


def soup(client, path):
    answer = client.get(path)
    assert answer.status_code == 200
    return BeautifulSoup(answer.text, "html.parser")


def test_every_craft_has_a_page_with_all_its_circuits(evening, browse):
    for craft in evening.craft.read_now():
        page = soup(browse, f"/craft/{craft.id}")
        assert page.h1.text == craft.name
        shown = {each.text.split("  ")[0].strip() for each in page.select(".circuits h3")}
        assert len(page.select(".circuits h3")) == len(craft.circuits)
        assert all(any(plain(c.name) in each for each in shown) for c in craft.circuits)


def test_work_stands_before_the_circuits_and_they_before_the_record(browse):
    order = [each["id"] for each in soup(browse, "/craft/k8").select("h2[id]")]
    wanted = ["tonight", "todo", "holds", "nights", "record", "battery", "told"]
    assert [each for each in order if each in wanted] == wanted


def test_where_it_stood_is_told_apart_once_it_has_been_moved(evening, browse):
    for craft in evening.craft.read_now():
        stays = page_of(evening, craft.id).stays
        told = soup(browse, f"/craft/{craft.id}").select("#stood")
        assert len(told) == (len(stays) > 1 or bool(stays[0].by))


def test_tonight_s_part_is_what_the_letters_ask_for_and_stands_before_the_winter_s_job(evening):
    page = page_of(evening, "k8")
    asked = act_text(page.tonights_act, page.names, page.wording)
    with evening.store.snapshot() as tx:
        (judged,) = [
            a for a in tx.assessments.latest_in(["long-shed"], "k8")
            if a.subject.part == "block" and a.hazard is Hazard.FROST
        ]  # fmt: skip
    assert asked == act_text(judged, page.names, page.wording)
    assert page_of(evening, "k1").tonights_act is None


def test_each_step_s_cautions_stand_beside_it(browse):
    steps = soup(browse, "/craft/k8").select(".steps > li")
    poured = [each for each in steps if "antifreeze" in each.text or "glycol" in each.text]
    assert poured
    for each in poured:
        assert "Catch what runs out: poison." in each.select_one(".care").text


def test_one_or_two_circuits_in_need_stand_open_and_those_that_hold_alike_share_a_line(
    evening, browse
):
    for craft in evening.craft.read_now():
        read = page_of(evening, craft.id)
        in_need = sum(not row.holds for row in read.circuits)
        holding = sum(alike.first.holds for alike in read.alike)
        page = soup(browse, f"/craft/{craft.id}")
        lines = page.select(".circuits details.line")
        assert len(lines) == holding + (in_need if in_need > 2 else 0)
        for line in lines:
            assert line.find_parent("li").select_one(".held .standing") is not None


def test_what_is_alike_is_said_once(evening, browse):
    for craft in evening.craft.read_now():
        groups = soup(browse, f"/craft/{craft.id}").select(".circuits .held")
        held = [each.get_text(" ", strip=True) for each in groups]
        assert len(held) == len(set(held))


def test_an_act_of_many_parts_is_a_list_and_loses_none():
    assert steps_of_text("Charge the battery.") == ("Charge the battery.",)
    said = "Before 20:22, thaw it, look for leaks; then drain the tank; probe every drain."
    assert steps_of_text(said) == (
        "Before 20:22, thaw it, look for leaks.", "Drain the tank.", "Probe every drain.",
    )  # fmt: skip


def test_a_craft_with_many_circuits_in_need_is_read_in_little_more_than_four_screens(
    evening, address, chromium
):
    most = max(evening.craft.read_now(), key=lambda craft: len(craft.circuits))
    assert len(most.circuits) >= 10
    page, _ = opened(chromium, f"{address}craft/{most.id}")
    assert page.evaluate("document.documentElement.scrollHeight") < 3700
    page.close()


def test_a_craft_leads_to_its_last_night(browse):
    path = soup(browse, "/craft/k5").find("a", string=re.compile("last night"))["href"]
    assert path.endswith("?craft=k5")
    assert browse.get(f"/craft/{path}").status_code == 200


def test_do_not_start_is_never_folded(evening, browse):
    iced = [
        craft.id for craft in evening.craft.read_now() if page_of(evening, craft.id).do_not_start
    ]
    assert "k5" in iced  # its port engine was never laid up: the story's ice
    for craft in iced:
        warning = soup(browse, f"/craft/{craft}").find(string=re.compile("Do not start it: there"))
        assert warning is not None
        assert warning.find_parent("details") is None


def test_each_alarm_says_who_of_the_yard_was_written_to(evening, browse):
    with evening.store.snapshot() as tx:
        written = [one for one, _ in tx.outbox.newest_messages(1000)]
    staff = {one.id: one.name for one in evening.settings.yard.people if one.roles & STAFF}
    # Read from the letters' own words: who was written to about Heron, whatever the tables say.
    wanted = {
        (staff[one.person], one.channel)
        for one in written
        if one.person in staff and one.role and "Heron" in f"{one.subject} {one.text}"
    }
    assert wanted
    lines = [one.text for one in soup(browse, "/craft/k8").select("#told ~ * li > ul > li")]
    for name, channel in wanted:
        said = [one for one in lines if name in one and f"by {channel}:" in one]
        assert said, (name, channel)
    owner = next(one for one in evening.settings.yard.people if one.id == "owner-k08")
    assert not any(owner.name in one for one in lines)
    assert not any("@" in one for one in lines)


def test_a_page_reads_the_rows_of_its_own_craft_alone(evening):
    page = page_of(evening, "k8")
    judged = [row.seen for row in page.circuits] + [page.picture.battery]
    assert {seen.subject.craft for seen in judged} == {"k8"}
    assert {told.alarm.craft for told in page.alarms} <= {"k8"}
    with evening.store.snapshot() as tx:
        frost = [
            one for one in tx.assessments.latest_judgements()
            if one.subject.craft == "k8" and one.hazard is Hazard.FROST
        ]  # fmt: skip
    assert {row.seen.subject.part: row.seen for row in page.circuits} == {
        one.subject.part: one for one in frost
    }


def test_a_correction_stands_under_what_it_corrects_which_stays_readable(own_evening):
    said = drained("n1", "probed all six")
    better = replace(said, id="n2", replaces="n1", evidence=Evidence(dry=False), note="one drips")
    with own_evening.store.transaction() as tx:
        for entry in (said, better):
            enter(tx.layup, [entry], own_evening.settings.profiles, EVENING, "test")
    with TestClient(app_of(own_evening), base_url="http://127.0.0.1") as client:
        (told,) = [
            each for each in soup(client, "/craft/k8").select(".record > li")
            if "probed all six" in each.text
        ]  # fmt: skip
    first, second = told.select(".version")
    assert "probed all six" in first.find("del").text
    assert "one drips" in second.text
    assert second.find("del") is None
    assert "Corrected by Tom Varga" in second.text


def test_what_was_taken_back_is_named_and_struck(own_evening):
    said = drained("n1", "wrong craft")
    gone = LayupEntry(
        id="n2", craft="k8", at=said.at, by="operator", act=Act.WITHDRAWN, replaces="n1"
    )
    with own_evening.store.transaction() as tx:
        for entry in (said, gone):
            enter(tx.layup, [entry], own_evening.settings.profiles, EVENING, "test")
    with TestClient(app_of(own_evening), base_url="http://127.0.0.1") as client:
        page = soup(client, "/craft/k8")
    (told,) = [each for each in page.select(".record > li") if "wrong craft" in each.text]
    assert "Taken back by Ines Aldaz" in told.text
    assert "wrong craft" in told.find("del").text


def test_the_record_has_the_newest_first(evening):
    for craft in evening.craft.read_now():
        work = page_of(evening, craft.id).work
        places = [told.versions[-1].place for told in work]
        assert places == sorted(places, reverse=True)


def test_the_chart_holds_air_inside_limit_and_tonight_s_range(browse):
    page = soup(browse, "/craft/k2")
    said = page.select_one("[role=img]")["aria-label"]
    assert "air around it from" in said
    assert "inside: cylinder and head passages" in said
    assert "ice at 0" in said
    assert "most likely" in said
    for drawing in page.select("svg.chart"):
        assert drawing.select("path.air[d^=M]")
        assert drawing.select("path.limit")
        assert drawing.select("path.wedge")


def test_the_inside_of_a_circuit_follows_the_air_and_never_swings_wider(evening):
    # A first-order lag damps: what it follows bounds it, once its start is forgotten.
    with evening.store.snapshot() as tx:
        page = page_of(evening, "k2")
        course = read_craft_course(
            tx, evening.settings.yard, page.record.stays, weakest_circuit(page.picture.circuits),
            EVENING - timedelta(days=3), EVENING,
        )  # fmt: skip
    air = course.air_c[course.air_c == course.air_c]
    inside = course.inside_c[course.inside_c == course.inside_c]
    assert air.size > inside.size > 5
    assert air.min() - 1e-9 <= inside.min()
    assert inside.max() <= air.max() + 1e-9


@pytest.mark.parametrize("craft", ["none", "K8", "k99", "a%2Fb", "<b>", "k8%00"])
def test_unknown_ids_are_not_there(browse, craft):
    assert browse.get(f"/craft/{craft}").status_code in {404, 422}


def test_a_craft_that_left_keeps_its_record_and_is_not_judged(own_evening):
    gone = LayupEntry(id="n1", craft="k8", at=EVENING - timedelta(hours=1), by="operator",
                      act=Act.HANDED_OVER, note="trailered home")  # fmt: skip
    with own_evening.store.transaction() as tx:
        enter(tx.layup, [gone], own_evening.settings.profiles, EVENING, "test")
    with TestClient(app_of(own_evening), base_url="http://127.0.0.1") as client:
        page = soup(client, "/craft/k8")
    assert "is not in the yard now" in page.select_one("#lead").text
    assert page.select(".circuits") == []
    assert "trailered home" in page.select_one(".record").text


def test_before_any_reading_nobody_is_told_that_it_is_safe(tmp_path):
    yard_settings = load_settings(copied_yard(tmp_path))
    migrate(yard_settings.store_url)
    store = Store(yard_settings.store_url, yard_settings.yard.id)
    with store.transaction() as tx:
        take_in(tx.layup, yard_settings.craft, yard_settings.profiles, EVENING)
    page = read_craft_page(store, yard_settings.yard, yard_settings.profiles, "k8", EVENING)
    store.close()
    assert "Safe" not in page.tonight
    assert page.tonight.startswith("Nobody knows")
    assert page.chart is None


@pytest.mark.parametrize("name", [NASTY, RIGHT_TO_LEFT, EMOJI])
def test_odd_names_are_shown_as_text(tmp_path, name):
    played = play_night(tmp_path, {'name = "Heron"': f"name = '{name}'"})
    with TestClient(app_of(played), base_url="http://127.0.0.1") as client:
        page = soup(client, "/craft/k8")
    played.store.close()
    assert page.h1.text == plain(name)
    assert [each for each in page.select("script") if "alert" in each.text] == []


@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.integers(1, 12), st.integers(0, 60))
def test_an_hour_later_or_earlier_never_breaks_the_page(evening, number, hours):
    page = read_craft_page(
        evening.store, evening.settings.yard, evening.settings.profiles, f"k{number}",
        evening.clock.now() + timedelta(hours=hours - 30),
    )  # fmt: skip
    assert page is not None


@pytest.mark.parametrize("craft", ["k8", "k5"])
def test_it_fits_at_three_sizes_and_its_targets_can_be_hit(address, chromium, craft):
    check_fits(chromium, f"{address}craft/{craft}")


def test_axe_finds_nothing(address, chromium):
    check_axe(chromium, f"{address}craft/k5")


def test_without_scripts_everything_is_there(address, chromium):
    text = reads_without_scripts(chromium, f"{address}craft/k8")
    for part in ("What is left to do", "What it holds", "The nights", "The record"):
        assert part in text
    assert "Look closer" not in text


def test_a_reader_looks_closer_by_keyboard(address, chromium):
    page, said = opened(chromium, f"{address}craft/k8", (1280, 800))
    # The name of a figure is its caption (HTML-AAM 1.0): a button in it would be read as a part.
    assert "Look closer" not in page.locator("figure.night-chart figcaption").text_content()
    page.get_by_role("button", name="Look closer").focus()
    page.keyboard.press("Enter")
    page.locator(".closer canvas").wait_for()
    page.get_by_role("button", name="Tonight").press("Enter")
    page.get_by_role("button", name="All").press("Enter")
    assert said == []
