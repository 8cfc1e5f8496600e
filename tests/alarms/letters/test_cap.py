"""CAP 1.2 messages against the schema's order and words, and the rules that only its text holds."""

import json
import re
from dataclasses import replace
from datetime import UTC, timedelta
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from capvalidator import validate_cap_message

from monitor.alarms.acts.alarm_acts import AlarmActs
from monitor.alarms.letters.cap import NAMESPACE, cap_alert, cap_time
from monitor.yard.assessment import Standing
from tests.alarms.scene import FOUR, ZONE, Scene, craft, frost

# Order, required elements and enumerations as read from the OASIS schema of CAP 1.2.
CAP = json.loads((Path(__file__).parent / "cap.json").read_text())
TIME = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d[-+]\d\d:\d\d")
SENDER = "alarms@yard.example"


@pytest.fixture
def told(tmp_path):
    """An alarm that was raised, acknowledged and cleared, and its judgement."""
    scene = Scene(tmp_path)
    boat = craft("K1", 'Teal <&> "Duck"', "shed")
    scene.craft = {"K1": boat}
    exposed = frost(boat, Standing.EXPOSED, FOUR, deadline=FOUR + timedelta(hours=5))
    scene.judge(exposed)
    with scene.store.snapshot() as tx:
        (alarm,) = tx.alarms.open_alarms()
    scene.after(minutes=5)
    AlarmActs(scene.store, scene.clock).acknowledge(alarm.id, "maren")
    holding = replace(exposed, standing=Standing.HOLDING, margin_k=9.0)
    for _ in range(40):
        scene.after(hours=1)
        scene.judge(holding)
    with scene.store.snapshot() as tx:
        return scene.yard, tx.alarms.get(alarm.id), tx.alarms.history_of(alarm.id), exposed


def written(told, upto):
    yard, alarm, history, assessment = told
    at = replace(alarm, state=history[upto - 1].after)
    return cap_alert(
        at,
        history[:upto],
        yard,
        sender=SENDER,
        addresses=["maren@yard.example", "Ansel Rye"],
        assessment=assessment,
    )


def check(document):
    """What the schema and the specification's text ask for."""
    root = ET.fromstring(document)
    assert root.tag == f"{{{NAMESPACE}}}alert"
    alert = children(root)
    names = [name for name, _ in alert]
    assert names == sorted(names, key=CAP["order_alert"].index)
    assert set(CAP["required_alert"]) <= set(names)
    values = dict(alert)
    info = children(root.find(f"{{{NAMESPACE}}}info"))
    inner = [name for name, _ in info]
    assert inner == sorted(inner, key=CAP["order_info"].index)
    assert set(CAP["required_info"]) <= set(inner)
    words = {**values, **dict(info)}
    for name, allowed in CAP["enumerations"].items():
        if name in words:
            assert words[name] in allowed
    for name in ("sent", "effective", "onset", "expires"):
        if name in words:
            assert TIME.fullmatch(words[name])
    assert not re.search(r"[\s,<&]", values["identifier"])
    assert values["addresses"], "scope Private asks for addresses"
    if values["msgType"] in {"Update", "Cancel"}:
        for reference in values["references"].split(" "):
            sender, identifier, sent = reference.split(",")
            assert sender == SENDER
            assert identifier
            assert TIME.fullmatch(sent)
    area = root.find(f".//{{{NAMESPACE}}}area")
    assert dict(children(area))["areaDesc"] == "Long Shed, Kettlemoss Yard"
    return values, dict(info)


@pytest.mark.parametrize("upto", [1, 2, 3])
def test_every_message_passes_the_schema_of_oasis(told, upto):
    result = validate_cap_message(written(told, upto), strict=False)
    assert result.passed, result.message


def test_the_schema_check_does_fail_on_what_is_wrong(told):
    spoiled = written(told, 1).replace(b"<urgency>Expected<", b"<urgency>Tonight<")
    assert not validate_cap_message(spoiled, strict=False).passed


def children(element):
    return [(child.tag.split("}")[1], child.text) for child in element]


def test_the_first_change_is_an_alert(told):
    values, info = check(written(told, 1))
    assert values["msgType"] == "Alert"
    assert "references" not in values
    assert (info["urgency"], info["severity"], info["certainty"]) == (
        "Expected",
        "Severe",
        "Likely",
    )
    assert 'Teal <&> "Duck"' in info["headline"]
    assert "Drain the passages bow up" in info["instruction"]
    assert "not a life-safety device" in info["instruction"]


def test_later_changes_refer_to_all_before(told):
    values, _ = check(written(told, 2))
    assert values["msgType"] == "Update"
    assert len(values["references"].split(" ")) == 1


def test_the_end_is_a_cancel_with_all_clear(told):
    values, info = check(written(told, 3))
    assert values["msgType"] == "Cancel"
    assert info["responseType"] == "AllClear"
    assert info["urgency"] == "Past"
    assert len(values["references"].split(" ")) == 2


def test_addresses_with_spaces_are_quoted(told):
    values, _ = check(written(told, 1))
    assert values["addresses"] == 'maren@yard.example "Ansel Rye"'


def test_times_have_an_offset_and_no_fraction_and_utc_is_minus_zero():
    at = FOUR + timedelta(microseconds=123456)
    assert cap_time(at, ZONE) == "2026-11-14T16:00:00-06:00"
    assert cap_time(at, UTC) == "2026-11-14T22:00:00-00:00"


@pytest.mark.parametrize("sender", ["", "two words", "a,b", "a<b"])
def test_a_sender_that_cap_forbids_is_refused(told, sender):
    yard, alarm, history, _ = told
    with pytest.raises(ValueError, match="CAP sender"):
        cap_alert(alarm, history, yard, sender=sender, addresses=["x"])
