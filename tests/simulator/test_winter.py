"""Random winters: they repeat, their records are honest, and living together changes nothing."""

import json
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from numpy.testing import assert_allclose

from simulator import winter
from simulator.antifreeze import fraction_for
from tests.simulator.senml import read

START = datetime(2026, 1, 5, 12, tzinfo=ZoneInfo(winter.ZONE))
END = START + timedelta(days=6)


def make(seed, craft=12):
    return winter.make(seed, craft=craft, start=START, end=END)


@pytest.fixture(scope="module")
def three():
    made = [make(seed) for seed in (1, 2, 3)]
    return made, winter.live(made)


def test_one_seed_is_one_yard_with_one_record():
    assert make(1).records == make(1).records
    assert make(1).plan.craft == make(1).plan.craft
    assert make(1).records != make(2).records


def test_winters_lived_together_are_those_lived_alone(three):
    (alone,) = winter.live([make(2)])
    together = three[1][1]
    assert together.truth == alone.truth
    assert together.readings.keys() == alone.readings.keys()
    for sensor, (stamps, values) in together.readings.items():
        assert_allclose(stamps, alone.readings[sensor][0])
        for label, series in values.items():
            assert_allclose(series, alone.readings[sensor][1][label], atol=0.011)


def test_records_are_plain_data_and_say_nothing_of_the_truth():
    records = make(3).records
    assert json.loads(json.dumps(records)) == records
    text = json.dumps(records)
    for secret in ("liquid_kg", "glycol_mass_fraction", "heater_fails", "supercooling", 'charge"'):
        assert secret not in text


def test_a_lead_on_record_as_off_is_off_and_not_every_idle_one_is_noted():
    kept = [
        (craft.battery, record["battery"])
        for seed in range(1, 9)
        for made in (make(seed),)
        for craft, record in zip(made.plan.craft, made.records["craft"], strict=True)
        if craft.battery.aboard and not craft.battery.maintained
    ]
    assert all(not real.parasitic_a for real, noted in kept if noted["disconnected"])
    unnoted = [real for real, noted in kept if not noted["disconnected"]]
    assert any(real.parasitic_a for real in unnoted)
    assert any(not real.parasitic_a for real in unnoted)


def test_every_circuit_of_the_truth_is_on_record_under_the_same_name(three):
    for made, lived in zip(*three, strict=True):
        written = {
            (craft["craft"], circuit["circuit"])
            for craft in made.records["craft"]
            for circuit in craft["circuits"]
        }
        happened = {
            (craft["craft"], circuit["circuit"])
            for craft in lived.truth["craft"]
            for circuit in craft["circuits"]
        }
        assert written == happened


def test_evidence_on_record_is_true_within_its_instruments_error():
    checked = 0
    for seed in range(20):
        made = make(seed)
        truth = {(c.id, k.id): k for c in made.plan.craft for k in c.circuits}
        for craft in made.records["craft"]:
            for record in craft["circuits"]:
                circuit = truth[craft["craft"], record["circuit"]]
                if record["basis"] == "measured with a refractometer":
                    # Warmer than stated by no more than a handheld refractometer's 2 K.
                    allowed = float(fraction_for(record["ice_point_c"] + 2.0))
                    assert circuit.glycol_mass_fraction >= allowed
                    checked += 1
                if record["basis"] == "drained and seen dry":
                    assert circuit.fill <= 0.2
                if record["state"] != "proven":
                    assert record["ice_point_c"] == 0.0
    assert checked > 200


def test_yards_hold_mistakes_that_freeze_and_work_that_does_not():
    made = [make(seed, craft=20) for seed in range(4)]
    broken, proven_broken = 0, 0
    for one, lived in zip(made, winter.live(made), strict=True):
        states = {
            (craft["craft"], circuit["circuit"]): circuit["state"]
            for craft in one.records["craft"]
            for circuit in craft["circuits"]
        }
        for craft in lived.truth["craft"]:
            for circuit in craft["circuits"]:
                if circuit["damaged_at"]:
                    broken += 1
                    proven_broken += states[craft["craft"], circuit["circuit"]] == "proven"
    assert broken >= 5
    assert proven_broken <= broken / 2


def test_the_truths_nights_are_those_of_the_air(three):
    made, lived = three[0][0], three[1][0]
    rack = next(space for space in lived.truth["spaces"] if space["space"] == "rack")
    assert [night["evening"] for night in rack["nights"]] == lived.truth["evenings"]
    for night in rack["nights"]:
        noon = datetime.fromisoformat(night["evening"]).replace(hour=12, tzinfo=START.tzinfo)
        at = noon.timestamp() + 300.0 * np.arange(288)
        # Looked at each five minutes; the air moves little between.
        expected = made.plan.weather.during(at).air_c.min()
        assert night["low_c"] == pytest.approx(expected, abs=0.15)


def test_a_winter_can_be_streamed_as_packs():
    made = make(4, craft=3)
    story = winter.scenario(made)
    known = {record["sensor"] for record in made.records["sensors"]}
    last = START
    seen = set()
    for count, (at, topic, payload) in enumerate(story):
        assert at >= last
        last = at
        for name, *_ in read(payload):
            sensor = name.rpartition(":")[0]
            assert topic == f"yard-4/readings/{sensor.removeprefix('urn:dev:ops:yard-4-')}"
            seen.add(sensor)
        if count > 3000:
            break
    assert seen == known


def test_winters_of_different_dates_are_not_lived_together():
    other = winter.make(1, craft=2, start=START, end=END + timedelta(days=1))
    with pytest.raises(ValueError, match="same start and end"):
        winter.live([make(1, craft=2), other])


def test_a_yard_without_craft_is_refused():
    with pytest.raises(ValueError, match="0 craft"):
        winter.make(1, craft=0)
