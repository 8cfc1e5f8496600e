"""The yard's file with what people changed at the page, and the refusal of a file that differs.

An item belongs to the file until the page changes it, and to the store from then on. The file on
the disk may say what the item was at any time since: it is only older, and the store has the word.
A file that says a third thing was written by somebody who did not know of the page: which of the
two holds is for a person to say, so the file is refused, with the command that writes it anew.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

from monitor.errors import Fault
from monitor.settings.faults import key_path
from monitor.settings.yard_file import YardContent
from monitor.settings.yard_items import LISTS, items_of, place_of
from monitor.yard.space import Mount, Sensor, earlier_name
from monitor.yard.yard_change import (
    ALWAYS,
    Item,
    ItemKey,
    YardChange,
    YardPart,
    changes_by_item,
    standing_changes,
)

EXPORT = "laidup export yard"
_LONGEST = 80  # of a value in a fault


def present_items(changes: Iterable[YardChange]) -> dict[ItemKey, Item | None]:
    """The items that the store has the word on, as they are now; None: gone."""
    return {item: ours[-1].after for item, ours in changes_by_item(changes).items()}


def find_differences(
    content: YardContent, changes: Sequence[YardChange], path: Path
) -> list[Fault]:
    """Items of the file that are neither as the store has them nor as they once were.

    Parameters
    ----------
    content : YardContent
        The file's own, without what the store says.
    changes : sequence of YardChange
    path : Path
        The file, for the faults.

    Returns
    -------
    list of Fault
        One for each field that differs, with both values and the command that mends it.
    """
    filed = items_of(content)
    faults: list[Fault] = []
    for item, ours in changes_by_item(changes).items():
        part, _ = item
        says, now = _compared(part, filed.get(item)), _compared(part, ours[-1].after)
        known = [_compared(part, ours[0].before), *(_compared(part, one.after) for one in ours)]
        if says not in known:
            faults.extend(_faults_of(content, item, says, now, ours[-1], path))
    return faults


def _compared(part: YardPart, item: Item | None) -> Item | None:
    return place_of(item) if item is not None and part is YardPart.SENSORS else item


def _faults_of(
    content: YardContent,
    item: ItemKey,
    says: Item | None,
    now: Item | None,
    latest: YardChange,
    path: Path,
) -> Iterable[Fault]:
    here = _place_in_file(content, item)
    since = f"since {latest.at:%Y-%m-%d %H:%M} UTC by {latest.by}"
    remedy = (
        f"`{EXPORT} --out {path.name}` writes the file as the page has it; then change it there."
    )
    if says is None or now is None:
        problem = (
            f"the file has no {item[1]!r}, which the page has {since}"
            if says is None
            else f"the file has {item[1]!r}, which was taken out at the page {since}"
        )
        yield Fault(file=str(path), key=here, problem=problem, remedy=remedy)
        return
    for name in dict.fromkeys((*says, *now)):
        if says.get(name) != now.get(name):
            key = here if item[0] is YardPart.YARD else f"{here}.{name}"
            problem = f"the file says {_shown(says, name)}, the page {_shown(now, name)} {since}"
            yield Fault(file=str(path), key=key, problem=problem, remedy=remedy)


def _shown(item: Item, name: str) -> str:
    if name not in item:
        return "nothing"
    text = repr(item[name])
    return text if len(text) <= _LONGEST else f"{text[:_LONGEST]}…"


def _place_in_file(content: YardContent, item: ItemKey) -> str:
    part, key = item
    if part is YardPart.YARD:
        return f"yard.{key}"
    if part not in LISTS:
        return part.value if part is YardPart.DUTY else f"{part.value}.{key}"
    named_by = LISTS[part][1]
    keys = [getattr(block, named_by) for block in getattr(content, part.value)]
    return key_path((part.value, keys.index(key))) if key in keys else part.value


def sensors_by_place(
    sensors: Sequence[Sensor], changes: Iterable[YardChange]
) -> tuple[tuple[Sensor, ...], tuple[Sensor, ...]]:
    """Sensors with the time since when each hangs where it does, and where they hung before.

    Parameters
    ----------
    sensors : sequence of Sensor
        As they hang now.
    changes : iterable of YardChange
        All of the yard. What somebody took back was never so.

    Returns
    -------
    tuple of tuple of Sensor, twice
        The same sensors; and one for each earlier place, under a name of its own (`earlier_name`),
        its readings to count from ``since`` to ``until``.
    """
    stays = _stays_by_sensor(changes)
    now: list[Sensor] = []
    earlier: list[Sensor] = []
    for sensor in sensors:
        *before, last = stays.get(sensor.name, [_Stay(None, None, None)])
        now.append(replace(sensor, since=last.since))
        earlier.extend(_as_sensors(sensor, before))
    known = {sensor.name for sensor in sensors}
    for name, gone in stays.items():
        if name not in known:
            earlier.extend(_as_sensors(Sensor(name=name, space=""), gone))
    return tuple(now), tuple(earlier)


class _Stay:
    """One place of one sensor, from when to when; ``item`` None: none, it was taken down."""

    def __init__(self, item: Item | None, since: datetime | None, until: datetime | None) -> None:
        self.item, self.since, self.until = item, since, until


def _stays_by_sensor(changes: Iterable[YardChange]) -> dict[str, list[_Stay]]:
    found: dict[str, list[_Stay]] = {}
    for one in standing_changes(changes):
        if one.part is not YardPart.SENSORS:
            continue
        stays = found.setdefault(one.key, [_Stay(one.before, None, None)])
        since = None if one.since <= ALWAYS else one.since
        if since is not None and _air_of(one.after) == _air_of(stays[-1].item):
            stays[-1].item = one.after  # only its note or its height
            continue
        # What was written as a mistake ends where the truth begins.
        while stays and (since is None or (stays[-1].since or ALWAYS) >= since):
            stays.pop()
        if stays:
            stays[-1].until = since
        stays.append(_Stay(one.after, since, None))
    return found


def _air_of(item: Item | None) -> Mapping[str, Any] | None:
    """What decides whose temperature a sensor tells."""
    if item is None:
        return None
    return {name: item.get(name) for name in ("space", "mount", "craft", "circuit")}


def _as_sensors(sensor: Sensor, stays: Iterable[_Stay]) -> Iterable[Sensor]:
    for one in stays:
        if one.item is None or one.until is None:
            continue
        yield replace(
            sensor,
            name=earlier_name(sensor.name, one.until),
            space=str(one.item["space"]),
            mount=Mount(one.item.get("mount", Mount.AIR.value)),
            craft=one.item.get("craft"),
            circuit=one.item.get("circuit"),
            height_m=one.item.get("height_m"),
            note=one.item.get("note", ""),
            since=one.since,
            until=one.until,
        )
