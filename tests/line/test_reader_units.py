"""Everybody reads in units of their own: the demo's worst night, walked through every outlet.

Once under a yard in °C and litres with some people in °F and fluid ounces, once the other way
round. Nobody meets a unit of the other kind, and nowhere does a quantity stand as it is stored.
"""

import dataclasses
import json
import re
from contextlib import redirect_stdout
from dataclasses import dataclass
from datetime import timedelta
from io import StringIO
from pathlib import Path

import pytest
from bs4 import BeautifulSoup
from fastapi.testclient import TestClient

from monitor.alarms.acts.answers import Answers
from monitor.alarms.letters.rehearsal import rehearse
from monitor.alarms.round import AlarmRound
from monitor.alarms.telling.all_well import AllWell
from monitor.clock import ReadingsClock
from monitor.delivery.channels.webhook import body_of
from monitor.judgement.inputs import CraftInCare
from monitor.judgement.round import Round
from monitor.reports.letter import letter, readers
from monitor.reports.week import compose
from monitor.settings.load import Settings, load_settings
from monitor.store.migrate import migrate
from monitor.store.store import Store
from monitor.store.taking_in import take_in
from monitor.web.api.layup import layup_router
from monitor.web.app import create_app
from monitor.web.pages.own_craft import read_owner_page
from monitor.wording import SI, Units, Wording
from monitor.yard.readers import units_of
from monitor.yard.space import shelters
from simulator import kettlemoss
from simulator.publish import write_csv
from tests.commands.yard_files import copied_yard, laidup

BEGIN, DAWN, END = kettlemoss.local(14, 15), kettlemoss.local(15, 7), kettlemoss.local(15, 10)
HALF_HOUR = timedelta(minutes=30)
METRIC, CUSTOMARY = Units(), Units(temperature="F", volume="fl oz")
OTHER_OWNERS = ("owner-k02", "owner-k05", "owner-k11")

RAW = re.compile(r"⟦|⟧|\bCel\b")
OF_METRIC = re.compile(r"°C|[0-9]\s?(?:L|K)\b")
OF_CUSTOMARY = re.compile(r"°F|\bfl oz\b|[0-9]\s?gal\b")


@dataclass(frozen=True, slots=True, kw_only=True)
class Night:
    """The demo's yard after its worst night."""

    config: Path
    settings: Settings
    store: Store
    clock: ReadingsClock
    craft: CraftInCare
    answers: Answers
    yards: Units
    others: Units


@pytest.fixture(scope="module")
def readings(tmp_path_factory) -> Path:
    """What the simulated yard told until that morning."""
    path = tmp_path_factory.mktemp("simulated") / "readings.csv"
    until_then = (told for told in kettlemoss.scenario() if told[0] <= END)
    assert write_csv(until_then, path) > 10_000
    return path


@pytest.fixture(
    scope="module",
    params=[(METRIC, CUSTOMARY), (CUSTOMARY, METRIC)],
    ids=["yard in C and L", "yard in F and fl oz"],
)
def night(request, readings, tmp_path_factory):
    yards, others = request.param
    config = copied_yard(tmp_path_factory.mktemp("yard"))
    config.write_text(_in_units(config.read_text(), yards, others))
    settings = load_settings(config)
    migrate(settings.store_url)
    store = Store(settings.store_url, settings.yard.id)
    with redirect_stdout(StringIO()):
        laidup("import", "readings", str(readings), "--config", str(config))
    with store.transaction() as tx:
        take_in(tx.layup, settings.craft, settings.profiles, END)
    clock = ReadingsClock(BEGIN)
    craft = CraftInCare(store, settings.profiles, settings.yard, clock)
    answers = Answers(store, clock, "https://yard.example/answer/")
    judging = Round(store, settings.yard, clock)
    alarms = AlarmRound(store, settings.yard, clock, answers=answers)
    while clock.now() <= END:
        here = craft.read_now()
        judging.run(here)
        alarms.run({one.id: one for one in here})
        AllWell(store, settings.yard, clock).run()
        clock.advance_to(clock.now() + HALF_HOUR)
    for person in settings.yard.people:
        rehearse(store, settings.yard, clock, person.id)
    yield Night(
        config=config, settings=settings, store=store, clock=clock, craft=craft, answers=answers,
        yards=yards, others=others,
    )  # fmt: skip
    store.close()


def _in_units(text: str, yards: Units, others: Units) -> str:
    """The demo's file with the yard in some units, and in others whoever asks for others there."""
    own = f'temperature_unit = "{yards.temperature}"\nvolume_unit = "{yards.volume}"\n'
    other = f'temperature_unit = "{others.temperature}"\nvolume_unit = "{others.volume}"\n'
    asked = 'temperature_unit = "F"\nvolume_unit = "fl oz"\n'
    assert asked in text
    text = text.replace(asked, other)
    # One of the yard's own people, too: they get the long mails, with the acts.
    text = text.replace('roles = ["mechanic"]\n', f'roles = ["mechanic", "operator"]\n{other}', 1)
    assert text.count(other) == text.count(asked if other == asked else other) >= 4
    return text.replace('id = "kettlemoss"\n', f'id = "kettlemoss"\n{own}', 1)


