"""Any bytes at all: readings or a reason, never an exception."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.intake.decode import Decoder
from monitor.intake.inbox import ArrivedMessage
from monitor.intake.trust import AS_THEY_COME, TimePolicy
from monitor.yard.space import Sensor
from tests.intake.fuzz import ARRIVED_MS, decoder, sound, strain

TOPICS = sorted({topic for topic, _ in sound()})
READER = decoder()


@given(st.sampled_from(TOPICS), st.binary(max_size=300), st.booleans())
def test_any_bytes_give_readings_or_a_reason(topic, payload, live):
    taken, reason = READER.decode_message(ArrivedMessage(topic, payload, ARRIVED_MS, live, 1, 1, 1))
    assert taken or reason


@pytest.mark.parametrize("seed", range(3))
def test_sound_payloads_that_something_happened_to_never_raise(seed):
    done, read = strain(5000, seed)
    assert done == 5000
    assert 0 < read < done  # both kinds were there


def test_one_unknown_sensor_costs_only_its_own_records():
    pack = (
        b'[{"n":"bay3:temp","u":"Cel","t":1768014900,"v":1},'
        b'{"n":"stranger:temp","u":"Cel","t":1768014900,"v":2},'
        b'{"n":"bay3:stage","vs":"float"},'
        b'{"n":"bay3:mains","u":"/","t":1768014900,"vb":true}]'
    )
    taken, reason = READER.decode_message(ArrivedMessage("a", pack, ARRIVED_MS, True, 1, 1, 1))
    assert [(one.track.channel, one.value) for one in taken] == [("temperature", 100), ("mains", 1)]
    assert reason == "stranger:temp: no sensor of this yard"


def test_laidups_own_words_on_the_broker_are_not_kept_aside():
    reader = Decoder((), AS_THEY_COME, own_topic="yard/lamp")
    for topic, payload in (("yard/lamp/state", b"quiet"), ("yard/lamp/detail", b'{"at": "x"}')):
        assert reader.decode_message(ArrivedMessage(topic, payload, ARRIVED_MS, True, 1, 1, 1)) == (
            [],
            "",
        )
    # A neighbour's is, though its name begins alike.
    assert reader.decode_message(
        ArrivedMessage("yard/lamps/state", b"on", ARRIVED_MS, True, 1, 1, 1)
    )[1]


def test_a_gateway_s_pack_costs_by_its_records_however_many_sensors_it_speaks_for():
    # 500 sensors whose common gateway is ahead: names were looked up once for each pair of both.
    sensors = [Sensor(name=f"urn:s-{n}", space="barn") for n in range(500)]
    reader = Decoder(sensors, TimePolicy())
    looked_up = 0
    sensor_of = reader.sensors.sensor_of

    def counting(name: str):
        nonlocal looked_up
        looked_up += 1
        return sensor_of(name)

    reader.sensors.sensor_of = counting
    at_s = ARRIVED_MS // 1000 + 9000
    records = [f'{{"n":"urn:s-{n % 500}:temperature","u":"Cel","v":1}}' for n in range(1000)]
    pack = f'[{{"bt":{at_s}}},{",".join(records)}]'.encode()
    taken, reason = reader.decode_message(ArrivedMessage("a", pack, ARRIVED_MS, True, 1, 1, 1))
    assert taken == []
    assert reason.count("its clock is 2 hours ahead") == 3  # more is not told of one message
    assert looked_up <= 4 * len(records)
