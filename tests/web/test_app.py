import json
import re
from base64 import b64encode
from dataclasses import replace
from datetime import timedelta
from hashlib import sha256
from urllib.parse import urljoin

import pytest
from bs4 import BeautifulSoup
from capvalidator import validate_cap_message
from fastapi.testclient import TestClient

from monitor.clock import ReadingsClock
from monitor.web.app import create_app
from monitor.yard.alarm_facts import FinishedLine
from monitor.yard.assessment import Hazard, Standing, WorkTurn
from tests.reports import kettlemoss as yard_of
from tests.written import written


def client(store, yard=None, craft=None, now=yard_of.KETTLEMOSS_NOW):
    kept = yard_of.craft() if craft is None else craft
    app = create_app(store, yard or yard_of.yard(), ReadingsClock(now), lambda: kept)
    return TestClient(app, raise_server_exceptions=True)


def page(store, **changes):
    answer = client(store, **changes).get("/")
    assert answer.status_code == 200
    return BeautifulSoup(answer.text, "html.parser")


def words(tag):
    text = " ".join(tag.get_text(" ").replace("\N{NO-BREAK SPACE}", " ").split())
    return re.sub(r" (?=[,.:;])", "", text)


def section(found, heading):
    return words(found.find(id=heading).parent)


def test_the_page_says_first_how_the_yard_stands(store):
    found = page(store)
    assert (
        words(found.find(id="lead")) == "9 of 12 craft need work tonight; first Osprey, by 18:15."
    )
    assert "coldest in Lee Rack: −15.0 °C about 07:00" in words(found.select_one(".sum"))


def test_a_visit_names_hour_craft_place_and_act_and_its_reasons_are_one_tap_away(store):
    visit = page(store).select(".visits > li")[1]  # the first is the silent sensor
    said = words(visit)
    for part in ("by 18:15", "Osprey", "Lee Rack L4", "Back into Stove Barn"):
        assert part in said
    assert "moved out" not in said
    assert visit.select_one("a.onward")["href"] == "craft/K11#tonight"


def test_a_caution_stands_beside_the_first_act_that_calls_for_it_and_no_other(store):
    said = [words(visit) for visit in page(store).select(".visits > li")]
    assert sum("Catch what runs out: poison." in each for each in said) == 1
    assert "Catch what runs out" in next(each for each in said if "Osprey" in each)


def test_each_space_shows_its_low_its_range_and_from_when_it_freezes(store):
    shed = words(page(store).find(id="craft-long-shed"))
    assert "Long Shed −6 °C (−7 to −5)" in shed
    assert "frost expected, below freezing from 23:28" in shed
    assert "3 craft do not hold" in shed


def test_an_edge_of_the_band_that_reads_like_the_low_is_not_said_again(store):
    judged = yard_of.assessments()
    (air,) = [a for a in judged if a.hazard is Hazard.AIR and a.subject.space == "long-shed"]
    band = {"low_band_low_c": air.low_c - 0.04, "low_band_high_c": air.low_c + 0.04}
    near = replace(air, facts=replace(air.facts, figures=air.facts.figures | band))
    with store.transaction() as tx:
        tx.assessments.replace_judgements([near if a is air else a for a in judged])
    assert "−6 °C (" not in words(page(store).find(id="craft-long-shed"))


def test_every_craft_is_there_in_the_fold_of_its_space_and_leads_to_its_page(store):
    found = page(store)
    for one in yard_of.craft():
        fold = found.find(id=f"craft-{one.space}")
        assert fold.find("a", href=f"craft/{one.id}")
        assert one.name in words(fold)


def test_alarms_batteries_and_silent_sensors_are_there(store):
    found = page(store)
    assert "not answered yet" in section(found, "alarms")
    assert "Ines Marrow has 1" in section(found, "alarms")
    assert "11 of 12 batteries are charged" in section(found, "well")
    assert "kettlemoss-north-row, silent" in section(found, "sensors")


