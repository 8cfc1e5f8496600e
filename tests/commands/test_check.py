"""``laidup check`` finds before the daemon does what would keep it from starting."""

import base64
import json
import re
from datetime import UTC, datetime, timedelta

import pytest

from monitor.cli import main
from monitor.settings.load import load_settings
from monitor.store.store import Store
from tests.commands.yard_files import copied_yard, fill


def test_a_craft_file_that_contradicts_the_record_is_told_and_nothing_is_written(tmp_path, capsys):
    config = copied_yard(tmp_path)
    settings = fill(config, days=1)
    with_store = Store(settings.store_url, settings.yard.id)
    with with_store.snapshot() as tx:
        before = tx.layup.revision_mark()
    craft = config.with_name("craft.toml")
    text = craft.read_text(encoding="utf-8")
    craft.write_text(text.replace('ice_point = "-30C"', 'ice_point = "-32C"', 1), encoding="utf-8")
    assert main(["check", "--config", str(config)]) == 1
    said = capsys.readouterr().out
    assert "Store: FAILED" in said
    assert "k1" in said
    with with_store.snapshot() as tx:
        assert tx.layup.revision_mark() == before
    with_store.close()


def test_an_unchanged_yard_has_no_fault_and_is_only_looked_at(tmp_path, capsys):
    config = copied_yard(tmp_path)
    settings = fill(config, days=1)
    main(["check", "--config", str(config)])
    said = capsys.readouterr().out
    assert "12 craft in craft files" in said
    assert "Store: FAILED" not in said
    assert "readings of this yard" in said
    assert load_settings(config).yard.id == settings.yard.id


def test_two_craft_in_one_berth_are_a_fault_of_the_record(tmp_path, capsys):
    config = copied_yard(tmp_path)
    craft = config.with_name("craft.toml")
    text = craft.read_text(encoding="utf-8")
    main(["check", "--config", str(config)])
    assert "Berths: 12 craft, and no two that are here share one." in capsys.readouterr().out
    craft.write_text(text.replace('"long-shed/2"', '"long-shed/1"', 1), encoding="utf-8")
    for with_store in (False, True):  # taken in or not yet: the same fault
        if with_store:
            fill(config, days=1)
        assert main(["check", "--config", str(config)]) == 1
        said = capsys.readouterr().out
        assert "Berths: FAILED. lay-up record: long-shed/1: Teal (k1) and " in said
        assert "enter for the other where it stands" in said


def test_a_folder_for_copies_that_is_not_there_is_found_before_the_first_night(tmp_path, capsys):
    config = copied_yard(tmp_path)
    text = config.read_text(encoding="utf-8")
    config.write_text(f'{text}\n[backup]\nfolder = "copies"\n', encoding="utf-8")
    assert main(["check", "--config", str(config)]) == 1
    assert f"Copies: FAILED. {tmp_path / 'copies'} is no folder" in capsys.readouterr().out
    (tmp_path / "copies").mkdir()
    main(["check", "--config", str(config)])
    assert "Copies: a nightly copy of the store goes to " in capsys.readouterr().out


def tried(config, capsys):
    """What a check said, one line for each thing tried."""
    code = main(["check", "--config", str(config)])
    return code, {
        name: said
        for line in capsys.readouterr().out.splitlines()
        for name, colon, said in [line.partition(": ")]
        if colon
    }


def with_outlets(folder, httpserver, broker):
    """The demo's yard with every outlet that a yard can have."""
    config = copied_yard(folder)
    secret = "whsec_" + base64.b64encode(bytes(range(32))).decode()
    (config.parent / "hook.secret").write_text(secret)
    (config.parent / "hook.secret").chmod(0o600)
    text = config.read_text(encoding="utf-8")
    text = text.replace("[broker]\n", f'[broker]\nhost = "127.0.0.1"\nport = {broker.port}\n')
    text += f"""
[webhook]
url = "{httpserver.url_for("/hook")}"
secret_file = "hook.secret"

[ping]
url = "{httpserver.url_for("/ping")}"

[annunciator]
topic = "kettlemoss/annunciator"

[forecast]
source = "met-norway"
contact = "watch@kettlemoss.example"
url = "{httpserver.url_for("/weather")}"
"""
    config.write_text(text, encoding="utf-8")
    return config


def test_everything_that_is_configured_is_tried_and_says_so(tmp_path, capsys, httpserver, broker):
    hook = httpserver.expect_request("/hook", method="POST")
    hook.respond_with_data("", status=204)
    httpserver.expect_request("/ping").respond_with_data("")
    hours = [datetime.now(UTC).replace(minute=0, second=0, microsecond=0)]
    hours = [hours[0] + timedelta(hours=n) for n in range(48)]
    series = [
        {
            "time": f"{at:%Y-%m-%dT%H:%M:%SZ}",
            "data": {"instant": {"details": {"air_temperature": -4.0}}},
        }
        for at in hours
    ]
    answer = {
        "type": "Feature",
        "geometry": {"type": "Point", "coordinates": [-89.4, 45.6, 500]},
        "properties": {
            "meta": {
                "updated_at": f"{hours[0]:%Y-%m-%dT%H:%M:%SZ}",
                "units": {"air_temperature": "celsius", "dew_point_temperature": "celsius"},
            },
            "timeseries": series,
        },
    }
    httpserver.expect_request(re.compile("/weather.*")).respond_with_json(answer)
    config = with_outlets(tmp_path, httpserver, broker)
    _, said = tried(config, capsys)
    assert "took a signed test message, marked as one" in said["Webhook"]
    posted = next(request for request, _ in httpserver.log if request.path == "/hook")
    assert json.loads(posted.get_data())["type"] == "message.test"
    assert posted.headers["webhook-signature"].startswith("v1,")
    assert "took a ping" in said["Ping"]
    assert "gave it back" in said["Lamp"]
    assert "met-norway gave one" in said["Forecast"]


@pytest.mark.parametrize(
    ("kernel", "said"),
    [
        (True, "Clock: a time service keeps this machine's clock right."),
        (
            False,
            "Clock: No time service keeps this machine's clock right: enable systemd-timesyncd",
        ),
        (None, "Clock: It is not known whether anything keeps this machine's clock right"),
    ],
)
def test_a_clock_that_nothing_keeps_right_is_told_and_no_fault(
    tmp_path, capsys, monkeypatch, kernel, said
):
    monkeypatch.setattr("monitor.intake.clock_witnesses.kernel_synchronised", lambda _: kernel)
    main(["check", "--config", str(copied_yard(tmp_path))])
    assert said in capsys.readouterr().out


def test_what_does_not_answer_fails_with_a_remedy(tmp_path, capsys, httpserver, broker):
    httpserver.expect_request("/hook").respond_with_data("", status=401)
    httpserver.expect_request("/ping").respond_with_data("", status=404)
    httpserver.expect_request(re.compile("/weather.*")).respond_with_data("", status=403)
    config = with_outlets(tmp_path, httpserver, broker)
    broker.stop()
    code, said = tried(config, capsys)
    assert code == 1
    for name, word in (
        ("Webhook", "same secret"),
        ("Ping", "check url"),
        ("Lamp", "check host, port"),
        ("Forecast", "own readings alone"),
    ):
        assert said[name].startswith("FAILED"), name
        assert word in said[name]
