"""All that the chain of one craft tells, link by link, each at its place in the order of work."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from monitor.craft.canonical import UNREADABLE, entry_of
from monitor.craft.conflicting_words import judged_order
from monitor.craft.craft_stays import Stay
from monitor.craft.layup import Act, LayupEntry
from monitor.craft.links import Link, LinkKind, content_of_body
from monitor.craft.record import CraftRecord

_LATE = timedelta(hours=12)  # written down so long after the work that it matters
Place = tuple[datetime, int]  # a time, and the place among all that counts as done at it


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordEvent:
    """One link of a craft's chain.

    Invariant: of ``entry``, ``move`` and ``changed`` at most one is there; with none of them the
    chain did not hold before it, or, where ``is_readable`` is false, nobody can read it.
    """

    number: int
    place: Place
    at: datetime  # of what it tells
    written_at: datetime | None  # None: nobody can tell
    is_readable: bool = True
    entry: LayupEntry | None = None
    replaced_by: str = ""  # id of the entry that corrects or withdraws it
    move: Stay | None = None
    changed: tuple[Mapping[str, Any], Mapping[str, Any]] | None = None  # the craft, before and now
    by: str = ""  # whose doing a change of the craft was

    @property
    def is_late(self) -> bool:
        """Whether it was written down long after the work."""
        return self.written_at is not None and self.written_at - self.at > _LATE


def record_events(record: CraftRecord, links: Sequence[Link], until: datetime) -> list[RecordEvent]:
    """Every link of a craft's chain that tells of a time until then, in the order of work.

    Moves stand before work of the same time. A correction stands right under what it corrects,
    whatever time it gives for the work.
    """
    places = places_in_work(record, until)
    replaced = {one.replaces: one.id for one in record.on_record if one.replaces}
    found: list[RecordEvent] = []
    known: Mapping[str, Any] | None = None
    last = datetime.min.replace(tzinfo=UTC)
    for link in links:
        body = content_of_body(link.body)
        try:
            told = _event_of(link, body, known, places, replaced)
        except UNREADABLE:
            # It stands where it was written, behind the link before it.
            told = RecordEvent(
                number=link.number, place=(last, -1), at=last, written_at=None, is_readable=False
            )
        if told is not None:
            last = told.at
            if told.at <= until:
                found.append(told)
        known = body["craft"] if isinstance(body.get("craft"), dict) else known
    return sorted(found, key=lambda one: (one.place, one.number))


def places_in_work(record: CraftRecord, at: datetime) -> dict[str, Place]:
    """Where each entry stands in the order by which circuits are judged.

    What was corrected stands with what took its place; what was withdrawn at its own time.
    """
    entries = record.on_record
    by_id = {one.id: one for one in entries}
    found = {one.id: (one.at, len(entries)) for one in entries}
    for number, done in enumerate(judged_order(entries, at)):
        step: LayupEntry | None = done.entry
        passed: set[str] = set()
        while step is not None and step.id not in passed:
            found[step.id] = (done.at, number)
            passed.add(step.id)
            step = by_id.get(step.replaces)
    return found


def _event_of(
    link: Link,
    body: Mapping[str, Any],
    known: Mapping[str, Any] | None,
    places: Mapping[str, Place],
    replaced: Mapping[str, str],
) -> RecordEvent | None:
    """One link at the time of what it tells; None for the first version of a craft."""
    written = datetime.fromisoformat(body["written_at"])
    if link.kind is LinkKind.ENTRY:
        entry = entry_of(body["entry"])
        return RecordEvent(
            number=link.number,
            place=places.get(entry.id, (entry.at, -1)),
            at=entry.at,
            written_at=written,
            entry=entry,
            replaced_by=replaced.get(entry.id, ""),
        )
    if link.kind is LinkKind.MOVE:
        said = body["move"]
        move = Stay(
            craft=str(said.get("craft", "")),
            space=said["space"],
            berth=said.get("berth", ""),
            since=datetime.fromisoformat(said["since"]),
            by=said.get("by", ""),
        )
        return RecordEvent(
            number=link.number, place=(move.since, -1), at=move.since, written_at=written, move=move
        )
    if link.kind is LinkKind.CRAFT and known is None:
        return None
    changed = (known, body["craft"]) if link.kind is LinkKind.CRAFT and known is not None else None
    return RecordEvent(
        number=link.number,
        place=(written, -1),
        at=written,
        written_at=written,
        changed=changed,
        by=str(body.get("by") or ""),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkTold:
    """One piece of work with every version of it, the first one first; the last is what counts."""

    versions: tuple[RecordEvent, ...]

    @property
    def is_withdrawn(self) -> bool:
        """Whether it was entered by mistake, and taken back."""
        last = self.versions[-1].entry
        return last is not None and last.act is Act.WITHDRAWN


def newest_first(events: Sequence[RecordEvent]) -> list[WorkTold]:
    """Group the versions of one piece of work, and put the newest work first."""
    heads: dict[str, str] = {}  # of each entry's id the id of the first version
    groups: dict[object, list[RecordEvent]] = {}
    for event in sorted(events, key=lambda one: one.number):
        if event.entry is None:
            groups[event.number] = [event]
            continue
        head = heads.get(event.entry.replaces, event.entry.id)
        heads[event.entry.id] = head
        groups.setdefault(head, []).append(event)
    told = [WorkTold(versions=tuple(group)) for group in groups.values()]
    return sorted(
        told, key=lambda one: (one.versions[-1].place, one.versions[-1].number), reverse=True
    )
