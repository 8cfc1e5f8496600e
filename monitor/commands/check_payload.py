"""``laidup check --payload FILE --topic T``: what would become of a captured message."""

import argparse
import sys
import time

from monitor.intake.decode import Decoder
from monitor.intake.explain import explain_message
from monitor.intake.trust import TimePolicy
from monitor.settings.load import load_settings


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
    decoder = Decoder(settings.yard.sensors, TimePolicy(behind_s=float("inf")), settings.mappings)
    explained = explain_message(decoder, arguments.topic, payload, time.time_ns() // 1_000_000)
    for line in explained.lines:
        print(line)
    return 0 if explained.usable else 1
