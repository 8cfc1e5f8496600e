"""Mappings: each with a captured message and its readings, RFC 6901's own cases, and bad files."""

import json
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from jsonpointer import JsonPointer

from monitor.clock import to_ms
from monitor.commands.check_payload import explain_message
from monitor.errors import ConfigurationError, PayloadError
from monitor.intake.decode import Decoder
from monitor.intake.inbox import ArrivedMessage
from monitor.intake.mapping import Mappings, Template, value_at
from monitor.intake.mapping_file import read_mapping, read_mappings
from monitor.intake.strict_values import strict_number
from monitor.intake.trust import TimePolicy
from monitor.yard.space import Sensor

PAYLOADS = Path(__file__).parents[2] / "config" / "payloads"
CAPTURED = Path(__file__).parent / "payloads"
POINTERS = json.loads((Path(__file__).parent / "vectors" / "json_pointer.json").read_text())
MAPPINGS = read_mappings(PAYLOADS)


@pytest.mark.parametrize("mapping", MAPPINGS, ids=lambda mapping: mapping.name)
def test_every_mapping_reads_its_captured_message(mapping):
    captured = json.loads((CAPTURED / f"{mapping.name}.json").read_text(encoding="utf-8"))
    payload = captured.get("text") or json.dumps(captured["payload"])
    names = {sensor for sensor, *_ in captured["readings"]}
    decoder = Decoder([Sensor(name=name, space="barn") for name in names], TimePolicy(), MAPPINGS)
    arrived_ms = to_ms(datetime.fromisoformat(captured["arrived"]))
    message = ArrivedMessage(captured["topic"], payload.encode(), arrived_ms, True, 1, 1, 1)
    assert decoder.mapping_for(captured["topic"]).name == mapping.name
    readings, reason = decoder.decode_message(message)
    assert reason == ""
    got = [(one.track.sensor, one.track.channel.value, one.at_ms, one.value) for one in readings]
    assert got == [
        (
            sensor,
            channel,
            to_ms(datetime.fromisoformat(at)),
            round(value / readings[n].track.channel.resolution),
        )
        for n, (sensor, channel, at, value) in enumerate(captured["readings"])
    ]


# RFC 6901 section 5, its document and its pointers.
@pytest.mark.parametrize("case", POINTERS["pointers"], ids=lambda case: case["pointer"] or "''")
def test_pointers_find_what_rfc_6901_says(case):
    assert value_at(JsonPointer(case["pointer"]), POINTERS["document"]) == case["value"]


@pytest.mark.parametrize("case", POINTERS["errors"], ids=lambda case: case["why"])
def test_pointers_that_lead_nowhere_are_refused(case, tmp_path):
    text = f"""
        about = "x"
        topic = "a"
        sensor = "urn:dev:ops:a"
        [[values]]
        pointer = {json.dumps(case["pointer"])}
        channel = "temperature"
        unit = "Cel"
    """
    (tmp_path / "a.toml").write_text(text)
    payload = json.dumps(POINTERS["document"]).encode()
    with pytest.raises((ConfigurationError, PayloadError)):
        read_mapping(tmp_path / "a.toml").read_records("a", payload, 0.0)


@pytest.mark.parametrize(
    ("payload", "reason"),
    [
        (b'{"temperature": "n/a"}', "'n/a' is not a number"),
        (b'{"temperature": true}', "'True' is not a number"),
        (b'{"temperature": null}', "'None' is not a number"),
        (b'{"temperature": NaN}', "not JSON"),
        (b'{"temperature": "nan"}', "is not a number"),
        (b"{}", "/temperature: not there"),
        (b"[]", "/temperature: not there"),
        (b"7", "/temperature: not there"),
        (b"\xff", "not UTF-8"),
        (b"", "not JSON"),
    ],
)
def test_a_payload_that_is_not_as_described_gets_a_reason_with_the_pointer(payload, reason):
    mapping = next(one for one in MAPPINGS if one.name == "climate-json")
    with pytest.raises(PayloadError, match=r"\(mapping climate-json\)") as caught:
        mapping.read_records("a/b/climate-json/c", payload, 0.0)
    assert reason in str(caught.value)


