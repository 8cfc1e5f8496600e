"""Bytes that nobody would send, by the million: `python -m tests.intake.fuzz --minutes 10`.

Sound payloads of every kind are cut, spliced, repeated and peppered at random; the decoder must
give readings or a reason for each, and raise nothing.
"""
# ruff: noqa: T201

import argparse
import json
import random
import time
from collections.abc import Iterator
from pathlib import Path

import cbor2

from monitor.intake.decode import DecodedReading, Decoder
from monitor.intake.inbox import ArrivedMessage
from monitor.intake.mapping_file import read_mappings
from monitor.intake.trust import TimePolicy
from monitor.yard.reading import Channel
from monitor.yard.space import Sensor
from tests.bench.fuzz.spoil import spoil

HERE = Path(__file__).parent
MAPPINGS = read_mappings(HERE.parents[1] / "config" / "payloads")
ARRIVED_MS = 1_768_014_900_000
LABELS = json.loads((HERE / "vectors" / "senml_cbor.json").read_text())["labels"]


def sound() -> list[tuple[str, bytes]]:
    """Payloads that can be read, with their topics."""
    found: list[tuple[str, bytes]] = []
    for case in json.loads((HERE / "vectors" / "senml.json").read_text())["cases"]:
        found.append(("a/senml", json.dumps(case["pack"]).encode()))
        if isinstance(case["pack"], list):
            labelled = [{LABELS.get(k, k): v for k, v in one.items()} for one in case["pack"]]
            found.append(("a/senml", cbor2.dumps(labelled)))
    for file in sorted((HERE / "payloads").glob("*.json")):
        captured = json.loads(file.read_text())
        payload = captured.get("text") or json.dumps(captured["payload"])
        found.append((captured["topic"], payload.encode()))
    return found


def spoiled(chance: random.Random) -> Iterator[tuple[str, bytes]]:
    """Payloads without end, each a sound one that something happened to."""
    all_sound = sound()
    others = [payload for _, payload in all_sound]
    while True:
        topic, payload = chance.choice(all_sound)
        yield topic, spoil(payload, others, chance)


def decoder() -> Decoder:
    """A decoder that knows the sensors of the sound payloads."""
    names = {"urn:dev:ow:10e2073a01080063", "urn:dev:ow:10e2073a0108006", "bay3", "a", "m1", "x1"}
    names |= {"2001:db8::1", "2001:db8::2", "2001:db8::3", "2001:db8::4", "b", "a1"}
    labels = {"t1": Channel.TEMPERATURE, "temp": Channel.TEMPERATURE, "x": Channel.VOLTAGE}
    labels |= {"i": Channel.CURRENT, "volts": Channel.VOLTAGE, "t2": Channel.TEMPERATURE}
    for file in sorted((HERE / "payloads").glob("*.json")):
        names |= {sensor for sensor, *_ in json.loads(file.read_text())["readings"]}
    sensors = [Sensor(name=name, space="barn", labels=labels) for name in sorted(names)]
    return Decoder(sensors, TimePolicy(behind_s=float("inf")), MAPPINGS)


def check(taken: list[DecodedReading], reason: str) -> None:
    """What came of a payload can be stored."""
    for one in taken:
        assert abs(one.value) < 2**31
        assert 0 <= one.at_ms < 2**53
    assert isinstance(reason, str)  # empty also where a pack has texts or sums only


def strain(cases: int, seed: int, seconds: float = float("inf")) -> tuple[int, int]:
    """Decode spoiled payloads; tells how many there were and how many still gave readings."""
    reader, end = decoder(), time.monotonic() + seconds
    read = 0
    for done, (topic, payload) in enumerate(spoiled(random.Random(seed)), start=1):
        taken, reason = reader.decode_message(
            ArrivedMessage(topic, payload, ARRIVED_MS, True, 1, 1, 1)
        )
        check(taken, reason)
        read += bool(taken)
        if done >= cases or (done % 1000 == 0 and time.monotonic() > end):
            return done, read
    raise AssertionError


def main() -> None:
    """Run for a while and tell."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--minutes", type=float, default=1.0)
    parser.add_argument("--seed", type=int, default=time.time_ns() % 10**6)
    given = parser.parse_args()
    done, read = strain(2**62, given.seed, 60 * given.minutes)
    print(f"{done} payloads, {read} of them gave readings, none raised anything.")


if __name__ == "__main__":
    main()