def foreign(text: str, units: Units) -> list[str]:
    """What a reader of these units must not find, each with what stands around it."""
    text = re.sub(r"https?://\S+", "", text)  # a link's secret may hold any letters, ``9L`` too
    wrong = [RAW, OF_CUSTOMARY if units.temperature == "C" else OF_METRIC]
    if units.data:
        wrong = [RAW, OF_CUSTOMARY]
    return [
        text[max(0, found.start() - 60) : found.end() + 20]
        for pattern in wrong
        for found in pattern.finditer(text)
    ]


def seen_in(html: str) -> str:
    """All that a page or mail shows or reads out."""
    page = BeautifulSoup(html, "html.parser")
    for hidden in page(["style", "script"]):
        hidden.extract()
    spoken = [tag[name] for tag in page.find_all() for name in ("alt", "title", "aria-label")
              if tag.get(name)]  # fmt: skip
    return " ".join([page.get_text(" "), *spoken])


def command(night: Night, *arguments: str) -> str:
    out = StringIO()
    wide = pytest.MonkeyPatch.context()  # no number is parted from its unit by the end of a line
    with wide as patched, redirect_stdout(out):
        patched.setenv("COLUMNS", "1000")
        code = laidup(*arguments, "--config", str(night.config))
    assert code == 0, arguments
    return out.getvalue()


def test_the_yard_and_its_people_read_in_what_their_file_says(night):
    yard = night.settings.yard
    assert units_of(yard) == night.yards
    assert all(units_of(yard, yard.person(one)) == night.others for one in OTHER_OWNERS)
    assert units_of(yard, yard.person("owner-k01")) == night.yards


def test_every_message_of_the_night_is_in_its_readers_units(night):
    yard = night.settings.yard
    with night.store.snapshot() as tx:
        messages = [message for message, _ in tx.outbox.newest_messages(10_000)]
    told = dict.fromkeys(("°C", "°F", "fl oz", " L"), 0)
    for message in messages:
        units = units_of(yard, yard.person(message.person))
        tables = [one.content.decode("utf-8-sig") for one in message.attachments
                  if one.media_type.startswith("text/")]  # fmt: skip
        whole = "\n".join(
            (message.subject, message.text, seen_in(message.html), *tables,
             json.loads(body_of(message))["data"]["text"])
        ).replace("\N{NO-BREAK SPACE}", " ")  # fmt: skip
        assert foreign(whole, units) == [], message.key
        for unit in told:
            told[unit] += unit in whole
    # The night has something to tell to readers of both kinds: its letters to the yard's own people
    # and the rehearsals. Letters to owners hold no quantity.
    assert told["°C"] >= 3
    assert told["°F"] >= 3
    assert told["fl oz"] > 0
    assert told[" L"] > 0


def test_the_weekly_letters_are_in_their_readers_units(night):
    yard = night.settings.yard
    report = compose(
        night.store, yard, night.craft.read_now(), END.date() - timedelta(days=END.weekday()), END
    )
    people = readers(report)
    assert {"owner-k01", "owner-k02"} <= {person.id for person in people}
    for person in people:
        message = letter(report, person)
        whole = f"{message.subject}\n{message.text}\n{seen_in(message.html)}"
        assert foreign(whole.replace("\N{NO-BREAK SPACE}", " "), units_of(yard, person)) == []
        assert f"°{units_of(yard, person).temperature}" in whole


@pytest.fixture
def browser(night):
    yard = night.settings.yard
    words = Wording(zone=yard.zone, units=SI)
    layup = layup_router(night.store, night.settings.profiles, shelters(yard), night.clock, words)
    app = create_app(
        night.store,
        yard,
        night.clock,
        night.craft.read_now,
        answers=night.answers,
        layup=layup,
        profiles=night.settings.profiles,
    )
    with TestClient(app, base_url="http://127.0.0.1") as client:
        yield client


def test_the_page_is_in_the_yards_units_and_its_json_in_si(night, browser):
    page = browser.get("/")
    assert page.status_code == 200
    said = seen_in(page.text).replace("\N{NO-BREAK SPACE}", " ")
    assert foreign(said, night.yards) == []
    assert f"°{night.yards.temperature}" in said
    account = browser.get("/api/assess").text
    assert foreign(account, SI) == []
    assert "°C" in account


