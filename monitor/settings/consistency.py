"""What each block of the yard's file alone cannot know: doubles, and names that lead nowhere."""

from collections import Counter
from collections.abc import Container, Iterable
from pathlib import Path

from monitor.craft.record import CraftRecord
from monitor.errors import (
    Fault,
    as_sentence,
)
from monitor.settings.channel_blocks import CHANNEL_BLOCKS, missing_secrets
from monitor.settings.faults import key_path, one_of
from monitor.settings.yard_file import PersonBlock, YardContent
from monitor.web.access.callers import BEYOND, is_loopback
from monitor.yard.message import is_text_channel
from monitor.yard.space import Mount, Role


def find_inconsistencies(content: YardContent) -> Iterable[tuple[str, str, str]]:
    """What each block alone cannot know: doubles, and names that lead nowhere."""
    yield from _doubled_names(content)
    spaces = [space.id for space in content.spaces]
    yield from _sensor_faults(content, spaces)
    if not any(Role.OPERATOR in person.roles for person in content.people):
        yield (
            "people",
            "nobody has the role operator, so nobody would be told of a cold night",
            'Give someone roles = ["operator"].',
        )
    yield from _telling_faults(content, spaces)
    asks_nobody = content.web.access == "open"
    if content.web.enabled and asks_nobody and not is_loopback(content.web.host):
        yield (
            "web.host",
            f"the page would listen on {content.web.host!r}",
            as_sentence(BEYOND),
        )
    if content.mail is not None and content.folder is not None:
        yield "folder", "mails are both sent and written to a folder", "Keep [mail] or [folder]."


def _doubled_names(content: YardContent) -> Iterable[tuple[str, str, str]]:
    for key, ids in (
        ("spaces", [space.id for space in content.spaces]),
        ("sensors", [sensor.name for sensor in content.sensors]),
        ("people", [*(person.id for person in content.people), *content.helpers]),
        ("shelf", [product.id for product in content.shelf]),
    ):
        for double, times in Counter(ids).items():
            if times > 1:
                yield key, f"{double!r} stands there {times} times", "Keep one of them."


def _sensor_faults(content: YardContent, spaces: list[str]) -> Iterable[tuple[str, str, str]]:
    for n, sensor in enumerate(content.sensors):
        here = key_path(("sensors", n))
        if sensor.space not in spaces:
            yield (
                f"{here}.space",
                f"sensor {sensor.name} stands in {sensor.space!r}, which is no space of this yard",
                one_of(sensor.space, spaces),
            )
        if sensor.mount is Mount.BATTERY and sensor.craft is None:
            yield f"{here}.craft", "a maintainer must say whose battery it feeds", "Add craft."
        if sensor.topic is not None and sensor.user is not None:
            yield f"{here}.user", "it is tied to a topic already", "Keep topic or user."
        if sensor.circuit is not None and sensor.craft is None:
            yield f"{here}.craft", "a circuit's probe must say which craft it is in", "Add craft."


def _telling_faults(content: YardContent, spaces: list[str]) -> Iterable[tuple[str, str, str]]:
    """What is wrong between people, duty, channels and alarms."""
    people = [person.id for person in content.people]
    for n, person in enumerate(content.people):
        here = key_path(("people", n))
        for space in sorted(person.spaces - set(spaces)):
            yield f"{here}.spaces", f"{space!r} is no space of this yard", one_of(space, spaces)
        yield from _channel_faults(content, person, here)
    for n, shift in enumerate(content.duty.shifts):
        if shift.person not in people:
            yield (
                f"{key_path(('duty', 'shifts', n))}.person",
                f"{shift.person!r} is nobody in the list of people",
                one_of(shift.person, people),
            )
    for called in content.duty.next_called:
        if called not in people:
            yield (
                "duty.next_called",
                f"{called!r} is nobody in the list of people",
                one_of(called, people),
            )
    yield from missing_secrets(content.channel_blocks())
    if content.alarms:
        yield from _alarm_faults(content)


def _alarm_faults(content: YardContent) -> Iterable[tuple[str, str, str]]:
    """Causes of alarm that there are not, and limits that cannot be."""
    from monitor.alarms.definitions import DEFINITIONS, adjusted

    for cause, block in content.alarms.items():
        key = f"alarms.{cause}"
        if cause not in DEFINITIONS:
            yield key, "laidup knows no such cause of alarm", one_of(cause, list(DEFINITIONS))
            continue
        try:
            adjusted({cause: block.to_adjustment()})
        except ValueError as error:
            yield key, str(error), "Correct it, or leave it out for the usual."


def _channel_faults(
    content: YardContent, person: PersonBlock, here: str
) -> Iterable[tuple[str, str, str]]:
    """Channels of a person that the file has not, and texts to nobody's number."""
    known = ["mail", *CHANNEL_BLOCKS]
    for name in person.channels:
        if name not in known:
            yield f"{here}.channels", f"{name!r} is no channel", one_of(name, known)
        elif name != "mail" and name not in content.channel_blocks():
            yield (
                f"{here}.channels",
                f"{person.id} is to be told by {name}, and there is none",
                f"Add [{name}], or take it out of channels.",
            )
        elif is_text_channel(name) and not person.phone:
            yield f"{here}.phone", f"{person.id} is to get texts, and has no number", "Add phone."


def lost_probes(
    content: YardContent,
    file: Path,
    craft: tuple[CraftRecord, ...],
    placed_at_page: Container[str] = (),
) -> list[Fault]:
    """Sensors on craft or circuits that no craft file holds.

    Without craft files the craft come by ``laidup import`` or the page, and only the store knows
    them; of sensors that were ``placed_at_page`` too the craft may have come there.
    """
    circuits = {
        record.craft.id: [one.circuit.id for one in record.profile.circuits] for record in craft
    }
    faults: list[Fault] = []
    for n, sensor in enumerate(content.sensors if circuits else ()):
        known, key, value = circuits.get(sensor.craft or ""), "craft", sensor.craft
        if sensor.craft is None or sensor.name in placed_at_page:
            continue
        if known and sensor.circuit in (None, *known):
            continue
        if known:
            key, value = "circuit", sensor.circuit
        faults.append(
            Fault(
                file=str(file),
                key=f"{key_path(('sensors', n))}.{key}",
                problem=f"sensor {sensor.name} is on {key} {value!r}, which no craft file holds",
                remedy=one_of(str(value), known or list(circuits)),
            )
        )
    return faults
