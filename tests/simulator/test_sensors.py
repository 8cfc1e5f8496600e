"""Sensors: packs that keep RFC 8428, and faults that are the ones asked for."""

import json

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simulator.air import density_of, saturation_over_water
from simulator.sensors import Outage, Sensor, air_sensor, maintainer, metal_sensor, pack, trace
from simulator.yard import View
from tests.simulator.senml import read

START_S = 1_794_600_000.0
BASE = "urn:dev:ops:kettlemoss-long-shed-corner:"


def view(air_c=4.0, rh_pct=80.0, moments=()):
    """One space and one battery; constant along time if moments are given."""
    shape = (*moments, 1)
    vapour = density_of(rh_pct / 100.0 * saturation_over_water(air_c))
    values = {
        "air_c": air_c, "beyond_c": air_c - 10.0, "vapour": vapour, "probe_c": air_c - 2.0,
        "voltage_v": 12.65, "current_a": 0.0, "mains": 0.0,
    }  # fmt: skip
    return View(**{name: np.full(shape, value) for name, value in values.items()})


def air(**ways):
    return air_sensor("corner", BASE, "t/corner", 0, **ways)


def quiet(**ways):
    return air(noise_c=0.0, noise_pct=0.0, **ways)


@settings(deadline=None)
@given(
    air_c=st.floats(-40, 40), rh_pct=st.floats(1, 100), clock_s=st.floats(-3e4, 3e4),
    delay_s=st.floats(0, 60), logged=st.integers(0, 5),
)  # fmt: skip
def test_every_pack_keeps_the_standard(air_c, rh_pct, clock_s, delay_s, logged):
    outage = Outage(START_S, START_S + 300.0 * logged, logged=True)
    sensor = Sensor(air(clock_off_s=clock_s, delay_s=delay_s, outages=(outage,)), START_S, 1)
    sent = [sensor.sample(view(air_c, rh_pct), START_S + 300.0 * i) for i in range(logged + 1)]
    assert sent[:-1] == [None] * logged
    readings = read(sent[-1].payload)
    assert len(readings) == 2 * (logged + 1)
    assert {name for name, *_ in readings} == {f"{BASE}temperature", f"{BASE}humidity"}
    times = [at for *_, at, _ in readings]
    assert times == sorted(times)
    assert times[-1] == pytest.approx(START_S + 300.0 * logged + delay_s + clock_s, abs=0.01)
    for name, unit, _, value in readings:
        # Five standard deviations of the noise and half a step.
        if name.endswith("temperature"):
            assert unit == "Cel"
            assert value == pytest.approx(air_c, abs=0.3)
        else:
            assert unit == "%RH"
            assert value == pytest.approx(rh_pct, abs=2.5)
            assert 0.0 <= value <= 100.0


def test_a_maintainer_tells_voltage_current_and_mains():
    spec = maintainer("m", "urn:dev:ops:y-m:", "t/m", 0)
    readings = read(Sensor(spec, START_S, 1).sample(view(), START_S).payload)
    told = {name.rpartition(":")[2]: (unit, value) for name, unit, _, value in readings}
    assert told["voltage"][0] == "V"
    assert told["voltage"][1] == pytest.approx(12.65, abs=0.03)
    assert told["current"] == ("A", 0.0)
    assert told["mains"] == ("/", 0.0)


def test_a_metal_probe_tells_the_metal():
    spec = metal_sensor("p", "urn:dev:ops:y-p:", "t/p", 0)
    (_, unit, _, value), *none = read(Sensor(spec, START_S, 1).sample(view(), START_S).payload)
    assert (unit, none) == ("Cel", [])
    assert value == pytest.approx(2.0, abs=0.3)


def test_bias_drift_and_steps_are_what_was_asked_for():
    sensor = Sensor(quiet(bias_c=0.5, bias_pct=-2.0, drift_pct_day=0.1), START_S, 1)
    sample = sensor.sample(view(), START_S + 10 * 86400.0)
    temperature, humidity = (value for *_, value in read(sample.payload))
    assert temperature == pytest.approx(4.5)
    assert humidity == pytest.approx(80.0 - 2.0 + 1.0, abs=0.051)  # steps of 0.1


def test_a_corner_is_colder_and_damper_than_the_middle():
    temperature, humidity = (
        value
        for *_, value in read(Sensor(quiet(corner=0.2), START_S, 1).sample(view(), START_S).payload)
    )
    assert temperature == pytest.approx(2.0)
    assert humidity > 85.0


def test_silence_is_silence_and_a_logger_says_it_later():
    hours = (START_S + 600.0, START_S + 1500.0)
    for logged, late in ((False, 0), (True, 3)):
        sensor = Sensor(quiet(outages=(Outage(*hours, logged=logged),)), START_S, 1)
        sent = [sensor.sample(view(), START_S + 300.0 * i) for i in range(7)]
        assert [message is None for message in sent] == [False] * 2 + [True] * 3 + [False] * 2
        assert len(read(sent[5].payload)) == 2 * (1 + late)


def test_a_part_of_the_packs_gets_lost():
    sensor = Sensor(air(lost_share=0.3), START_S, 1)
    heard = [sensor.sample(view(), START_S + 300.0 * i) is not None for i in range(2000)]
    assert np.mean(heard) == pytest.approx(0.7, abs=0.05)


def test_a_history_is_spoilt_like_single_looks():
    spec = air(bias_c=0.3, drift_pct_day=0.2, lost_share=0.1, clock_off_s=-40.0,
               outages=(Outage(START_S, START_S + 3000.0),))  # fmt: skip
    at_s = START_S + 300.0 * np.arange(4000)
    stamps, (temperature, humidity) = trace(spec, view(moments=(4000,)), at_s, 1)
    single = Sensor(spec, START_S, 1)
    packs = [single.sample(view(), at) for at in at_s]
    read_one = [read(message.payload) for message in packs if message is not None]
    assert stamps.min() == pytest.approx(START_S + 3000.0 - 40.0, abs=3000.0)
    assert len(stamps) == pytest.approx(len(read_one), rel=0.03)
    for found, index in ((temperature, 0), (humidity, 1)):
        other = np.array([pack[index][3] for pack in read_one])
        assert found.mean() == pytest.approx(other.mean(), abs=0.1)
        assert found.std() == pytest.approx(other.std(), rel=0.1)


def test_the_same_seed_says_the_same():
    says = [
        [Sensor(air(), START_S, seed).sample(view(), START_S).payload for _ in range(1)]
        for seed in (1, 1, 2)
    ]
    assert says[0] == says[1] != says[2]


def test_numbers_are_written_short():
    payload = pack(quiet(), [(START_S, [0.1 + 0.2, 80.0])])
    assert json.loads(payload)[0]["v"] == 0.1 + 0.2  # as given: rounding is the sensor's
    sensor = Sensor(quiet(), START_S, 1)
    assert len(sensor.sample(view(0.3), START_S).payload) < 200
