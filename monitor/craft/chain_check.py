"""Does a craft's chain hold, link by link? If not: where, in words."""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from hashlib import sha256
from typing import Any

from monitor.craft.break_marks import (
    confirmed_keys,
    last_corrections,
    link_time_ms,
    marked_keys,
    marks_in,
)
from monitor.craft.breaks import (
    Break,
    StoredChain,
    StoredEntry,
    StoredLink,
    Tampering,
    break_of,
    part_of_yard,
    position_of_key,
)
from monitor.craft.links import FIRST, LinkKind, content_of_body
from monitor.craft.row_check import craft_row_breaks, move_breaks

_SHOWN = 60  # letters of an odd value


def breaks_of(chain: StoredChain) -> tuple[Break, ...]:
    """Every break of one craft's record, the first of its chain first; empty if it holds.

    Parameters
    ----------
    chain : StoredChain
        Its rows, the links and entries in any order.
    """
    bodies = _read_bodies(chain)
    found = [
        *_link_breaks(chain, bodies),
        *_odd_row_breaks(chain),
        *move_breaks(chain, bodies),
        *craft_row_breaks(chain, bodies),
        *_breaks_at_end(chain, bodies),
    ]
    last = max((one.number for one in chain.links), default=-1)
    found.sort(key=lambda one: last + 1 if one.number is None else one.number)
    known = {key: at for key, (_, at) in marks_in(bodies).items()}
    return tuple(
        replace(one, words=_with_act(one, bodies), known_since=known.get(one.key)) for one in found
    )


def open_breaks_of(chain: StoredChain) -> tuple[Break, ...]:
    """Breaks that nobody has answered, so that nothing of the record can count.

    Work that is entered behind a break marks it and answers nothing, whoever enters it. An entry
    that is not what was written is answered by another that replaces it, written behind the mark;
    all else, of which nothing is left to replace, by a person's word that the record was compared
    with the paper. Both answer for what stood there then: changed once more, it is open again.
    """
    bodies = _read_bodies(chain)
    marks = marks_in(bodies)
    corrected = last_corrections(bodies)
    confirmed = confirmed_keys(bodies)

    def answered(one: Break) -> bool:
        if not one.entry_stands:
            return one.key in confirmed
        mark = marks.get(one.key)
        return mark is not None and corrected.get(one.entry or "", -1) > mark[0]

    return tuple(one for one in breaks_of(chain) if not answered(one))


def _with_act(one: Break, bodies: Mapping[int, dict[str, Any]]) -> str:
    """Words of a break; of an entry that stands there, with what it now says that was done."""
    said = {} if one.number is None else bodies.get(one.number, {}).get(LinkKind.ENTRY)
    if not isinstance(said, dict) or one.entry is None or "act" not in said:
        return one.words
    done = f" ({said['act']}, {str(said.get('at'))[:10]}, {said.get('by')})"
    return one.words.replace(one.part, one.part + done, 1)


def _read_bodies(chain: StoredChain) -> dict[int, dict[str, Any]]:
    """What each link says, by its number; empty for one that cannot be read."""
    of_entries = {one.number: one.body for one in chain.entries}
    return {
        link.number: content_of_body(
            of_entries.get(link.number, "") if link.kind == LinkKind.ENTRY else link.body
        )
        for link in chain.links
    }


def _breaks_at_end(chain: StoredChain, bodies: Mapping[int, dict[str, Any]]) -> Iterator[Break]:
    """Last links of the chain that are gone: the chain holds without them, the yard's order not.

    Where it may have been of several craft, it is a break of each: an act that undoes may be what
    is gone. Once something is written behind them the order tells no more whose they were; its
    mark does.
    """
    marked = {position_of_key(key) for key in marks_in(bodies)}
    for position in sorted({*chain.lost, *(one for one in marked if one is not None)}):
        several = chain.lost.get(position, 1) > 1
        of = f"it may have been of craft {chain.craft}, or of" if several else "it was of craft"
        whose = f"another of {chain.lost[position]}" if several else chain.craft
        yield break_of(
            *(chain.craft, part_of_yard(position), Tampering.DELETED),
            f"is gone, the last of its chain: {of} {whose}",
        )


def _odd_row_breaks(chain: StoredChain) -> Iterator[Break]:
    for one in chain.odd_rows:
        shown = ", ".join(f"{name} = {_beginning(one.values[name])}" for name in one.odd)
        yield break_of(
            *(chain.craft, f"row of {one.table}", Tampering.CHANGED),
            f"holds what laidup never writes there: {shown}",
            stands=one.values,
        )


def _beginning(text: str) -> str:
    return text if len(text) <= _SHOWN else f"{text[:_SHOWN]}…"


