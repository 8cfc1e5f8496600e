"""Which work settles a finding: only work that can physically put right what was found.

A crack is no smaller for being looked at, and a cover mends no leak. `TABLE` says it for each kind
of finding. Of what kind a finding is, its words do not decide: of a kind that nobody stated, only
what settles every kind settles it, and of a few parts what is done to that very part.
"""

from collections.abc import Iterable, Mapping
from enum import Enum, auto

from monitor.craft.act_table import is_mute
from monitor.craft.layup import Act, FindingKind, LayupEntry, OilAppearance, Seen
from monitor.craft.profile import Profile
from monitor.craft.work_order import earliest_time, latest_time


class Shown(Enum):
    """What has to be seen with an act before it settles a finding."""

    NOTHING_MORE = auto()  # the act alone does
    DRY = auto()  # seen dry
    CLEAR_OIL = auto()
    READING = auto()  # a sample's
    DRY_OR_READING = auto()  # no ice in it, whatever it holds


# Common practice, no source. What clears a blockage is one with `act_table`: a repair, an opened
# circuit, all drains probed and seen dry; water or air that comes through may have gone round it.
TABLE: Mapping[FindingKind, Mapping[Act, Shown]] = {
    FindingKind.ICE: {
        Act.REPAIRED: Shown.NOTHING_MORE,
        Act.INSPECTED: Shown.DRY_OR_READING,
        Act.DRAINED: Shown.DRY,
    },
    FindingKind.CRACK: {Act.REPAIRED: Shown.NOTHING_MORE},
    FindingKind.BLOCKED: {
        Act.REPAIRED: Shown.NOTHING_MORE,
        Act.CIRCUIT_OPENED: Shown.NOTHING_MORE,
        Act.DRAINED: Shown.DRY,
    },
    FindingKind.LEAK: {Act.REPAIRED: Shown.NOTHING_MORE},
    FindingKind.WATER: {
        Act.REPAIRED: Shown.NOTHING_MORE,
        Act.OIL_CHANGED: Shown.CLEAR_OIL,
        Act.DRAINED: Shown.DRY,
        Act.BLOWN_OUT: Shown.DRY,
        Act.INSPECTED: Shown.DRY,
        Act.BILGE_DRIED: Shown.NOTHING_MORE,
    },
    FindingKind.READING: {
        Act.REPAIRED: Shown.NOTHING_MORE,  # the instrument was put right
        Act.INSPECTED: Shown.READING,
        Act.ANTIFREEZE_POURED: Shown.READING,
        Act.ANTIFREEZE_RUN_THROUGH: Shown.READING,
    },
}
_ANY_KIND: Mapping[Act, Shown] = {Act.REPAIRED: Shown.NOTHING_MORE}

# Parts that an act of their own renews or clears, whatever was found there.
_OF_PARTS: Mapping[str, Act] = {
    "cover": Act.COVER_FITTED,
    "wrap": Act.COVER_FITTED,
    "snow": Act.SNOW_CLEARED,
    "mice": Act.RODENT_CARE,
}
_BILGE = "bilge"


_WITH: Mapping[Shown, str] = {
    Shown.NOTHING_MORE: "",
    Shown.DRY: " and seen dry",
    Shown.CLEAR_OIL: " and the oil clear",
    Shown.READING: " and a sample read",
    Shown.DRY_OR_READING: " and seen dry or a sample read",
}


def settling_words(seen: Seen) -> tuple[str, ...]:
    """What can settle a finding, each act with what has to be seen, the surest first."""
    return tuple(f"{act}{_WITH[needed]}" for act, needed in _needs_of(seen).items())


def can_settle(entry: LayupEntry, seen: Seen, profile: Profile) -> bool:
    """Whether an entry can have put right what was found, as far as its act and evidence tell.

    Parameters
    ----------
    entry : LayupEntry
        Work that claims to settle it.
    seen : Seen
    profile : Profile
        The craft's type: work on one circuit settles nothing that was found on another.
    """
    needed = _needs_of(seen).get(entry.act)
    return needed is not None and _is_shown(entry, needed) and _is_there(entry, seen, profile)


def settled_by(
    entries: Iterable[LayupEntry], profile: Profile
) -> dict[str, tuple[LayupEntry, LayupEntry]]:
    """Findings that were put right, by id: the entry that found each, and the last that settled it.

    Parameters
    ----------
    entries : iterable of LayupEntry
        Those that stand, in the order of the work. Work that was certainly done before something
        was found settles nothing of it.
    profile : Profile
    """
    several = list(entries)
    found = {seen.id: (entry, seen) for entry in several for seen in entry.findings}
    settled: dict[str, tuple[LayupEntry, LayupEntry]] = {}
    for entry in several:
        for name in entry.settles:
            finder, seen = found.get(name, (None, None))
            if finder is None or seen is None or finder is entry:
                continue
            if latest_time(entry) < earliest_time(finder):
                continue
            if can_settle(entry, seen, profile):
                settled[name] = (finder, entry)
    return settled


def plain_part(name: str) -> str:
    """A part's name so that two ways to write it are one."""
    return " ".join(name.casefold().replace("-", " ").split())


def _needs_of(seen: Seen) -> Mapping[Act, Shown]:
    part = plain_part(seen.part)
    needs = dict(_ANY_KIND if seen.kind is None else TABLE[seen.kind])
    if part != _BILGE:
        needs.pop(Act.BILGE_DRIED, None)
    if seen.kind is None and part in _OF_PARTS:
        needs[_OF_PARTS[part]] = Shown.NOTHING_MORE
    return needs


def _is_shown(entry: LayupEntry, needed: Shown) -> bool:
    evidence = entry.evidence
    return {
        Shown.NOTHING_MORE: True,
        Shown.DRY: evidence.dry is True,
        Shown.CLEAR_OIL: evidence.oil is OilAppearance.CLEAR,
        Shown.READING: evidence.ice_point_c is not None,
        Shown.DRY_OR_READING: evidence.dry is True or evidence.ice_point_c is not None,
    }[needed]


def _is_there(entry: LayupEntry, seen: Seen, profile: Profile) -> bool:
    """Whether the work reached the circuit of a finding; true where it is of no circuit.

    A repair that names no circuit is on whatever it says that it settles.
    """
    part = plain_part(seen.part)
    one = next(
        (
            each
            for each in profile.circuits
            if part in {plain_part(each.circuit.id), plain_part(each.circuit.name)}
        ),
        None,
    )
    if one is None or (entry.act is Act.REPAIRED and not entry.circuits):
        return True
    return one.circuit.id in entry.circuits and not (
        entry.act is not Act.REPAIRED and is_mute(entry, one)
    )
