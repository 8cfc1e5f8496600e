"""A craft's record out of what the store holds; what cannot be read makes it unprotected.

One place reads craft, for judgement, pages and commands alike, and it never raises for one craft:
the others must be judged tonight whatever became of this one.
"""

import json
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime

from monitor.craft.canonical import UNREADABLE, entry_of
from monitor.craft.circuit import Circuit, Drainage
from monitor.craft.circuit_events import Iced
from monitor.craft.craft_stays import Craft, Stay
from monitor.craft.layup import LayupEntry
from monitor.craft.profile import CircuitKind, CircuitProfile, Profile, Shape, composed
from monitor.craft.record import CraftRecord
from monitor.craft.sittings import in_order_of_work, possible_orders
from monitor.craft.work_order import standing_entries
from monitor.wording import listed_first

_NAMED = 4  # troubles of one craft, before the rest are only counted

# What is judged of a craft whose type nobody can tell: thin metal, plain water, left where it is.
UNKNOWN_TYPE = Profile(
    id="unknown",
    name="type not known",
    circuits=(
        CircuitProfile(
            circuit=Circuit(
                id="whole-craft",
                name="every water passage",
                volume_l=0.5,
                lag_low_h=1.0,
                lag_high_h=6.0,
                heat_capacity_kj_k=4.0,
                material="not known",
                drainage=Drainage.NONE,
                figures="estimate on the cold side: the type is not known",
            ),
            kind=CircuitKind.RAW,
            shape=Shape.LOW_LOOP,
            treatments=(),
        ),
    ),
)


def read_record(
    craft: Craft,
    bodies: Sequence[str],
    stays: tuple[Stay, ...],
    iced: tuple[Iced, ...],
    profiles: Mapping[str, Profile],
    troubles: Iterable[str] = (),
) -> CraftRecord:
    """All that is on record about one craft.

    Parameters
    ----------
    craft : Craft
    bodies : sequence of str
        Its entries as they were chained, in the order of writing.
    stays : tuple of Stay
    iced : tuple of Iced
    profiles : mapping of str to Profile
        The library.
    troubles : iterable of str
        What could not be read already before this, in words.

    Returns
    -------
    CraftRecord
        If anything could not be read, `CraftRecord.unreadable` says what, and no entry counts: of
        a record that is read in part, an act that undoes might be what is missing.
    """
    found = list(troubles)
    entries: list[LayupEntry] = []
    written: list[datetime | None] = []
    for number, body in enumerate(bodies, start=1):
        try:
            said = json.loads(body)
            entries.append(entry_of(said["entry"]))
            written.append(_moment(said.get("written_at")))
        except UNREADABLE as error:
            found.append(f"its entry {number} cannot be read ({type(error).__name__}: {error})")
    try:
        profile = _type_of(craft, profiles)
    except (KeyError, ValueError) as error:
        profile = UNKNOWN_TYPE
        found.append(str(error.args[0]) if error.args else str(error))
    else:
        found.extend(entries_on_missing_circuits(entries, craft, profile))
    done = in_order_of_work(entries, written)
    if not found:
        return CraftRecord(
            craft=craft,
            profile=profile,
            entries=done,
            stays=stays,
            iced=iced,
            orders=possible_orders(entries, written),
        )
    return CraftRecord(
        craft=craft,
        profile=profile,
        stays=stays,
        iced=iced,
        unreadable=listed_first(found, _NAMED, "; "),
        set_aside=done,
    )


def entries_on_missing_circuits(
    entries: Iterable[LayupEntry], craft: Craft, profile: Profile
) -> list[str]:
    """Entries that count and name a circuit that the craft has not, each in words."""
    known = set(profile.circuit_ids)
    return [
        f"entry {one.id} ({one.act} on {one.at:%Y-%m-%d} by {one.by}) names {', '.join(lost)},"
        f" and {craft.name} ({craft.id}) has no such circuit as {type_words(craft)}"
        for one in standing_entries(tuple(entries))
        if (lost := [name for name in one.circuits if name not in known])
    ]


def _moment(said: object) -> datetime | None:
    try:
        return datetime.fromisoformat(str(said))
    except ValueError:
        return None


def type_words(craft: Craft) -> str:
    """Profile and fittings in one phrase."""
    return " with ".join((craft.profile, *((", ".join(craft.fittings),) if craft.fittings else ())))


def _type_of(craft: Craft, profiles: Mapping[str, Profile]) -> Profile:
    for name in (craft.profile, *craft.fittings):
        if name not in profiles:
            raise KeyError(
                f"it is of type {name!r}, and no profile of that name is left: put {name}.toml"
                " back into the profiles"
            )
    return composed(craft.profile, craft.fittings, profiles)