def test_what_can_be_saved_stands_before_what_has_ice_which_is_never_folded(store):
    judged = [
        replace(a, standing=Standing.ICING) if a.subject.craft == "K5" and a.calls_for_act else a
        for a in yard_of.assessments()
    ]
    with store.transaction() as tx:
        tx.assessments.replace_judgements(judged)
    found = page(store)
    leave = found.find(id="leave").parent
    heads = [each["id"] for each in found.find_all("h2")]
    assert heads.index("todo") < heads.index("leave")
    assert leave.find("details") is None
    assert "Do not start it. Look for leaks once it has thawed." in words(leave)
    assert "Pintail Lee Rack L1" in words(leave)
    assert "Pintail" not in section(found, "todo")


def test_what_a_crew_cannot_make_in_time_stands_apart_and_after_what_it_can(store):
    judged = [
        replace(a, turn=WorkTurn(order=1, minutes=90.0, done_in_h=9.0, too_late=True))
        if a.subject.craft == "K11" and a.calls_for_act
        else a
        for a in yard_of.assessments()
    ]
    with store.transaction() as tx:
        tx.assessments.replace_judgements(judged)
    found = page(store)
    assert "Osprey" in section(found, "late")
    assert "Osprey" not in section(found, "todo")
    assert "first Bittern, by 18:20" in words(found.find(id="lead"))


def test_the_cautions_that_the_acts_call_for_are_there(store):
    assert "hand it to a licensed hauler" in words(page(store).find(id="cautions"))


def test_the_foot_says_always_that_this_is_no_life_safety_device(empty_store):
    assert "not a life-safety device" in words(page(empty_store).footer)
    yard_of.fill(empty_store)
    assert "not a life-safety device" in words(page(empty_store).footer)


def test_temperatures_are_in_the_yards_own_unit(store):
    found = page(store, yard=yard_of.yard(temperature_unit="F"))
    assert "−15.0 °C" not in words(found)
    assert "5.0 °F" in words(found.select_one(".sum"))  # −15 °C is 5 °F


HOSTILE = "<script>alert(1)</script>\"'{{ 7*7 }}<img src=x onerror=alert(2)>"


def test_hostile_names_are_shown_as_text(store):
    yard = yard_of.yard()
    craft = [replace(one, name=HOSTILE, berth=HOSTILE) for one in yard_of.craft()]
    yard = replace(
        yard,
        name=HOSTILE,
        spaces=tuple(replace(space, name=HOSTILE) for space in yard.spaces),
    )
    judged = [replace(a, **written(HOSTILE, HOSTILE)) for a in yard_of.assessments()]
    alarms = [replace(alarm, headline=FinishedLine(text=HOSTILE)) for alarm in yard_of.alarms()]
    with store.transaction() as tx:
        tx.assessments.replace_judgements(judged)
        tx.alarms.put(alarms)
    found = page(store, yard=yard, craft=craft)
    assert [script.get("src") for script in found.find_all("script")] == ["static/renew.js"]
    assert found.find_all("img") == []
    assert "{{ 7*7 }}" in words(found)


def test_names_from_right_to_left_and_of_signs_stay_in_their_own_place(store):
    craft = [replace(one, name="\u202eשועל \U0001f6a4") for one in yard_of.craft()]
    text = words(page(store, craft=craft))
    assert "שועל \U0001f6a4" in text
    assert "\u202e" not in text  # it would turn the rest of the line around


def test_what_is_refused_is_a_page_with_a_way_on(store):
    app = create_app(store, yard_of.yard(), ReadingsClock(yard_of.KETTLEMOSS_NOW), yard_of.craft)
    with TestClient(app, base_url="http://127.0.0.1") as client:
        for path in (
            "/craft/none", "/spaces/none", "/space/none", "/history/soon", "/craft/%3Cb%3E",
            "/nowhere", "/apiary",
        ):  # fmt: skip
            answer = client.get(path)
            assert answer.status_code in {404, 422}, path
            found = BeautifulSoup(answer.text, "html.parser")
            assert len(found.select("h1")) == 1
            home = found.find("a", string="Tonight's page")["href"]
            assert urljoin(f"http://yard{path}", home) == "http://yard/"
            assert "<b>" not in answer.text
        assert client.get("/api/alarms/none").headers["content-type"] == "application/problem+json"


