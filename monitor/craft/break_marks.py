"""Links that answer breaks: marks of work written behind one, a person's word, corrections.

Each function takes what the links of one craft's chain say, by their number.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from monitor.craft.links import LinkKind


@dataclass(frozen=True, slots=True, kw_only=True)
class BreakAnswer:
    """A link that names breaks, of whichever craft."""

    craft: str  # in whose chain it stands
    keys: frozenset[str]
    compared_by: str  # empty: it only marks them
    at: datetime


def answer_in(craft: str, said: Mapping[str, Any]) -> BreakAnswer | None:
    """What the body of a link says of breaks; None where it says nothing that can be read."""
    content = said.get(LinkKind.BREAK)
    keys = marked_keys(content)
    if keys is None or link_time_ms(said.get("written_at")) is None:
        return None
    by = content.get("compared_by") if isinstance(content, dict) else None
    return BreakAnswer(
        craft=craft,
        keys=frozenset(keys),
        compared_by=str(by or ""),
        at=datetime.fromisoformat(str(said["written_at"])),
    )


def marks_in(bodies: Mapping[int, dict[str, Any]]) -> dict[str, tuple[int, datetime]]:
    """Breaks that a link behind them names: the first such link and when it was written, by key."""
    known: dict[str, tuple[int, datetime]] = {}
    for number, said in sorted(bodies.items()):
        keys = marked_keys(said.get(LinkKind.BREAK))
        if keys and link_time_ms(said.get("written_at")) is not None:
            at = datetime.fromisoformat(str(said["written_at"]))
            known.update({key: (number, at) for key in keys if key not in known})
    return known


def confirmed_keys(bodies: Mapping[int, dict[str, Any]]) -> set[str]:
    """Breaks of which a person said that the record was compared with the paper."""
    found: set[str] = set()
    for said in bodies.values():
        content = said.get(LinkKind.BREAK)
        if isinstance(content, dict) and content.get("compared_by"):
            found.update(marked_keys(content) or ())
    return found


def last_corrections(bodies: Mapping[int, dict[str, Any]]) -> dict[str, int]:
    """Link that replaced an entry last, by the entry's id; a correction may be corrected itself."""
    found: dict[str, int] = {}
    for number, body in sorted(bodies.items(), reverse=True):
        said = body.get(LinkKind.ENTRY)
        if isinstance(said, dict) and "replaces" in said:
            last = max(number, found.get(str(said.get("id")), -1))
            found[str(said["replaces"])] = max(last, found.get(str(said["replaces"]), -1))
    return found


def marked_keys(content: object) -> list[str] | None:
    """Keys of the breaks that a link names as found; None where it holds no list of them."""
    found = content.get("found") if isinstance(content, dict) else None
    if not isinstance(found, list) or not all(isinstance(key, str) for key in found):
        return None
    return found


def link_time_ms(said: object) -> int | None:
    """A time in a link's body [ms since 1970]; None where it is none."""
    try:
        return round(datetime.fromisoformat(str(said)).timestamp() * 1000)
    except (ValueError, OverflowError):
        return None
