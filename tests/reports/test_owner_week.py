"""The owner's week: safe or not, what the yard does and did, whom to ask; never the yard's acts."""

import base64
import re
from dataclasses import replace
from datetime import timedelta

import pytest
from axe_playwright_python.sync_playwright import Axe
from bs4 import BeautifulSoup

from monitor.delivery.leaving_forms import as_mail
from monitor.phrases.owner_languages import LANGUAGES
from monitor.phrases.owner_words import owner_words_for
from monitor.reports.drawing import PATIENCE_S, Plots
from monitor.reports.letter import PLOT_ID, letter
from monitor.reports.owner_week import NightAhead, compose_owner_week, night_ahead
from monitor.reports.week import only_for_owner
from monitor.yard.alarm import AlarmState
from monitor.yard.assessment import Assessment, Hazard, Standing, Subject
from monitor.yard.duty import OwnerTelling
from monitor.yard.facts import EarlierSentences
from tests.alarms.letters.test_owner_letter import acts_of_the_yard
from tests.bench.letters import OWNER_WEEK_WORDS, words_of
from tests.reports import kettlemoss as yard_of
from tests.reports.test_letter import report_of

CONTACT = {"telephone": "715-555-0142", "reply_to": "office@kettlemoss.example"}


def written(store, person="tobin", language="en", plots_within_s=0.0, **of_yard):
    yard = yard_of.yard(**CONTACT, **of_yard)
    people = [replace(one, language=language) for one in yard.people]
    report = report_of(store, replace(yard, people=tuple(people)))
    # Drawn only where a test looks at the picture: it takes seconds.
    return letter(report, report.picture.yard.person(person), Plots(within_s=plots_within_s))


def composed(store, person="tobin", change=lambda report: report, **of_yard):
    report = only_for_owner(report_of(store, yard_of.yard(**CONTACT, **of_yard)), person)
    who = report.picture.yard.person(person)
    report = change(report)
    return compose_owner_week(
        report, who, owner_words_for(report.picture.yard, report.picture.at, who)
    )


def one_line(message):
    return " ".join(message.text.replace("\N{NO-BREAK SPACE}", " ").split())


def test_the_first_line_says_how_the_worst_craft_stands_and_that_there_is_nothing_to_do(store):
    said = composed(store)
    assert said.first == (
        "Osprey is not safe from frost tonight. You have nothing to do. Please do not start it"
        " before we write again."
    )
    assert [line.night for line in said.craft] == [NightAhead.UNSAFE, NightAhead.SAFE]
    assert "Osprey is not safe from frost" in said.subject


def with_standing(report, standing, **changes):
    craft = tuple(
        replace(one, circuits=tuple(replace(a, standing=standing, **changes) for a in one.circuits))
        for one in report.picture.craft
    )
    return replace(report, alarms=(), picture=replace(report.picture, craft=craft, alarms=()))


def test_craft_that_hold_the_night_are_said_to_be_safe_and_nothing_is_to_be_done(store):
    said = composed(store, change=lambda r: with_standing(r, Standing.HOLDING, margin_k=5.0))
    names = {line.name for line in said.craft}
    assert names == {"Teal", "Osprey"}
    assert said.first.endswith("are safe from frost tonight. You have nothing to do.")
    # A difference of 5 K is one of 9 °F, which is what this owner reads in.
    assert "It is safe from frost to 9.0 °F below tonight's low." in said.craft[0].sentences[
        0
    ].replace("\N{NO-BREAK SPACE}", " ")


@pytest.mark.parametrize("standing", [Standing.SUSPECT, Standing.FREEZING])
@pytest.mark.parametrize("language", ["en", "de"])
def test_a_battery_that_needs_work_stands_before_safe_from_frost(store, standing, language):
    def wanting(report):
        report = with_standing(report, Standing.HOLDING, margin_k=5.0)
        craft = tuple(
            replace(
                one,
                battery=Assessment(
                    subject=Subject(one.craft.space, one.craft.id, "battery"),
                    hazard=Hazard.BATTERY,
                    standing=standing,
                    at=report.picture.at,
                    facts=EarlierSentences(basis="By hand.", act="Charge it."),
                    calls_for_act=True,
                ),
            )
            for one in report.picture.craft
        )
        return replace(report, picture=replace(report.picture, craft=craft))

    people = {"people": tuple(replace(p, language=language) for p in yard_of.yard().people)}
    said = composed(store, change=wanting, **people)
    battery = {"en": "battery", "de": "Batterie"}[language]
    assert battery in said.first
    assert battery in said.subject
    assert all(battery in line.sentences[0] for line in said.craft)
    assert "safe" not in said.first + said.subject
    assert "sicher" not in said.first + said.subject


def test_ice_comes_first_and_asks_for_one_thing(store):
    said = composed(store, change=lambda r: with_standing(r, Standing.SUSPECT))
    assert said.first.startswith("Please do one thing: leave ")
    assert "Do not start them and do not charge their batteries" in said.first


