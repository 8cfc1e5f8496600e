"""The parts of the yard's file that the page may change, item by item, and the way back."""

import math
from collections.abc import Mapping
from typing import Any

from monitor.settings.faults import Block
from monitor.settings.telling import DutyBlock
from monitor.settings.yard_file import (
    PersonBlock,
    SensorBlock,
    ShelfBlock,
    SpaceBlock,
    YardBlock,
    YardContent,
)
from monitor.units import STRENGTH, parse_quantity
from monitor.yard.yard_change import Item, ItemKey, YardPart

# Of a sensor the page says where it hangs; labels, limits and calibrations stay the file's.
PLACE_FIELDS = ("space", "mount", "craft", "circuit", "height_m", "note")
# Of [yard] the page says these; its id names the store, and its craft files are the file's.
YARD_FIELDS = (
    "name",
    "timezone",
    "latitude",
    "longitude",
    "temperature_unit",
    "volume_unit",
    "design_low",
    "telephone",
    "reply_to",
)
DUTY_KEY = "duty"
# The blocks that stand in lists, and which of their keys names one.
LISTS: Mapping[YardPart, tuple[type[Block], str]] = {
    YardPart.SPACES: (SpaceBlock, "id"),
    YardPart.SENSORS: (SensorBlock, "name"),
    YardPart.PEOPLE: (PersonBlock, "id"),
    YardPart.SHELF: (ShelfBlock, "id"),
}
# Fields that a file writes with their unit; inside they are SI.
_QUANTITIES: Mapping[tuple[type[Block], str], str] = {
    (YardBlock, "design_low"): "C",
    (SpaceBlock, "thermostat"): "C",
    (SpaceBlock, "storage_low"): "C",
    (ShelfBlock, "strength"): "%",
    (ShelfBlock, "container"): "L",
}


def said_by(block: Block) -> dict[str, Any]:
    """What a block says beyond the usual, as a file would write it, in one form for one meaning."""
    said: dict[str, Any] = block.model_dump(mode="json", exclude_defaults=True)
    for name, field in type(block).model_fields.items():
        if name in said and isinstance(getattr(block, name), frozenset):
            said[name] = sorted(said[name])
        unit = _QUANTITIES.get((type(block), name))
        if unit and name in said:
            said[name] = _with_unit(said[name], unit)
        if name in said and said[name] is None and not field.is_required():
            del said[name]
    if isinstance(block, DutyBlock) and block.shifts:
        said["shifts"] = [said_by(one) for one in block.shifts]
    return said


def items_of(content: YardContent) -> dict[ItemKey, Item]:
    """Every item that the page may change, by part and key, in the order of the file."""
    found: dict[ItemKey, Item] = {}
    whole = content.yard.model_dump(mode="json")
    for name in YARD_FIELDS:
        unit = _QUANTITIES.get((YardBlock, name))
        value = _with_unit(whole[name], unit) if unit else whole[name]
        if value is not None:
            found[YardPart.YARD, name] = {"value": value}
    for part, (_, named_by) in LISTS.items():
        for block in getattr(content, part.value):
            said = said_by(block)
            key = said.pop(named_by)
            found[part, key] = place_of(said) if part is YardPart.SENSORS else said
    for key, name in content.helpers.items():
        found[YardPart.HELPERS, key] = {"name": name}
    if duty := said_by(content.duty):
        found[YardPart.DUTY, DUTY_KEY] = duty
    return found


def place_of(said: Item) -> Item:
    """Of what is said of a sensor, where it hangs."""
    return {name: said[name] for name in PLACE_FIELDS if name in said}


def with_items(said: Mapping[str, Any], items: Mapping[ItemKey, Item | None]) -> dict[str, Any]:
    """The content of a yard's file with some items as they are now; None: gone.

    Parameters
    ----------
    said : mapping
        As TOML reads it. It stays as it is.
    items : mapping of item to what is said of it
        What it does not name stays as the file has it.

    Returns
    -------
    dict
        To be checked like any file.
    """
    out: dict[str, Any] = dict(said)
    out["yard"] = dict(said.get("yard", {}))
    for name in YARD_FIELDS:
        if (key := (YardPart.YARD, name)) in items:
            item = items[key]
            if item is None:
                out["yard"].pop(name, None)
            else:
                out["yard"][name] = item["value"]
    for part, (_, named_by) in LISTS.items():
        ours = {key: item for (of, key), item in items.items() if of is part}
        if ours:
            out[part.value] = _list_with(said.get(part.value, []), part, named_by, ours)
    helpers = {key: item for (of, key), item in items.items() if of is YardPart.HELPERS}
    if helpers:
        kept = {key: name for key, name in said.get("helpers", {}).items() if key not in helpers}
        ours = {key: item["name"] for key, item in helpers.items() if item is not None}
        out["helpers"] = kept | ours
    if (duty := (YardPart.DUTY, DUTY_KEY)) in items:
        out["duty"] = dict(items[duty] or {})
    return out


def _list_with(
    tables: list[dict[str, Any]],
    part: YardPart,
    named_by: str,
    ours: Mapping[str, Item | None],
) -> list[dict[str, Any]]:
    """A list of the file's tables with ours in place, those that are new behind the others."""
    made: list[dict[str, Any]] = []
    seen = set()
    for table in tables:
        key = table.get(named_by)
        if not isinstance(key, str) or key not in ours:
            made.append(table)
            continue
        seen.add(key)
        item = ours[key]
        if item is None:
            continue
        if part is YardPart.SENSORS:
            rest = {name: value for name, value in table.items() if name not in PLACE_FIELDS}
            made.append({**rest, **place_of(item)})
        else:
            made.append({**item, named_by: key})
    new = {key: item for key, item in ours.items() if key not in seen and item is not None}
    return [*made, *({**item, named_by: key} for key, item in new.items())]


def _with_unit(value: float, unit: str) -> str:
    """A quantity with its unit, in figures that read back as the very same number."""
    if unit != "%":
        return f"{value!r}{unit}"
    near = value * 100.0
    for text in (f"{near:.12g}", repr(near), repr(math.nextafter(near, 0.0)),
                 repr(math.nextafter(near, 101.0))):  # fmt: skip
        if parse_quantity(f"{text}%", STRENGTH) == value:
            return f"{text}%"
    return f"{near!r}%"
