import json
import re
from dataclasses import replace
from datetime import timedelta

import pytest
from bs4 import BeautifulSoup
from capvalidator import validate_cap_message
from fastapi.testclient import TestClient

from monitor.clock import ReadingsClock
from monitor.web.app import create_app
from monitor.yard.alarm_facts import FinishedLine
from monitor.yard.assessment import Hazard
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
    lead = words(page(store).find(id="lead"))
    assert lead.startswith("9 of 12 craft need work tonight; first Osprey, by 18:15.")
    assert "coldest in Lee Rack: −15.0 °C about 07:00" in lead


def test_what_to_do_names_craft_circuit_number_basis_time_and_act(store):
    first = words(page(store).select(".tasks > li")[1])  # the first is the silent sensor
    for part in (
        "by 18:15",
        "Osprey",
        "Lee Rack",
        "galley fittings",
        "13.0 °C too cold for it",
        "moved out on 12 Nov",
        "Back into Stove Barn",
    ):
        assert part in first


def test_each_space_shows_air_dew_point_low_and_when(store):
    shed = next(one for one in page(store).select(".space") if "Long Shed" in one.h3.get_text())
    assert "Coming low −6.3 °C about 08:54, at worst −7.4 °C" in words(shed)
    assert "Below freezing from 23:28" in words(shed)
    assert "Now 3.0 °C, 78 % RH, dew point −0.5 °C" in words(shed)
    assert shed.svg["role"] == "img"
    assert "coming low −6.3 °C" in words(shed.svg.title)


def test_an_edge_of_the_band_that_reads_like_the_low_is_not_said_again(store):
    judged = yard_of.assessments()
    (air,) = [a for a in judged if a.hazard is Hazard.AIR and a.subject.space == "long-shed"]
    band = {"low_band_low_c": air.low_c - 0.04, "low_band_high_c": air.low_c + 1.0}
    near = replace(air, facts=replace(air.facts, figures=air.facts.figures | band))
    with store.transaction() as tx:
        tx.assessments.replace_judgements([near if a is air else a for a in judged])
    shed = next(one for one in page(store).select(".space") if "Long Shed" in one.h3.get_text())
    assert "Coming low −6.3 °C about 08:54, at best −5.3 °C." in words(shed)
    assert "at worst" not in words(shed)


def test_every_craft_is_there_with_every_circuit(store):
    found = page(store)
    assert len(found.select(".fleet > li")) == 12
    text = section(found, "craft")
    for one in yard_of.craft():
        for circuit in one.circuits:
            assert circuit.name in text


def test_alarms_batteries_and_silent_sensors_are_there(store):
    found = page(store)
    assert "Not answered yet" in section(found, "alarms")
    assert "freezing Sora" in section(found, "batteries")
    assert "11 of 12 are charged" in section(found, "batteries")
    assert "kettlemoss-north-row silent" in section(found, "sensors")


def test_the_cautions_that_the_acts_call_for_are_there(store):
    assert "hand it to a licensed hauler" in words(page(store).find("aside"))


def test_the_foot_says_always_that_this_is_no_life_safety_device(empty_store):
    assert "not a life-safety device" in words(page(empty_store).footer)
    yard_of.fill(empty_store)
    assert "not a life-safety device" in words(page(empty_store).footer)


def test_temperatures_are_in_the_yards_own_unit(store):
    found = page(store, yard=yard_of.yard(temperature_unit="F"))
    assert "−15.0 °C" not in words(found)
    assert "5.0 °F" in words(found.find(id="lead"))  # −15 °C is 5 °F


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


def test_a_craft_id_with_odd_signs_still_opens(store):
    craft = [replace(yard_of.craft()[0], id='K 1"&')]
    assert page(store, craft=craft).find("details", id="craft-K%201%22%26")


def test_an_empty_yard_says_so(empty_store):
    found = page(empty_store, yard=yard_of.yard(sensors=()), craft=[])
    assert "take nothing as safe" in words(found)
    assert "No craft is on record" in words(found)


def test_without_any_reading_nothing_is_called_safe(empty_store):
    found = page(empty_store)
    text = words(found)
    assert "take nothing as safe" in text
    assert "holding" not in text
    assert text.count("not known") >= 5 + 12


def test_an_old_judgement_is_told_and_not_shown_as_of_now(store):
    later = yard_of.KETTLEMOSS_NOW + timedelta(hours=2)
    assert "may have stopped judging" in words(page(store, now=later).select_one("main .warning"))


def test_a_clock_that_hurries_may_allow_older_judgements(store):
    later = ReadingsClock(yard_of.KETTLEMOSS_NOW + timedelta(hours=2))
    app = create_app(
        store, yard_of.yard(), later, yard_of.craft, renew_s=5, old_after=timedelta(hours=3)
    )
    assert "may have stopped judging" not in TestClient(app).get("/").text


def test_many_alarms_of_one_cause_are_folded_into_one_line(store):
    frost = yard_of.alarms()[0]
    with store.transaction() as tx:
        tx.alarms.put([replace(frost, id=f"a{n}") for n in range(50)])
    fold = page(store).find("details", id="alarms-frost")
    assert words(fold.summary) == "Frost: 51 since 15:10, 51 not acknowledged"
    assert len(fold.find_all("li")) == 51


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
    answer = client(store).get("/nowhere")
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


def test_three_hundred_craft_make_one_page_that_a_weak_link_can_carry(store):
    craft, judged = many(300)
    with store.transaction() as tx:
        tx.assessments.replace_judgements(judged)
    web = client(store, craft=craft)
    answer = web.get("/", headers={"accept-encoding": "gzip"})
    assert len(BeautifulSoup(answer.text, "html.parser").select(".fleet > li")) == 300
    assert answer.num_bytes_downloaded < 150_000
    # The first thirty errands lie open, the rest is folded but there.
    found = BeautifulSoup(answer.text, "html.parser")
    (first, rest) = found.select("section:has(> #todo) > .tasks, #further .tasks")
    assert len(first.find_all("li", recursive=False)) == 30
    assert (
        len(rest.find_all("li", recursive=False)) == 225 + 1 - 30
    )  # nine of each twelve, a sensor


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