@given(st.binary(max_size=60), st.sampled_from(MAPPINGS))
def test_any_bytes_on_a_mapped_topic_give_records_or_a_reason(payload, mapping):
    topic = "/".join(
        level if level.isascii() and "{" not in level and level != "+" else "x"
        for level in mapping.topic.text.split("/")
    )
    assert mapping.topic.match_topic(topic) is not None
    outcome: object
    try:
        outcome = mapping.read_records(topic, payload, 1_760_000_000.0)
    except PayloadError as error:
        outcome = error.reason
    assert outcome


def test_topics_fit_level_by_level_and_the_brokers_own_are_left_alone():
    template = Template("+/{gateway}/number")
    assert template.match_topic("a/b/number") == {"gateway": "b"}
    assert template.match_topic("a/b/c/number") is None
    assert template.match_topic("a/b/Number") is None
    assert template.match_topic("$SYS/b/number") is None
    assert template.match_topic("/b/number") == {"gateway": "b"}


def test_senml_topics_are_no_mappings_business():
    assert Mappings(MAPPINGS).mapping_of("kettlemoss/barn") is None


@pytest.mark.parametrize(
    ("line", "complaint"),
    [
        ('unit = "furlong"', "does not fit temperature"),
        ('pointer = "temperature"', "no JSON Pointer"),
        ('channel = "wind"', "channel"),
        ('colour = "red"', "colour"),
    ],
)
def test_a_wrong_mapping_is_refused_with_file_and_key(tmp_path, line, complaint):
    values = {"pointer": '"/t"', "channel": '"temperature"', "unit": '"Cel"'}
    key, _, value = line.partition(" = ")
    values[key] = value
    lines = ['about = "x"', 'topic = "a/{b}"', 'sensor = "urn:dev:ops:{b}"', "[[values]]"]
    lines += [f"{name} = {one}" for name, one in values.items()]
    (tmp_path / "wrong.toml").write_text("\n".join(lines))
    with pytest.raises(ConfigurationError, match=complaint) as caught:
        read_mappings(tmp_path)
    assert "wrong.toml" in str(caught.value)
    assert "values.0" in str(caught.value)


def test_a_sensor_named_after_a_part_that_the_topic_has_not_is_refused(tmp_path):
    text = (PAYLOADS / "climate-json.toml").read_text().replace("-{device}", "-{devise}")
    (tmp_path / "a.toml").write_text(text)
    with pytest.raises(ConfigurationError, match="devise"):
        read_mapping(tmp_path / "a.toml")


def test_a_captured_message_is_explained_in_words():
    sensor = Sensor(name="urn:dev:ops:radio-rack-3", space="rack")
    decoder = Decoder([sensor], TimePolicy(), MAPPINGS)
    now_ms = to_ms(datetime(2026, 1, 10, 3, 15, tzinfo=UTC))
    told = explain_message(
        decoder, "a/radio/climate-json/rack-3", b'{"temperature": -3.25}', now_ms
    )
    assert told.usable
    assert "mapping 'climate-json'" in told.lines[0]
    assert "temperature -3.25 Cel, at 2026-01-10T03:15:00+00:00" in told.lines[-1]
    stranger = explain_message(
        decoder, "a/radio/climate-json/rack-4", b'{"temperature": 1}', now_ms
    )
    assert not stranger.usable
    assert "no sensor of this yard" in stranger.lines[-1]


@pytest.mark.parametrize("text", ["1_0", "٣٤", "0x1f", "inf", "1e999", "", "3 4", "31,5"])
def test_what_only_python_reads_as_a_number_is_none(text):
    assert strict_number(text) is None


@pytest.mark.parametrize(("text", "number"), [(" -3.5\n", -3.5), ("+.5", 0.5), ("6e1", 60.0)])
def test_numbers_written_as_sensors_write_them_are_read(text, number):
    assert strict_number(text) == number


def test_each_slip_in_a_mapping_is_told_once(tmp_path):
    file = tmp_path / "odd.toml"
    file.write_text('topic = "a"\nsensor = "b"\n[[values]]\npointer = "x"\nchannel = "damp"\n')
    with pytest.raises(ConfigurationError) as caught:
        read_mapping(file)
    told = {fault.key: fault.problem for fault in caught.value.faults}
    assert list(told) == ["about", "values.0.pointer", "values.0.channel"]
    assert told["about"] == "it is missing"
    file.write_text("a = " + "[" * 100_000)
    with pytest.raises(ConfigurationError, match="cannot be read"):
        read_mapping(file)
