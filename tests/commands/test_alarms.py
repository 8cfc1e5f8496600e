"""``laidup alarms``: what people do about alarms from the command line, each on record."""

import json
import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from capvalidator import validate_cap_message

from monitor.alarms.round import AlarmRound
from monitor.clock import ReadingsClock
from monitor.commands.opening import Opened, read_craft_in_care
from monitor.settings.load import load_settings
from monitor.store.store import Store
from monitor.yard.alarm import AlarmState
from monitor.yard.alarm_facts import FinishedLine
from monitor.yard.assessment import Standing
from tests.alarms.scene import frost
from tests.commands.yard_files import copied_yard, fill, laidup


@pytest.fixture
def yard(tmp_path):
    """A yard on the eve of a cold night, its alarms raised; tells its file."""
    config = copied_yard(tmp_path)
    settings = fill(config)
    now = datetime.now(UTC)
    store = Store(settings.store_url, settings.yard.id)
    here = Opened(settings=settings, profiles=settings.profiles, store=store)
    craft = {one.id: one for one in read_craft_in_care(here, now)}
    exposed = [
        frost(one, Standing.EXPOSED, now, deadline=now + timedelta(hours=5))
        for one in list(craft.values())[:3]
    ]
    with store.transaction() as tx:
        tx.assessments.replace_judgements(exposed)
    AlarmRound(store, settings.yard, ReadingsClock(now)).run(craft)
    store.close()
    return str(config)


def said(capsys, *arguments, status=0):
    assert laidup("alarms", *arguments) == status
    out = capsys.readouterr()
    return (out.out + out.err).replace("\N{NO-BREAK SPACE}", " ")


def listed(capsys, yard):
    return json.loads(said(capsys, "list", "--json", "--config", yard))


def state(capsys, yard, alarm):
    return next(each["state"] for each in listed(capsys, yard) if each["id"] == alarm["id"])


def test_the_list_tells_each_alarm_with_the_id_to_name_it_by(yard, capsys):
    [first, *_] = listed(capsys, yard)
    text = said(capsys, "list", "--config", yard)
    assert first["id"][:8] in text
    assert "not answered yet" in text
    assert re.match(r"\d+ alarms: \d+ not acknowledged \(\d+ high\)\.\n", text)


def test_what_waits_for_a_person_leads_and_what_is_suppressed_is_only_counted(yard, capsys):
    settings, now = load_settings(Path(yard)), datetime.now(UTC)
    store = Store(settings.store_url, settings.yard.id)
    with store.transaction() as tx:
        one, two, three = tx.alarms.open_alarms()[:3]
        past = replace(one, headline=FinishedLine(text="Past"), deadline=now - timedelta(hours=9))
        ahead = replace(two, headline=FinishedLine(text="Ahead"), deadline=now + timedelta(hours=5))
        held = replace(three, headline=FinishedLine(text="Held"), state=AlarmState.SUPPRESSED)
        tx.alarms.put([past, ahead, held])
    store.close()
    text = said(capsys, "list", "--config", yard)
    assert text.index("Ahead, act before") < text.index("Past\n")
    assert "Held" not in text
    assert "1 not told on purpose" in text.splitlines()[0]
    assert "--all lists them too" in text
    assert "Held" in said(capsys, "list", "--all", "--config", yard)
    assert "Held" in {alarm["headline"] for alarm in listed(capsys, yard)}


def test_acknowledging_names_who_and_stands_in_the_course(yard, capsys):
    [first, second, *_] = listed(capsys, yard)
    told = said(
        capsys, "ack", first["id"][:8], second["id"], "--by", "operator", "--why", "going out now",
        "--config", yard,
    )  # fmt: skip
    assert told.count(": acknowledged.") == 2
    assert state(capsys, yard, first) == AlarmState.ACKNOWLEDGED
    course = said(capsys, "course", first["id"], "--config", yard)
    assert "going out now" in course
    assert "by laidup" in course


def test_shelving_needs_an_end_and_a_reason_and_is_undone_before_its_time(yard, capsys):
    [first, *_] = listed(capsys, yard)
    arguments = (first["id"], "--by", "operator", "--config", yard)
    with pytest.raises(SystemExit):
        laidup("alarms", "shelve", *arguments, "--why", "known")
    said(capsys, "shelve", *arguments, "--why", "known", "--until", "4h")
    assert state(capsys, yard, first) == AlarmState.SHELVED
    said(capsys, "unshelve", *arguments)
    assert state(capsys, yard, first) == AlarmState.UNACKNOWLEDGED
    told = said(
        capsys, "shelve", *arguments, "--why", "known", "--until", "2046-01-01T00:00", status=1
    )
    assert "hours at most" in told


def test_out_of_service_and_back(yard, capsys):
    [first, *_] = listed(capsys, yard)
    arguments = (first["id"], "--by", "mechanic", "--config", yard)
    said(capsys, "out-of-service", *arguments, "--why", "new probe")
    assert state(capsys, yard, first) == AlarmState.OUT_OF_SERVICE
    said(capsys, "in-service", *arguments)
    assert state(capsys, yard, first) == AlarmState.UNACKNOWLEDGED


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("ack", "00000000", "--by", "operator"), "no open alarm begins so"),
        (("ack", "0", "--by", "operator"), "at least 4 letters"),
        (("ack", "00000000", "--by", "nobody"), "nobody of this yard"),
        (("course", "feedfeed"), "`laidup alarms list` shows them"),
    ],
)
def test_a_slip_is_told_with_the_next_step(yard, capsys, arguments, words):
    assert words in said(capsys, *arguments, "--config", yard, status=1)


def test_an_alarm_as_cap_passes_the_schema_of_oasis(yard, capsys, tmp_path):
    [first, *_] = listed(capsys, yard)
    said(capsys, "ack", first["id"], "--by", "operator", "--config", yard)
    file = tmp_path / "alert.xml"
    said(capsys, "cap", first["id"], "--out", str(file), "--config", yard)
    result = validate_cap_message(file.read_bytes(), strict=False)
    assert result.passed, result.message
