"""The story of Kettlemoss Yard: what was set, what happens to each craft, what the wire carries."""

import tomllib
from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path

import pytest

from simulator import kettlemoss
from tests.simulator.senml import read


@pytest.fixture(scope="module")
def told():
    story = kettlemoss.scenario()
    return story, list(story)


@pytest.fixture(scope="module")
def truth(told):
    return told[0].truth()


@pytest.fixture(scope="module")
def circuits(truth):
    return {
        (craft["craft"], circuit["circuit"]): circuit
        for craft in truth["craft"]
        for circuit in craft["circuits"]
    }


def at(text):
    return datetime.strptime(text, "%Y-%m-%dT%H:%M:%SZ").replace(tzinfo=UTC)


def night(truth, space, evening):
    (found,) = (s for s in truth["spaces"] if s["space"] == space)
    (one,) = (n for n in found["nights"] if n["evening"] == f"{kettlemoss.YEAR}-11-{evening}")
    return one["low_c"]


def test_the_nights_are_as_cold_as_the_story_says(truth):
    assert night(truth, "lee-rack", 13) == pytest.approx(-3.0, abs=0.7)
    assert night(truth, "lee-rack", 14) == pytest.approx(-12.0, abs=0.7)
    assert night(truth, "lee-rack", 15) == pytest.approx(-10.0, abs=0.7)
    assert -7.5 < night(truth, "long-shed", 14) < -5.0
    assert night(truth, "long-shed", 13) > -1.0


def test_the_stove_barn_loses_its_heater_and_stays_above_zero_for_hours(truth):
    barn = truth["spaces"][0]
    (lost,) = barn["heater_lost"]
    assert at(lost["from"]) == kettlemoss.local(15, 2)
    assert -1.0 < night(truth, "stove-barn", 14) < 3.0
    assert night(truth, "stove-barn", 13) > 6.0


def test_craft_that_were_laid_up_well_have_no_ice(circuits):
    for (craft, circuit), found in circuits.items():
        if craft in {"k1", "k6", "k10"} or circuit == "coolant":
            assert found["first_ice_at"] is None, (craft, circuit)


@pytest.mark.parametrize(
    ("craft", "circuit"),
    [
        ("k2", "cylinder-passages"),  # poured, no outflow
        ("k5", "port-exhaust-jacket"),  # nothing written down
        ("k7", "gearcase"),  # water in the lube
        ("k8", "block"),  # pink at the exhaust, cold engine
        ("k9", "shower"),  # not on the list
        ("k9", "washdown-pump"),
        ("k11", "taps"),  # heat-only, moved out
        ("k12", "cylinder-passages"),  # run on the hose
    ],
)
def test_every_mistake_of_the_lay_up_freezes_through(circuits, craft, circuit):
    found = circuits[craft, circuit]
    assert found["most_ice_share"] > 0.95
    assert at(found["first_ice_at"]) < at(found["frozen_through_at"])
    assert found["damaged_at"] is not None


def test_nothing_is_broken_before_the_first_hard_night(circuits):
    # An ordinary light frost may put some ice into the smallest parts, no more.
    for found in circuits.values():
        if found["damaged_at"]:
            assert at(found["damaged_at"]) > kettlemoss.local(14, 16)


def test_a_weak_mix_turns_to_slush_and_passes_a_third(circuits):
    # K3's raw side reads -5 °C; at a low of about -11.6 the lever rule gives near half ice.
    found = circuits["k3", "raw-side"]
    assert found["most_ice_share"] == pytest.approx(0.47, abs=0.06)
    assert kettlemoss.local(14, 22) < at(found["first_ice_at"]) < kettlemoss.local(15, 2)


def test_the_battery_left_aboard_freezes_and_no_other(truth):
    frozen = {c["craft"] for c in truth["craft"] if c["battery"]["first_ice_at"] is not None}
    assert frozen == {"k4"}


def test_metal_in_the_long_shed_sweats_in_the_front(truth):
    for craft in truth["craft"]:
        if craft["space"] == "long-shed":
            wet = [w for w in craft["metal"]["wet"] if at(w["from"]) > kettlemoss.local(16, 6)]
            assert max(w["most_g_m2"] for w in wet) > 3.0, craft["craft"]
    (barn,) = (c for c in truth["craft"] if c["space"] == "stove-barn")
    assert barn["metal"]["wet"] == []


def test_messages_come_in_time_order_each_five_minutes(told):
    story, messages = told
    times = [when for when, *_ in messages]
    assert times == sorted(times)
    assert times[0] >= story.start
    corner = [when for when, topic, _ in messages if topic.endswith("/stove-barn-corner")]
    assert {(b - a).total_seconds() for a, b in pairwise(corner)} == {300.0}


def test_topics_and_names_are_those_of_the_yard(told):
    topics = {topic for _, topic, _ in told[1]}
    spaces = {
        "stove-barn-corner", "stove-barn-centre", "long-shed-corner", "long-shed-centre",
        "north-row-bay", "lee-rack-screen", "lee-rack-metal", "bench-air",
    }  # fmt: skip
    maintainers = {f"maintainer-k{number:02d}" for number in range(1, 13)}
    known = {f"kettlemoss/readings/{one}" for one in spaces | maintainers}
    assert topics == known | {"kettlemoss/readings/south-gate"}


def test_all_but_one_payload_are_sound_and_name_their_topics_sensor(told):
    broken = 0
    for _, topic, payload in told[1]:
        try:
            readings = [] if topic.endswith("south-gate") else read(payload)
        except (AssertionError, ValueError):
            broken += 1
            continue
        sensor = topic.rpartition("/")[2]
        for name, *_ in readings:
            assert name.startswith(f"urn:dev:ops:kettlemoss-{sensor}:")
    assert broken == 1


def test_one_sensor_falls_silent_for_hours_and_one_logger_catches_up(told):
    centre = [when for when, topic, _ in told[1] if topic.endswith("/long-shed-centre")]
    assert max((b - a).total_seconds() for a, b in pairwise(centre)) > 5 * 3600
    bay = [payload for _, topic, payload in told[1] if topic.endswith("/north-row-bay")]
    assert max(len(read(payload)) for payload in bay) > 20


def test_the_dead_maintainer_says_so(told):
    for _, topic, payload in told[1]:
        if topic.endswith("/maintainer-k04"):
            said = {name.rpartition(":")[2]: value for name, _, _, value in read(payload)}
            assert said["mains"] == 0.0
            assert said["current"] == 0.0
            assert said["voltage"] == pytest.approx(11.9, abs=0.05)


def test_the_same_seed_tells_the_same_story_and_another_seed_another():
    def opening(seed):
        return [item for item, _ in zip(kettlemoss.scenario(seed), range(300), strict=False)]

    assert opening(14) == opening(14)
    assert opening(14) != opening(15)


def test_craft_and_circuits_are_called_as_in_the_demos_records(circuits):
    records = tomllib.loads(
        (Path(kettlemoss.__file__).parents[1] / "config/demo/craft.toml").read_text("utf-8")
    )
    known = {craft for craft, _ in circuits}
    for craft in records["craft"]:
        assert craft["id"] in known
        for entry in craft.get("layup", []):
            for circuit in entry.get("circuits", []):
                assert (craft["id"], circuit) in circuits