def test_what_nobody_measured_is_called_safe_by_no_word(store):
    said = composed(store, change=lambda r: with_standing(r, Standing.NOT_KNOWN))
    assert said.first.startswith("Nobody knows whether")
    assert "safe" not in said.subject
    assert not [s for line in said.craft for s in line.sentences if "safe" in s]


@pytest.mark.parametrize("judged", [timedelta(hours=5), None])
def test_where_judging_has_stopped_nothing_is_called_safe_and_the_yard_is_to_be_asked(
    store, judged
):
    def stale(report):
        report = with_standing(report, Standing.HOLDING, margin_k=5.0)
        at = None if judged is None else report.picture.at - judged
        return replace(report, picture=replace(report.picture, judged_at=at))

    said = composed(store, change=stale)
    assert said.first.startswith("Please ask Kettlemoss Yard how your craft stand")
    assert "safe" not in said.subject + said.first
    assert not [s for line in said.craft for s in line.sentences if "safe" in s]


def test_one_part_that_is_worse_makes_the_craft_worse(store):
    report = report_of(store)
    (whole,) = [one for one in report.picture.craft if one.craft.name == "Teal"]
    assert night_ahead(whole.circuits) is NightAhead.SAFE
    for standing, night in (
        (Standing.NOT_KNOWN, NightAhead.UNKNOWN),
        (Standing.EXPOSED, NightAhead.UNSAFE),
        (Standing.SOLID, NightAhead.ICED),
    ):
        worse = replace(whole.circuits[0], standing=standing)
        assert night_ahead([*whole.circuits, worse]) is night


def answered(report, *, by="Ines Marrow"):
    alarms = tuple(
        replace(
            one,
            alarm=replace(one.alarm, state=AlarmState.ACKNOWLEDGED),
            acknowledged_at=report.picture.at - timedelta(minutes=40),  # of 16:04
            acknowledged_by=by,
        )
        for one in report.alarms
    )
    return replace(report, alarms=alarms)


@pytest.mark.parametrize("names_staff", [False, True])
def test_who_took_it_on_is_named_only_where_the_yard_says_so(store, names_staff):
    owners = OwnerTelling(names_staff=names_staff)
    said = composed(store, change=answered, owners=owners)
    told = " ".join(said.craft[0].sentences)
    who = "Ines Marrow at Kettlemoss Yard" if names_staff else "Kettlemoss Yard"
    assert f"{who} took charge of it at 15:24." in told
    assert ("Ines" in told) is names_staff
    assert said.subject.endswith("the yard is on it")


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("person", ["tobin", "wren"])
def test_no_owner_reads_an_act_of_the_yards_a_name_of_its_people_or_too_many_words(
    store, person, language
):
    message = written(store, person, language)
    page = BeautifulSoup(message.html, "html.parser").get_text(" ")
    for part in (message.subject, message.text, page):
        assert not [verb for verb in acts_of_the_yard() if verb in part.lower()]
        assert "Ines" not in part
    assert words_of(message.text) <= OWNER_WEEK_WORDS


def test_nothing_is_said_twice_and_the_yard_can_be_reached(store):
    text = one_line(written(store))
    assert "Questions: call 715-555-0142 or reply to this mail." in text
    sentences = [each for each in re.split(r"(?<=\.) ", text) if len(each.split()) > 3]
    own = [
        each for each in sentences if not each.startswith(("Coldest", "It is safe", "Its battery"))
    ]
    assert len(own) == len(set(own))


def test_a_german_owner_reads_german_days_numbers_and_sentences(store):
    message = written(store, language="de")
    text = one_line(message)
    assert "Osprey ist heute Nacht nicht vor Frost sicher. Sie müssen nichts tun." in text
    assert "Montag, 9. November bis" in text
    assert "Fragen? Telefon 715-555-0142 oder Antwort auf diese Mail." in text
    assert re.search(r"−\d+,\d °C|\d+,\d °F", text)  # a comma, as German has it
    assert BeautifulSoup(message.html, "html.parser").html["lang"] == "de"
    mail = as_mail(replace(message, record_head=f"5-{'0' * 64}"), "alarms@yard.example")
    last = mail.get_body(("plain",)).get_content().rstrip().splitlines()[-1]
    assert last == f"Einwinterungsbuch: 5-{'0' * 32}"


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_letter_fits_a_phone_by_day_and_in_the_dark(store, chromium, scheme):
    message = written(store, plots_within_s=PATIENCE_S)
    page = chromium.new_page(viewport={"width": 390, "height": 844}, color_scheme=scheme)
    plot = base64.b64encode(message.attachments[0].content).decode()
    page.set_content(message.html.replace(f"cid:{PLOT_ID}", f"data:image/png;base64,{plot}"))
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    ground = page.evaluate("getComputedStyle(document.body).backgroundColor")
    shade = sum(int(part) for part in ground.strip("rgb()").split(",")[:3]) / 3
    assert (shade < 64) == (scheme == "dark")
    rule = {"runOnly": {"type": "rule", "values": ["color-contrast"]}}  # WCAG 2.2, 1.4.3
    assert Axe().run(page, options=rule).response["violations"] == []
