"""Whether the tables of moves and craft say what the links of the chain say."""

import json
from collections.abc import Iterator, Mapping
from typing import Any

from monitor.craft.breaks import Break, StoredChain, Tampering, break_of
from monitor.craft.links import LinkKind


def move_breaks(chain: StoredChain, bodies: Mapping[int, dict[str, Any]]) -> Iterator[Break]:
    """Moves that are in the chain and not in the table, or the other way, or differ."""
    written = {}
    for number, said in sorted(bodies.items()):
        content = said.get(LinkKind.MOVE)
        if isinstance(content, dict):
            written[str(content.get("since"))] = (number, content)
    for since, (number, content) in written.items():
        row, part = chain.moves.get(since), f"move of {since}"
        told = f"The chain says that it stood in {_place(content)} from then on{_by(content)}."
        if row is None:
            yield break_of(
                *(chain.craft, part, Tampering.DELETED),
                *("is in the chain and not among the moves", number, told),
            )
        elif row != content:
            yield break_of(
                *(chain.craft, part, Tampering.CHANGED),
                f"now says {_move_words(row, content)}",
                *(number, told),
                stands=row,
            )
    for since, row in chain.moves.items():
        if since not in written:
            yield break_of(
                *(chain.craft, f"move of {since}", Tampering.ADDED),
                f"to {_place(row)} is among the moves and not in the chain",
                None,
                "If it was moved then, enter that with `laidup layup move`.",
                stands=row,
            )


def _by(content: Mapping[str, Any]) -> str:
    return f", moved by {content['by']}" if content.get("by") else ""


def _move_words(row: Mapping[str, Any], written: Mapping[str, Any]) -> str:
    """What a changed row says of a move, and what of it is not as it was written."""
    if not row:
        return "nothing that can be read"
    odd = sorted(key for key in {*row, *written} if row.get(key) != written.get(key))
    return f"{_place(row)}{_by(row)}, which differs in {', '.join(odd)}"


def _place(content: Mapping[str, Any]) -> str:
    return "/".join(str(content[key]) for key in ("space", "berth") if content.get(key))


def craft_row_breaks(chain: StoredChain, bodies: Mapping[int, dict[str, Any]]) -> Iterator[Break]:
    """The craft's row, where it is not the last version that was written."""
    versions = [
        (number, said[LinkKind.CRAFT])
        for number, said in sorted(bodies.items())
        if isinstance(said.get(LinkKind.CRAFT), dict)
    ]
    if not versions:
        if chain.row is not None:
            yield break_of(
                *(chain.craft, "craft row", Tampering.ADDED),
                "is in the table of craft and not in the chain",
                None,
                "Bring the craft in with `laidup import craft`.",
                stands=chain.row,
            )
        return
    number, last = versions[-1]
    if chain.row is None:
        yield break_of(
            *(chain.craft, "craft row", Tampering.DELETED),
            *("is in the chain and not in the table of craft", number),
            "Bring the craft in again with `laidup import craft`; its work is still on record.",
        )
    elif chain.row != last:
        odd = sorted(key for key in {*last, *chain.row} if last.get(key) != chain.row.get(key))
        told = "; ".join(f"{key}: {json.dumps(last.get(key), ensure_ascii=False)}" for key in odd)
        yield break_of(
            *(chain.craft, "craft row", Tampering.CHANGED),
            f"differs in {', '.join(odd)} from what was written",
            number,
            f"The chain says {told}. Put that back with `laidup import craft`.",
            stands=chain.row,
        )