@pytest.mark.parametrize(
    "path", ["/craft/k8", "/craft/k5", "/spaces/long-shed", "/spaces/bench", "/history/2026-11-14"]
)
def test_the_pages_behind_it_are_in_the_yards_units(night, browser, path):
    page = browser.get(path)
    assert page.status_code == 200
    said = seen_in(page.text).replace("\N{NO-BREAK SPACE}", " ")
    assert foreign(said, night.yards) == []
    assert f"°{night.yards.temperature}" in said


@pytest.mark.parametrize("number", [1, 2, 5, 8, 11])
def test_an_owner_s_page_is_in_the_owner_s_units(night, number):
    yard = night.settings.yard
    person = yard.person(f"owner-k{number:02}")
    page = read_owner_page(
        night.store, yard, night.settings.profiles, [f"k{number}"], night.clock.now(), person
    )
    said = " ".join([page.first, *(s for one in page.craft for s in one.now.sentences)])
    said = said.replace("\N{NO-BREAK SPACE}", " ")
    assert foreign(said, units_of(yard, person)) == []


def test_a_link_is_answered_in_the_units_of_whom_it_was_sent_to(night, browser):
    with night.store.snapshot() as tx:
        messages = [message for message, _ in tx.outbox.newest_messages(10_000)]
    yard = night.settings.yard
    links = {
        found[1]: units_of(yard, yard.person(message.person))
        for message in messages
        if (found := re.search(r"yard\.example(/answer/\S+)", message.text))
    }
    assert {units.temperature for units in links.values()} == {"C", "F"}
    asked = 0
    for path, units in links.items():
        said = seen_in(browser.get(path).text).replace("\N{NO-BREAK SPACE}", " ")
        assert foreign(said, units) == []
        asked += f"°{units.temperature}" in said
    assert asked


AT = f"{DAWN:%Y-%m-%dT%H:%M}"
SPOKEN = (
    ("status",),
    ("assess",),
    ("assess", "--at", AT),
    ("layup", "list"),
    ("layup", "list", "k2"),
    ("layup", "protection"),
    ("layup", "missing", "--low", "-12C"),
    ("layup", "review"),
    ("layup", "findings", "--all"),
    ("layup", "spring"),
    ("replay", "--from", f"{BEGIN:%Y-%m-%dT%H:%M}", "--to", AT, "--every", "1h"),
    ("alarms", "list"),
    ("alarms", "list", "--days", "400"),
    ("check",),
)


@pytest.mark.parametrize("arguments", SPOKEN, ids=" ".join)
def test_every_command_speaks_in_the_yards_units(night, arguments):
    if arguments == ("check",):
        out = StringIO()
        with redirect_stdout(out):  # the broker is not there, which makes it end with 1
            laidup("check", "--config", str(night.config))
        said = out.getvalue()
        assert f"°{night.yards.temperature} and {night.yards.volume}" in said
        assert f"°{night.others.temperature} and {night.others.volume}" in said
        return
    said = command(night, *arguments).replace("\N{NO-BREAK SPACE}", " ")
    assert len(said) > 20
    assert foreign(said, night.yards) == []


@pytest.mark.parametrize(
    "arguments",
    [each for each in SPOKEN if each[0] not in {"status", "check"}],
    ids=" ".join,
)
def test_every_command_gives_machines_si(night, arguments):
    said = command(night, *arguments, "--json")
    assert len(said) > 2
    assert foreign(said, SI) == []


def test_a_report_is_printed_in_the_units_of_whoever_gets_it(night):
    for person in ("owner-k01", "owner-k02"):
        said = command(night, "report", "--week", "2026-W46", "--person", person)
        units = units_of(night.settings.yard, night.settings.yard.person(person))
        assert foreign(said.replace("\N{NO-BREAK SPACE}", " "), units) == []
        assert f"°{units.temperature}" in said


def test_one_alarm_and_its_cap_are_in_the_yards_units(night):
    alarms = json.loads(command(night, "alarms", "list", "--json"))
    frost = next(one["id"] for one in alarms if one["cause"] in {"frost", "ice"})
    for verb in ("course", "cap"):
        said = command(night, "alarms", verb, frost).replace("\N{NO-BREAK SPACE}", " ")
        assert foreign(said, night.yards) == []
        assert f"°{night.yards.temperature}" in said


def test_what_is_stored_reads_the_same_whatever_the_yard_reads(night):
    # No unit of any reader is in the stored judgements: a yard may change its mind at any time.
    with night.store.snapshot() as tx:
        judged, alarms = tx.assessments.latest_judgements(), tx.alarms.open_alarms()
    stored = [text for one in judged for text in _texts(one.facts)]
    stored += [text for one in alarms for text in _texts(one.headline)]
    assert any(len(text) > 40 for text in stored)  # acts are among them
    for text in stored:
        assert not re.search(r"°[CF]|fl oz|[0-9] gal\b", text), text


def _texts(facts):
    return [value for value in dataclasses.asdict(facts).values() if isinstance(value, str)]
