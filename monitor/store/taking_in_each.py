"""Craft of files go into the record where others, or some of their own work, are refused."""

import logging
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime

from monitor.craft.act_table import CLAIMS
from monitor.craft.layup import Act, LayupEntry
from monitor.craft.profile import Profile
from monitor.craft.record import CraftRecord
from monitor.errors import RecordError, StoreError
from monitor.store.store import Store
from monitor.store.taking_in import NOBODY, TakenIn, take_in

log = logging.getLogger("laidup.store")

# Without circuits these speak of every one, also of those on which something was refused.
_OF_WHOLE_CRAFT = CLAIMS | {Act.KEPT_WARM, Act.STOOD, Act.OWNER_STATEMENT, Act.REPAIRED}


def take_in_each(
    store: Store,
    records: Sequence[CraftRecord],
    profiles: Mapping[str, Profile],
    now: datetime,
    by: str = "",
    names: Mapping[str, str] = NOBODY,
) -> TakenIn:
    """Enter whole craft; where one is refused, the others are taken in without it.

    Where new work contradicts itself, the work of that craft on other circuits is taken in.

    Returns
    -------
    TakenIn
        Its ``refused`` says what was refused, and why.

    Raises
    ------
    RecordError
        If something is refused that no one craft is to blame for.
    """
    rest, refused = list(records), []
    while True:
        try:
            with store.transaction() as tx:
                taken = take_in(tx.layup, rest, profiles, now, by, names)
        except RecordError as error:
            refused.append(error)
            named = {fault.craft for fault in error.faults}
            kept = [one for one in rest if one.craft.id not in named]
            if len(kept) == len(rest):
                raise  # of no craft that could be left out
            left = (_without_refused_work(one, error) for one in rest if one.craft.id in named)
            rest = [*kept, *(one for one in left if one is not None)]
        else:
            return replace(taken, refused=tuple(refused))


def keep_files_taken_in(store: Store, digest: str, taken: TakenIn) -> None:
    """Keep which craft files were just taken in whole, so that who only looks need not read them.

    Parameters
    ----------
    store : Store
    digest : str
        Of the files; empty where one of them could not be used.
    taken : TakenIn
        What became of all that they say.
    """
    whole = "" if taken.refused else digest
    try:
        with store.snapshot() as tx:
            known = tx.taken_files.craft_to_read(whole) == frozenset()
            if known or not (whole or tx.taken_files.kept_digest()):
                return
        with store.transaction(can_wait=True) as tx:
            tx.taken_files.keep_digest(whole, taken.position)
    except StoreError as error:  # they are read again each time: slower, and nothing else
        log.warning("Which craft files were taken in is not kept: %s", error)


def _without_refused_work(record: CraftRecord, error: RecordError) -> CraftRecord | None:
    """Leave out refused entries and all that may depend on them; None: nothing can be left.

    What is left out may have undone what stands before it. So nothing goes in on a circuit of
    which anything is left out; a run, or other work of the craft as a whole, goes in.
    """
    refused = _entries_refused(record, error)
    if refused is None or not all(
        one.act in CLAIMS and one.circuits and not one.replaces for one in refused
    ):
        return None
    out = _ids_that_depend_on(refused, record.entries)
    fitting = tuple(one for one in record.entries if one.id not in out)
    if any(one.act in _OF_WHOLE_CRAFT and not one.circuits for one in fitting):
        return None
    return replace(record, entries=fitting)


def _entries_refused(record: CraftRecord, error: RecordError) -> list[LayupEntry] | None:
    """Work of a craft that an error refuses; None where it refuses more of it than work."""
    ids = {one.entry for one in error.faults if one.craft == record.craft.id}
    return None if "" in ids else [one for one in record.entries if one.id in ids]


def _ids_that_depend_on(refused: Iterable[LayupEntry], entries: Sequence[LayupEntry]) -> set[str]:
    """Ids of refused work, of all on the same circuits and of what replaces any of it."""
    ids = {one.id for one in refused}
    while True:
        doubtful = {name for one in entries if one.id in ids for name in one.circuits}
        more = {one.id for one in entries if doubtful & set(one.circuits) or one.replaces in ids}
        if more <= ids:
            return ids
        ids |= more
