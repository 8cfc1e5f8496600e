"""Explains how one captured message is read, to try a mapping before it is used."""

from typing import NamedTuple

from monitor.clock import from_ms
from monitor.errors import PayloadError
from monitor.intake.decode import Decoder
from monitor.intake.inbox import ArrivedMessage


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