def _link_breaks(chain: StoredChain, bodies: Mapping[int, dict[str, Any]]) -> Iterator[Break]:
    links = {one.number: one for one in chain.links}
    entries = {one.number: one for one in chain.entries}
    places = {one.hash: one.number for one in chain.links}
    expected, position = 0, -1
    before: StoredLink | None = None
    fits = True  # whether the link before is there to be compared with
    for number in sorted(links.keys() | entries.keys()):
        link, entry = links.get(number), entries.get(number)
        if link is None:
            expected += number == expected
            added = entry.entry_id if entry else str(number)
            yield break_of(
                *(chain.craft, f"entry {added}", Tampering.ADDED),
                "stands among the work, and its link is gone or was never written",
                stands=_standing_rows(None, entry),
                entry=added,
            )
            fits = False
            continue
        if number != expected:
            yield _missing(chain.craft, expected, number)
            fits = False
        expected = number + 1
        part, of = _part(link, entry, bodies[number]), _work_of(link, entry)
        if link.kind == LinkKind.ENTRY and entry is None:
            yield break_of(
                *(chain.craft, part, Tampering.DELETED),
                f"was written as link {number} of the chain and stands there no more",
                number,
            )
        elif wrong := _own_fault(chain.craft, link, entry, bodies[number], places):
            stands = _standing_rows(link, entry)
            yield break_of(chain.craft, part, *wrong, number, stands=stands, entry=of)
        elif fits and bodies[number].get("before") != (before.hash if before else FIRST):
            yield _behind_another(chain.craft, before, entries, bodies, link)
        if link.position <= position:
            yield break_of(
                *(chain.craft, part, Tampering.REORDERED),
                "stands before an older link in the yard's order of writing",
                number,
                stands=_standing_rows(link, entry),
                entry=of,
            )
        before, fits, position = link, True, link.position


def _own_fault(
    craft: str,
    link: StoredLink,
    entry: StoredEntry | None,
    said: Mapping[str, Any],
    places: Mapping[str, int],
) -> tuple[Tampering, str] | None:
    """What is wrong with a link looked at alone."""
    body = link.body if entry is None or link.kind != LinkKind.ENTRY else entry.body
    if (changed := _fault_of_bytes(link, body, places)) is not None:
        return changed
    content = said.get(link.kind)
    if not isinstance(content, dict) or (link.kind == LinkKind.ENTRY and link.body):
        return Tampering.CHANGED, "is not of the kind that the list of links says"
    if link_time_ms(said.get("written_at")) is None:
        return Tampering.CHANGED, "does not say when it was written"
    if link.kind == LinkKind.BREAK and marked_keys(content) is None:
        return Tampering.CHANGED, "marks no breaks that laidup could have found"
    if said.get("number") != link.number:
        written = said.get("number")
        return Tampering.REORDERED, f"stands at place {link.number} and was written at {written}"
    of_craft = content.get("id" if link.kind == LinkKind.CRAFT else "craft", craft)
    if of_craft != craft:
        return Tampering.REORDERED, f"was written in the chain of craft {of_craft}"
    if entry is not None and (entry.hash, entry.entry_id, entry.at_ms) != (
        link.hash,
        content.get("id"),
        link_time_ms(content.get("at")),
    ):
        return Tampering.CHANGED, "has another id, time or hash in its row than it was written with"
    return None


def _fault_of_bytes(
    link: StoredLink, body: str, places: Mapping[str, int]
) -> tuple[Tampering, str] | None:
    """What is wrong with a link whose bytes are not those that were hashed; None if they are."""
    digest = sha256(body.encode()).hexdigest()
    if digest == link.hash:
        return None
    other = places.get(digest)
    if other is not None:
        return Tampering.REORDERED, f"stands at place {link.number} and was written at {other}"
    return Tampering.CHANGED, "was changed after it was written"


def _behind_another(
    craft: str,
    before: StoredLink | None,
    entries: Mapping[int, StoredEntry],
    bodies: Mapping[int, dict[str, Any]],
    link: StoredLink,
) -> Break:
    """A link that was written behind another than stands before it: that one is not what it was."""
    number = link.number
    if before is None:
        entry = entries.get(number)
        return break_of(
            craft,
            _part(link, entry, bodies[number]),
            Tampering.REORDERED,
            "does not begin the chain, but stands first",
            number,
            stands=bodies[number],
            entry=_work_of(link, entry),
        )
    entry = entries.get(before.number)
    changed = _part(before, entry, bodies[before.number])
    return break_of(
        *(craft, changed, Tampering.CHANGED),
        f"is not what link {number} was written behind: it was changed with its hash, or put in",
        before.number,
        stands=_standing_rows(before, entry),
        entry=_work_of(before, entry),
    )


def _standing_rows(link: StoredLink | None, entry: StoredEntry | None) -> list[object]:
    """Everything that the rows of one place of the chain say now."""
    of_link = () if link is None else (link.position, link.kind, link.hash, link.body)
    of_entry = () if entry is None else (entry.entry_id, entry.at_ms, entry.hash, entry.body)
    return [*of_link, *of_entry]


def _missing(craft: str, first: int, after: int) -> Break:
    several = f"links {first} to {after - 1}" if after - first > 1 else f"link {first}"
    are = "are" if after - first > 1 else "is"
    return break_of(craft, several, Tampering.DELETED, f"of the chain {are} gone", first)


def _work_of(link: StoredLink, entry: StoredEntry | None) -> str | None:
    """Id of the work that a link holds; None where it holds none, or none stands there."""
    return entry.entry_id if link.kind == LinkKind.ENTRY and entry is not None else None


def _part(link: StoredLink, entry: StoredEntry | None, said: Mapping[str, Any]) -> str:
    content = said.get(link.kind)
    content = content if isinstance(content, dict) else {}
    if (of := _work_of(link, entry)) is not None:
        return f"entry {of}"
    if link.kind == LinkKind.MOVE and "since" in content:
        return f"move of {content['since']}"
    if link.kind == LinkKind.CRAFT:
        return f"version {link.number} of the craft row"
    return f"link {link.number}"
