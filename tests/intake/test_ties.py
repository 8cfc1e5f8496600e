"""A sensor that is tied to its topic or user is believed from there alone."""

import json
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from monitor.clock import to_ms
from monitor.errors import ConfigurationError
from monitor.health.account import faults_of
from monitor.health.store_faults import HealthFacts
from monitor.health.store_probe import ProbeAnswer
from monitor.health.store_seen import read_store
from monitor.intake.decode import Decoder
from monitor.intake.inbox import ArrivedMessage
from monitor.intake.trust import TimePolicy
from monitor.settings.load import load_settings
from monitor.store.store import Store
from monitor.yard.health import HealthFaultKind, IntakeFaultKind
from monitor.yard.space import Sensor
from tests.commands.yard_files import copied_yard, laidup

NOW = datetime(2026, 11, 14, 22, tzinfo=UTC)
NAME = "urn:dev:ops:mill-shed-corner"
SENSOR = Sensor(name=NAME, space="shed")


def decoder(**tie):
    return Decoder([replace(SENSOR, **tie)], TimePolicy(behind_s=float("inf")))


def message(topic, *labels):
    records = [{"bn": f"{NAME}:", "bt": NOW.timestamp()}]
    records += [{"n": label, "u": "Cel", "v": 4.5} for label in labels or ("temperature",)]
    return ArrivedMessage(topic, json.dumps(records).encode(), to_ms(NOW), True, 0, 0, 0)


@pytest.mark.parametrize(
    ("tie", "topic", "is_believed"),
    [
        ("", "anywhere/at/all", True),
        ("mill/shedgate/#", "mill/shedgate/air", True),
        ("mill/shedgate/#", "mill/shedgate", True),
        ("mill/shedgate/#", "mill/othergate/air", False),
        ("mill/shedgate/#", "mill/shedgates/air", False),
        ("+/shedgate/#", "pond/shedgate/air", True),
        ("+/shedgate/#", "shedgate/air", False),
        ("mill/shedgate/air", "mill/shedgate/air/more", False),
    ],
)
def test_readings_on_another_topic_are_kept_aside_with_the_reason(tie, topic, is_believed):
    reader = decoder(topic=tie)
    for _ in range(2):  # the second goes by what the first one taught
        readings, reason = reader.decode_message(message(topic))
        assert len(readings) == is_believed
        assert (reason == "") == is_believed
    if not is_believed:
        assert "topic that is not this sensor's" in reason
        assert NAME in reason
        assert tie in reason, "and where its own come"


def test_a_true_reading_makes_no_later_one_from_elsewhere_true():
    reader = decoder(topic="mill/shedgate/#")
    assert reader.decode_message(message("mill/shedgate/air"))[0]
    assert not reader.decode_message(message("mill/other/air"))[0]
    assert reader.decode_message(message("mill/shedgate/air"))[0]


def test_of_a_pack_of_two_sensors_only_the_foreign_one_is_left_out():
    other = Sensor(name="urn:dev:ops:mill-other", space="shed")
    reader = Decoder(
        [replace(SENSOR, topic="mill/shedgate/#"), other], TimePolicy(behind_s=float("inf"))
    )
    pack = json.dumps(
        [
            {"n": f"{one}:temperature", "u": "Cel", "v": 4.5, "t": NOW.timestamp()}
            for one in (NAME, other.name)
        ]
    )
    arrived = ArrivedMessage("mill/other/air", pack.encode(), to_ms(NOW), True, 0, 0, 0)
    readings, reason = reader.decode_message(arrived)
    assert [one.track.sensor for one in readings] == [other.name]
    assert "topic that is not this sensor's" in reason


def test_a_foreign_record_counts_also_below_all_the_reasons_that_are_told():
    reader = decoder(topic="mill/shedgate/#")
    records = [{"n": f"urn:dev:ops:other-{n}:temperature", "u": "Cel", "v": 4.5} for n in range(5)]
    records.append({"n": f"{NAME}:temperature", "u": "Cel", "v": 4.5})
    arrived = ArrivedMessage(
        "mill/othergate/air", json.dumps(records).encode(), to_ms(NOW), True, 0, 0, 0
    )
    _, reason = reader.decode_message(arrived)
    assert "topic" not in reason
    assert reader.is_foreign(arrived)


def test_the_yards_file_ties_a_sensor_to_its_topic_or_to_its_user(tmp_path):
    config = copied_yard(tmp_path)
    text = config.read_text()
    first = text.index("[[sensors]]") + len("[[sensors]]")

    def tied(line):
        config.write_text(f"{text[:first]}\n{line}{text[first:]}")
        return load_settings(config).yard.sensors[0].topic

    assert tied("") == ""
    assert tied('topic = "yard/shedgate/#"') == "yard/shedgate/#"
    assert tied('user = "shedgate"') == "+/shedgate/#"
    for wrong in ('user = "a/b"', 'user = "#"', 'topic = "a/#/b"', 'user = "a"\ntopic = "b"'):
        with pytest.raises(ConfigurationError):
            tied(wrong)


def test_it_is_told_for_a_day_after_the_last_one(tmp_path):
    config = copied_yard(tmp_path)
    laidup("migrate", "--config", str(config))
    settings = load_settings(config)
    with closing(Store(settings.store_url, settings.yard.id)) as store:
        kind = IntakeFaultKind.FOREIGN_TOPIC

        def told(now):
            seen = read_store(store, settings.yard, now, None)
            facts = HealthFacts(now=now, probe=ProbeAnswer(seen=seen))
            found = faults_of(facts, settings.yard, timedelta(days=9))
            return [one.what for one in found if one.kind is HealthFaultKind.SENDERS]

        for more in (2, 3):
            with store.transaction() as tx:
                tx.intake_faults.count_more(kind, more, NOW)
        assert told(NOW)[0].startswith("5 messages claimed a sensor")
        assert told(NOW + timedelta(hours=25)) == []
        with store.transaction() as tx:
            tx.intake_faults.count_more(kind, 1, NOW + timedelta(hours=25))
        assert told(NOW + timedelta(hours=25))[0].startswith("1 message claimed a sensor")
