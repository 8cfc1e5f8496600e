"""Craft and stays as rows of their tables, and rows as craft and stays."""

import json
from dataclasses import replace
from datetime import datetime
from typing import Any

from sqlalchemy import Row

from monitor.clock import from_ms, to_ms
from monitor.craft.craft_stays import Craft, MeasuredLag, Stay


def craft_row(craft: Craft, yard_id: int) -> dict[str, Any]:
    """Row of the table of craft."""
    return {
        "yard_id": yard_id,
        "craft_id": craft.id,
        "name": craft.name,
        "profile": craft.profile,
        "fittings": json.dumps(list(craft.fittings)),
        "owner": craft.owner,
        "hull_number": craft.hull_number or None,
        "arrived_ms": to_ms(craft.arrived_at),
        "left_ms": None if craft.left_at is None else to_ms(craft.left_at),
        "measured": json.dumps(
            [
                {"circuit": lag.circuit, "low_h": lag.low_h, "high_h": lag.high_h, "how": lag.how}
                for lag in craft.measured
            ]
        ),
        "note": craft.note,
    }


def craft_of(row: Row[Any]) -> Craft:
    """Craft that a row holds.

    Raises
    ------
    ValueError, TypeError, OverflowError
        If the row holds none: somebody wrote into the table.
    """
    _refuse_bytes(row.name, row.profile, row.owner, row.note, row.hull_number or "")
    return Craft(
        id=row.craft_id,
        name=row.name,
        profile=row.profile,
        fittings=tuple(json.loads(row.fittings)),
        owner=row.owner,
        hull_number=row.hull_number or "",
        arrived_at=from_ms(row.arrived_ms),
        left_at=None if row.left_ms is None else from_ms(row.left_ms),
        measured=tuple(MeasuredLag(**lag) for lag in json.loads(row.measured)),
        note=row.note,
    )


def stay_row(stay: Stay, yard_id: int) -> dict[str, Any]:
    """Row of the table of stays."""
    return {
        "yard_id": yard_id,
        "craft_id": stay.craft,
        "since_ms": to_ms(stay.since),
        "space": stay.space,
        "berth": stay.berth,
        "by": stay.by,
    }


def stay_of(row: Row[Any]) -> Stay:
    """Stay that a row holds; ValueError, TypeError or OverflowError if it holds none."""
    # What is no text becomes some: the moment is taken by this row, and its chain names it.
    return Stay(
        craft=row.craft_id,
        since=from_ms(row.since_ms),
        space=str(row.space),
        berth=str(row.berth),
        by=str(row.by),
    )


def _refuse_bytes(*texts: object) -> None:
    """SQLite gives back whatever somebody wrote, of any kind."""
    for one in texts:
        if not isinstance(one, str):
            raise TypeError(f"{one!r} is no text")


def as_stored_craft(craft: Craft) -> Craft:
    """The craft as it reads back: times of the store are whole milliseconds."""
    left_at = None if craft.left_at is None else _whole_ms(craft.left_at)
    return replace(craft, arrived_at=_whole_ms(craft.arrived_at), left_at=left_at)


def as_stored_stay(stay: Stay) -> Stay:
    """The stay as it reads back: times of the store are whole milliseconds."""
    return replace(stay, since=_whole_ms(stay.since))


def _whole_ms(at: datetime) -> datetime:
    return from_ms(to_ms(at)).astimezone(at.tzinfo)
