"""What a craft's label tells: where it stands, its weakest circuit, and the work behind that."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from itertools import takewhile

from monitor.craft.account import season
from monitor.craft.craft_stays import Shelter, stay_at
from monitor.craft.layup import ANTIFREEZE, FOGGING, Act, LayupEntry
from monitor.craft.profile import Profile
from monitor.craft.protection import Basis, LayupState, Protection
from monitor.craft.reach import reached
from monitor.craft.record import (
    CANNOT_BE_ADDED_UP,
    CraftRecord,
    protections_on_record,
    without_work,
)
from monitor.craft.spring_progress import spring_progress
from monitor.craft.worst_order import weakest_protection
from monitor.wording import Wording

_TAKES_OUT = frozenset({Act.DRAINED, Act.BLOWN_OUT, Act.FLUSHED})  # what was poured before
# Work that lays a craft up again after it was made ready for the water.
_LAYS_UP = ANTIFREEZE | FOGGING | {Act.DRAINED, Act.BLOWN_OUT, Act.KEPT_WARM}


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelFigures:
    """One craft at one time.

    Invariant: ``poured`` and ``sample`` stand only beside a circuit that is proven to hold a mix,
    so that undone work is never read as protection.
    """

    craft: str
    name: str
    space: str  # its name; empty: the record does not say where it stands
    berth: str
    weakest: Protection
    weakest_name: str
    circuits: int
    unproven: tuple[Protection, ...]  # all that are judged as water, the weakest of them with them
    circuit_names: Mapping[str, str]
    poured: tuple[LayupEntry, ...]  # antifreeze that the weakest circuit holds, newest first
    sample: LayupEntry | None  # the reading off it that counts
    signed_off: LayupEntry | None  # it was made ready for the water; None: it is laid up
    unreadable: str
    low_c: float  # coldest that it is to stand [°C]
    at: datetime

    @property
    def holds_low(self) -> bool:
        """Whether every circuit is shown to have no ice at the low that it is to stand."""
        return not self.unproven and self.weakest.ice_point_c <= self.low_c


def gather_label(
    record: CraftRecord,
    shelters: Mapping[str, Shelter],
    at: datetime,
    low_c: float,
    words: Wording,
) -> LabelFigures:
    """What a craft's label tells at a time.

    Parameters
    ----------
    record : CraftRecord
        All that is on record; of one that cannot be read or added up nothing counts, and every
        circuit is water.
    shelters : mapping of str to Shelter
        The yard's spaces by id.
    at : datetime
    low_c : float
        Coldest that the craft is to stand [°C].
    words : Wording
        Of the reasons that come with the protections.
    """
    try:
        return _gather(record, shelters, at, low_c, words)
    except CANNOT_BE_ADDED_UP as error:
        return _gather(without_work(record, error), shelters, at, low_c, words)


def _gather(
    record: CraftRecord,
    shelters: Mapping[str, Shelter],
    at: datetime,
    low_c: float,
    words: Wording,
) -> LabelFigures:
    held = protections_on_record(record, shelters, at, words)
    weakest = weakest_protection(held)
    profile = record.profile
    names = {one.circuit.id: one.circuit.name for one in profile.circuits}
    stay = stay_at(record.stays, at)
    of_season = tuple(one for one in record.standing(at) if season(one.at) == season(at))
    holds_mix = weakest.state is LayupState.PROVEN and weakest.basis is not Basis.DRAINED
    treating = _work_on(weakest.circuit, of_season, profile) if holds_mix else ()
    space = "" if stay is None else stay.space
    return LabelFigures(
        craft=record.craft.id,
        name=record.craft.name,
        space=shelters[space].name if space in shelters else space,
        berth="" if stay is None else stay.berth,
        weakest=weakest,
        weakest_name=names[weakest.circuit],
        circuits=len(held),
        unproven=tuple(one for one in held.values() if one.state is not LayupState.PROVEN),
        circuit_names=names,
        poured=_poured_since_emptied(treating),
        sample=_sample_of(weakest, treating),
        signed_off=_sign_off(record, shelters, of_season, at),
        unreadable=record.unreadable,
        low_c=low_c,
        at=at,
    )


def _work_on(
    circuit: str, entries: tuple[LayupEntry, ...], profile: Profile
) -> tuple[LayupEntry, ...]:
    """What reached a circuit, newest first."""
    return tuple(one for one in reversed(entries) if circuit in reached(one, profile))


def _poured_since_emptied(newest_first: tuple[LayupEntry, ...]) -> tuple[LayupEntry, ...]:
    since = takewhile(lambda one: one.act not in _TAKES_OUT, newest_first)
    return tuple(one for one in since if one.act in ANTIFREEZE)


def _sample_of(held: Protection, newest_first: tuple[LayupEntry, ...]) -> LayupEntry | None:
    """The reading on which a protection rests; None where it was reckoned, not read."""
    if held.basis is not Basis.MEASURED:
        return None
    read = [one for one in newest_first if one.evidence.ice_point_c is not None]
    return next((one for one in read if one.at == held.sampled_at), None)


def _sign_off(
    record: CraftRecord,
    shelters: Mapping[str, Shelter],
    of_season: tuple[LayupEntry, ...],
    at: datetime,
) -> LayupEntry | None:
    """The entry by which it may be started, if nothing has laid it up since.

    A sign-off of spring counts while no step in front of it is open.
    """
    if any(entry.act is Act.SIGNED_OFF for entry in of_season):
        progress = spring_progress(record, shelters, at)
        if progress.may_be_started and progress.signed_off is not None:
            return progress.signed_off
    for entry in reversed(of_season):
        if entry.act in _LAYS_UP:
            return None
        if entry.act is Act.COMMISSIONED:
            return entry
    return None
