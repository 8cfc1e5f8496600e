import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from importlib.metadata import version

import pytest

from monitor.commands.assess import origin_lines
from monitor.yard.assessment import NOT_KEPT, Hazard, Origin, Subject
from tests.commands.yard_files import copied_yard, fill, laidup
from tests.reports import kettlemoss


@pytest.fixture(scope="module")
def config(tmp_path_factory):
    path = copied_yard(tmp_path_factory.mktemp("yard"))
    fill(path)
    return str(path)


def as_json(config, capsys, *more):
    assert laidup("assess", "--config", config, "--json", *more) == 0
    return json.loads(capsys.readouterr().out)


def test_the_table_names_every_craft_every_space_and_what_to_do(config, capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "160")
    assert laidup("assess", "--config", config) == 0
    said = capsys.readouterr().out
    for name in ("Teal", "Osprey", "Killdeer", "Long Shed", "Lee Rack", "What to do"):
        assert name in said


def test_the_json_is_the_account_with_all_twelve_craft(config, capsys):
    found = as_json(config, capsys)
    assert found["yard"] == "kettlemoss"
    assert len(found["craft"]) == 12
    assert all(circuit["basis"] for one in found["craft"] for circuit in one["circuits"])


def test_judging_now_agrees_with_what_the_daemon_judged_a_moment_ago(config, capsys):
    stored, anew = as_json(config, capsys), as_json(config, capsys, "--at", "now")
    for before, after in zip(stored["spaces"], anew["spaces"], strict=True):
        assert after["air_c"] == pytest.approx(before["air_c"], abs=0.05)

    def standings(found):
        return {
            (one["craft"], c["circuit"]): c["standing"]
            for one in found["craft"]
            for c in one["circuits"]
        }

    assert standings(stored) == standings(anew)


def test_an_earlier_moment_is_judged_on_what_was_known_then(config, capsys):
    # The shed's air swings by 4 °C over a day. At some hours it is as warm as six hours before, at
    # others as twelve, but never both.
    now, differences = as_json(config, capsys), []
    for back_h in (30, 36):
        at = datetime.now(UTC) - timedelta(hours=back_h)
        found = as_json(config, capsys, "--at", at.isoformat())
        assert datetime.fromisoformat(found["at"]) == at
        then_c, now_c = (
            next(one["air_c"] for one in all_["spaces"] if one["space"] == "long-shed")
            for all_ in (found, now)
        )
        differences.append(abs(then_c - now_c))
    assert max(differences) > 0.5


def test_before_the_first_reading_nothing_is_known_and_nothing_holds(config, capsys):
    found = as_json(config, capsys, "--at", (datetime.now(UTC) - timedelta(days=9)).isoformat())
    assert {one["standing"] for one in found["spaces"]} == {"not known"}
    standings = {
        c["standing"] for one in found["craft"] for c in one["circuits"] if not c["cannot_freeze"]
    }
    assert "holding" not in standings


def test_looking_writes_nothing(config, capsys):
    before = as_json(config, capsys)
    as_json(config, capsys, "--at", "now")
    after = as_json(config, capsys)
    assert before["spaces"] == after["spaces"]


@pytest.mark.parametrize(
    ("text", "says"), [("tomorrow", "like today 14:30"), ("2150-01-01T00:00", "lies ahead")]
)
def test_a_time_that_cannot_be_judged_ends_with_2_and_says_why(config, capsys, text, says):
    assert laidup("assess", "--config", config, "--at", text) == 2
    assert says in capsys.readouterr().err


def test_a_time_without_an_offset_is_the_yards_own(config, capsys):
    # America/Chicago is six hours behind UTC in January.
    found = as_json(config, capsys, "--at", "2026-01-10T12:00")
    assert found["at"] == "2026-01-10T18:00:00Z"


def test_a_moment_of_the_past_names_the_program_and_the_settings_it_was_judged_by(
    config, capsys, monkeypatch
):
    monkeypatch.setenv("COLUMNS", "160")
    assert laidup("assess", "--config", config, "--at", "now") == 0
    said = capsys.readouterr().out
    assert f"judged by laidup {version('laidup')} (as now) with settings " in said
    assert "The profile of " not in said


def test_settings_and_profiles_that_have_changed_since_are_named():
    heron = replace(kettlemoss.craft()[0], profile_digest="new")
    kept = {
        (Hazard.FROST, Subject("long-shed", heron.id, "head")): Origin(
            program="0.0.9", settings="then", profile="old"
        ),
        (Hazard.AIR, Subject("long-shed")): Origin(program="0.0.9", settings="then"),
        (Hazard.AIR, Subject("lee-rack")): NOT_KEPT,
    }
    lines = origin_lines(kept, [heron], Origin(program="0.1.0", settings="today"))
    assert lines == [
        "On record 2 standings were judged by laidup 0.0.9 (now 0.1.0) with settings then"
        " (now today).",
        "On record 1 standing was judged by an earlier laidup that kept no version.",
        f"The profile of {heron.name} was old then, and is another now.",
    ]
