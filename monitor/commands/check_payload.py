"""``laidup check --payload FILE --topic T``: what would become of a captured message."""

import argparse
import sys
import time
from typing import NamedTuple

from monitor.clock import from_ms
from monitor.commands.printing import print_json
from monitor.errors import PayloadError
from monitor.intake.decode import Decoder
from monitor.intake.inbox import ArrivedMessage
from monitor.intake.trust import TimePolicy
from monitor.settings.load import load_settings


class Explained(NamedTuple):
    """What would become of a message."""

    lines: list[str]
    usable: bool  # all of it


def explain_message(decoder: Decoder, topic: str, payload: bytes, arrived_ms: int) -> Explained:
    """Explain how a message is read: its readings, and what is kept aside and why."""
    message = ArrivedMessage(topic, payload, arrived_ms, True, 0, 0, 0)
    mapping = decoder.mapping_for(topic)
    lines = [
        f"{topic}: read by the mapping {mapping.name!r}."
        if mapping is not None
        else f"{topic}: no mapping is for this topic, so it is read as SenML."
    ]
    try:
        records = decoder.read_records(message)
    except PayloadError as error:
        return Explained([*lines, f"Kept aside: {error}."], usable=False)
    lines.append(f"{len(records)} record{'s' if len(records) != 1 else ''}.")
    readings, reason = decoder.decode_records(records, message)
    for one in readings:
        channel = one.track.channel
        value = one.value * channel.resolution
        corrected = "" if one.raw is None else f", sent {one.raw * channel.resolution:g}"
        at = from_ms(one.at_ms).isoformat(timespec="seconds")
        lines.append(
            f"  {one.track.sensor}: {channel} {value:g} {channel.senml_unit}{corrected}, at {at}"
        )
    if reason:
        lines.append(f"Kept aside: {reason}.")
    return Explained(lines, usable=not reason)


def run(arguments: argparse.Namespace) -> int:
    """Read the message as intake would; 0 if all of it can be used, 1 if not, 2 without a topic."""
    if arguments.topic is None:
        print("--payload needs --topic: the topic that the message came on.", file=sys.stderr)
        return 2
    settings = load_settings(arguments.config)
    try:
        payload = arguments.payload.read_bytes()
    except OSError as error:
        print(f"{arguments.payload}: cannot be read: {error.strerror}", file=sys.stderr)
        return 2
    decoder = Decoder(
        settings.yard.sensors, TimePolicy(behind_s=float("inf")), settings.read_mappings()
    )
    explained = explain_message(decoder, arguments.topic, payload, time.time_ns() // 1_000_000)
    if arguments.json:
        print_json({"usable": explained.usable, "said": explained.lines})
        return 0 if explained.usable else 1
    for line in explained.lines:
        print(line)
    return 0 if explained.usable else 1
