"""A craft whose record cannot be read: every command and the page go on, and each says so."""

import json
import sqlite3
from contextlib import closing
from datetime import UTC, datetime, timedelta

import pytest
from fastapi.testclient import TestClient

from monitor.alarms.round import AlarmRound
from monitor.clock import ReadingsClock
from monitor.judgement.inputs import CraftInCare
from monitor.judgement.round import Round
from monitor.settings.load import load_settings
from monitor.store.store import Store
from monitor.web.app import create_app
from monitor.yard.assessment import Hazard, Standing
from tests.commands.yard_files import copied_yard, fill, laidup

NOW = datetime.now(UTC)
SPOILT = {
    "of a type that is gone": "UPDATE craft SET profile = 'none' WHERE craft_id = 'k1'",
    "without a fitting that work is on": (
        "UPDATE craft SET profile = 'outboard' WHERE craft_id = 'k1'"
    ),
    "with work that is no JSON": (
        "UPDATE layup_entries SET body = substr(body, 5) WHERE craft_id = 'k1' AND number = 2"
    ),
}


@pytest.fixture(params=SPOILT.values(), ids=SPOILT)
def config(request, tmp_path):
    """The demo's yard, judged once, before Teal's row was spoilt; its files bring it no more."""
    file = copied_yard(tmp_path)
    settings = fill(file)
    text = file.read_text()
    file.write_text(text.replace('craft_files = ["craft.toml"]\n', ""))
    with closing(sqlite3.connect(settings.store_url.removeprefix("sqlite:///"))) as db:
        db.execute(request.param)
        db.commit()
    return file


@pytest.mark.parametrize(
    "verb",
    [
        ("layup", "list"),
        ("layup", "list", "k1"),
        ("layup", "protection"),
        ("layup", "missing", "--low", "-12C"),
        ("layup", "review"),
        ("layup", "findings"),
        ("layup", "spring"),
        ("assess", "--at", "now"),
        ("status",),
    ],
    ids=" ".join,
)
def test_every_command_goes_on(config, capsys, verb):
    # All go on and tell; of these, only status has the state of laidup itself to answer for.
    assert laidup(*verb, "--config", str(config)) == (1 if verb == ("status",) else 0)
    told = capsys.readouterr()
    if verb[-1] not in {"k1", "findings", "status"}:
        assert "Heron" in told.out
    if verb in {("layup", "list", "k1"), ("status",), ("layup", "protection")}:
        assert "cannot be" in " ".join((told.out + told.err).split())


def test_it_is_plain_water_in_the_judgement_and_the_operator_is_told(config, capsys):
    settings = load_settings(config)
    evening = NOW.astimezone(settings.yard.zone).replace(hour=16)  # when letters may go
    clock = ReadingsClock(evening if evening >= NOW else evening + timedelta(days=1))
    with closing(Store(settings.store_url, settings.yard.id)) as store:
        craft = CraftInCare(store, settings.profiles, settings.yard, clock).read_now()
        Round(store, settings.yard, clock).run(craft)
        AlarmRound(store, settings.yard, clock, definitions=settings.definitions).run(
            {one.id: one for one in craft}
        )
        with store.snapshot() as tx:
            alarms = [one for one in tx.alarms.open_alarms() if one.cause == "unreadable"]
            judged = {
                (one.hazard, one.subject.part): one
                for one in tx.assessments.latest_judgements()
                if one.subject.craft == "k1"
            }
            messages = [message for message, _ in tx.outbox.newest_messages(100)]
        page = TestClient(create_app(store, settings.yard, clock, lambda: craft)).get("/")
    assert page.status_code == 200
    assert "record cannot be read" in page.text.lower()
    assert [one.craft for one in alarms] == ["k1"]
    assert judged[Hazard.RECORD, "record"].standing is Standing.UNREADABLE
    frost = [one for (hazard, _), one in judged.items() if hazard is Hazard.FROST]
    assert frost
    assert {one.limit_c for one in frost} == {0.0}
    told = [one for one in messages if "cannot be read" in one.text and "Teal" in one.text]
    operators = {one.id for one in settings.yard.people if "operator" in one.roles}
    assert {one.person for one in told} & operators
    capsys.readouterr()
    laidup("assess", "--json", "--config", str(config))
    craft = {one["craft"]: one for one in json.loads(capsys.readouterr().out)["craft"]}
    assert "k1" in craft
    assert craft["k1"]["unreadable"]
    assert craft["k8"]["unreadable"] is None