def test_a_craft_id_with_odd_signs_is_escaped_in_its_link(store):
    craft = [replace(yard_of.craft()[0], id='K 1"&/')]
    assert page(store, craft=craft).find("a", href="craft/K%201%22%26%2F")


def test_an_empty_yard_says_so(empty_store):
    found = page(empty_store, yard=yard_of.yard(sensors=()), craft=[])
    assert "take nothing as safe" in words(found)
    assert "No craft is on record" in words(found)


def test_without_any_reading_nothing_is_called_safe(empty_store):
    found = page(empty_store)
    text = words(found)
    assert "take nothing as safe" in text
    assert "holding" not in text
    assert text.count("not known") >= 12
    assert text.count("nobody knows") == 5


def test_an_old_judgement_is_told_and_not_shown_as_of_now(store):
    later = yard_of.KETTLEMOSS_NOW + timedelta(hours=2)
    assert "may have stopped judging" in words(page(store, now=later).select_one("main .warning"))


def test_a_clock_that_hurries_may_allow_older_judgements(store):
    later = ReadingsClock(yard_of.KETTLEMOSS_NOW + timedelta(hours=2))
    app = create_app(
        store, yard_of.yard(), later, yard_of.craft, renew_s=5, old_after=timedelta(hours=3)
    )
    assert "may have stopped judging" not in TestClient(app).get("/").text


def test_many_alarms_of_one_cause_are_one_line_that_counts_them(store):
    frost = yard_of.alarms()[0]
    with store.transaction() as tx:
        tx.alarms.put([replace(frost, id=f"a{n}") for n in range(50)])
    fold = page(store).find("details", id="alarms-frost")
    assert words(fold.summary) == "Frost ahead 51 not answered yet"
    assert words(fold.select(".alarms > li")[-1]) == "and 45 more."


def test_the_page_renews_itself_and_can_be_told_not_to(store):
    # WCAG 2.2, success criterion 2.2.2: what updates by itself can be paused.
    web = client(store)
    assert "data-renew-s" in web.get("/").text
    still = BeautifulSoup(web.get("/?renew=off").text, "html.parser")
    assert still.find("script") is None
    assert still.find("meta", attrs={"http-equiv": "refresh"}) is None


@pytest.mark.parametrize("path", ["/", "/api/assess", "/health", "/static/laidup.css", "/nowhere"])
def test_every_answer_carries_the_security_headers(store, path):
    headers = client(store).get(path).headers
    policy = headers["content-security-policy"]
    assert "default-src 'self'" in policy
    assert "frame-ancestors 'none'" in policy
    assert "unsafe" not in policy
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "no-referrer"


def test_of_style_inside_a_page_only_our_own_sheets_are_let_through(store):
    # Content Security Policy Level 3, section 2.3.1: a hash of all that the element holds.
    answer = client(store).get("/")
    sheets = BeautifulSoup(answer.text, "html.parser").find_all("style")
    allowed = answer.headers["content-security-policy"].partition("style-src ")[2].split()
    for sheet in sheets:
        digest = b64encode(sha256(sheet.string.encode()).digest()).decode()
        assert f"'sha256-{digest}'" in allowed
    assert len(sheets) == 2
    assert "'unsafe-inline'" not in allowed


def test_what_shows_the_yard_is_not_kept_by_anybody_between(store):
    web = client(store)
    assert web.get("/").headers["cache-control"] == "no-store"
    assert web.get("/api/assess").headers["cache-control"] == "no-store"
    assert "max-age" in web.get("/static/laidup.css").headers["cache-control"]
    assert web.get("/static/gone.css").headers["cache-control"] == "no-store"


