"""Work of a file that names people as they are called, brought to their ids."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from functools import cache
from typing import Any

from monitor.craft.canonical import canonical_bytes, derived_id, entry_json
from monitor.craft.layup import LayupEntry
from monitor.yard.people import check_witness, person_id


def entries_by_id(
    entries: Iterable[LayupEntry], on_record: Iterable[LayupEntry], names: Mapping[str, str]
) -> tuple[LayupEntry, ...]:
    """The work of one craft with people by id; what is on record already as it stands there.

    Parameters
    ----------
    entries : iterable of LayupEntry
        As a file gives them.
    on_record : iterable of LayupEntry
        What is on record of that craft. The same work that was entered under a name, or under
        the id, is the same work: it is not entered a second time.
    names : mapping of str to str
        Who may enter work: names by id. Whoever is none of them keeps the name that was written.
    """
    known, written = list(on_record), list(entries)
    ids = {one.id for one in known}
    given = {one.id: one for one in written}
    found: dict[str, LayupEntry] = {}

    @cache
    def said_on_record() -> dict[bytes, LayupEntry]:  # asked for new work alone
        return {_words(with_ids(one, names)): one for one in known}

    def brought(entry: LayupEntry) -> LayupEntry:
        if entry.id in found or entry.id in ids:
            return found.setdefault(entry.id, entry)
        found[entry.id] = entry  # for corrections that lead round in a ring
        new = with_ids(entry, names)
        wrong = given.get(entry.replaces)
        if wrong is not None and wrong.id != entry.id:
            new = replace(new, replaces=brought(wrong).id)
        if entry.id == derived_id(entry):
            new = said_on_record().get(_words(new), replace(new, id=derived_id(new)))
        found[entry.id] = new
        return new

    return tuple(brought(one) for one in written)


def with_ids(entry: LayupEntry, names: Mapping[str, str]) -> LayupEntry:
    """The entry with everybody who is known by id; its own id stays."""
    return replace(
        entry,
        by=_id(entry.by, names),
        entered_by=_id(entry.entered_by, names),
        evidence=replace(entry.evidence, witness=_id(entry.evidence.witness, names)),
    )


def strangers(entry: LayupEntry, names: Mapping[str, str]) -> Iterable[tuple[str, ValueError]]:
    """Fields of an entry that name nobody, or nobody else, of the yard, each with what to do."""
    for field, said in (
        ("by", entry.by),
        ("entered_by", entry.entered_by),
        ("witness", entry.evidence.witness),
    ):
        try:
            person_id(said, names) if said else ""
        except ValueError as error:
            yield field, error
    known = with_ids(entry, names)
    try:
        check_witness(known.by, known.evidence.witness, names)
    except ValueError as error:
        yield "witness", error


def _id(said: str, names: Mapping[str, str]) -> str:
    try:
        return person_id(said, names) if said else ""
    except ValueError:
        return said


def _words(entry: LayupEntry) -> bytes:
    """All that an entry says, but for its id."""
    said: dict[str, Any] = entry_json(entry)
    del said["id"]
    return canonical_bytes(said)