def test_the_favicon_is_served(store):
    answer = client(store).get("/favicon.ico")
    assert (answer.status_code, answer.headers["content-type"]) == (200, "image/svg+xml")


def test_what_is_not_there_is_a_problem_document(store):
    # RFC 9457, section 3.
    answer = client(store).get("/api/nowhere")
    assert answer.headers["content-type"] == "application/problem+json"
    assert answer.json() == {"type": "about:blank", "title": "Not Found", "status": 404}


@pytest.mark.parametrize("method", ["post", "put", "delete", "patch"])
@pytest.mark.parametrize("path", ["/", "/api/assess", "/health"])
def test_nothing_can_be_changed(store, method, path):
    assert getattr(client(store), method)(path).status_code == 405


def test_the_api_hands_out_the_account_and_describes_it(store):
    web = client(store)
    found = web.get("/api/assess").json()
    assert (found["yard"], len(found["craft"])) == ("kettlemoss", 12)
    schema = web.get("/openapi.json").json()
    assert "cannot_freeze" in json.dumps(schema["components"]["schemas"]["CircuitAccount"])
    assert web.get("/docs").status_code == 404  # that page would load scripts from elsewhere


def test_the_page_is_sent_compressed(store):
    assert (
        client(store).get("/", headers={"accept-encoding": "gzip"}).headers["content-encoding"]
        == "gzip"
    )


WITH_WORK = {"K2", "K3", "K4", "K5", "K7", "K8", "K9", "K11", "K12"}


def kind_of(craft_id):
    return yard_of.craft()[int(craft_id.removeprefix("C")) % 12].id


def many(count):
    """So many craft over the yard's spaces, each like one of the twelve."""
    kinds = yard_of.craft()
    craft = [
        replace(kinds[n % 12], id=f"C{n}", name=f"{kinds[n % 12].name} {n}") for n in range(count)
    ]
    judged = [a for a in yard_of.assessments() if not a.subject.craft]
    by_craft = {}
    for a in yard_of.assessments():
        by_craft.setdefault(a.subject.craft, []).append(a)
    for n in range(count):
        judged.extend(
            replace(a, subject=replace(a.subject, craft=f"C{n}"))
            for a in by_craft[kinds[n % 12].id]
        )
    return craft, judged


def test_two_thousand_craft_make_one_page_that_a_weak_link_can_carry(store):
    craft, judged = many(2000)
    with store.transaction() as tx:
        tx.assessments.replace_judgements(judged)
    web = client(store, craft=craft)
    answer = web.get("/", headers={"accept-encoding": "gzip"})
    assert answer.num_bytes_downloaded < 150_000
    assert len(answer.content) < 1_000_000
    found = BeautifulSoup(answer.text, "html.parser")
    # Nine of each twelve have work, and so has the silent sensor.
    asked = sum(kind_of(one.id) in WITH_WORK for one in craft) + 1
    block = found.select_one("section:has(> #todo)")
    shown = block.select(":scope > .visits > li")
    here = sum(len(one.select("details li")) or 1 for one in shown)
    counted = [words(each.summary) for each in block.select(":scope > .lines details")]
    assert here + sum(int(re.search(r"(\d+) more", each)[1]) for each in counted) == asked
    said = words(block.p)
    assert said.startswith(f"{asked} to do in ")
    assert f"the first {here}, then {asked - here} more" in said


def test_an_alarm_is_told_as_a_cap_alert_for_whoever_takes_those(store):
    with store.snapshot() as tx:
        alarm = tx.alarms.open_alarms()[0]
    answer = client(store).get(f"/api/alarms/{alarm.id}/cap")
    assert answer.status_code == 200
    assert answer.headers["content-type"].startswith("application/cap+xml")
    assert validate_cap_message(answer.content, strict=False).passed
    assert client(store).get("/api/alarms/none/cap").status_code == 404


def test_a_yard_that_was_never_judged_is_not_called_well(empty_store):
    assert "Nothing presses" not in section(page(empty_store), "todo")
