"""How a craft is kept (cover, film, lockers, bilge), and what stays open until it is settled."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from monitor.craft.account import season
from monitor.craft.craft_stays import Shelter, Stay, moves_into_cold, stay_at
from monitor.craft.layup import ENGINE_RUNS, RUNS, Act, Cover, LayupEntry
from monitor.craft.profile import Profile
from monitor.craft.protection import LayupState, Protection
from monitor.craft.reach import reached
from monitor.craft.work_order import earliest_time, latest_time


class UnsettledKind(StrEnum):
    """What happened."""

    UNDONE = "undone"  # a run, an opened circuit: its lay-up has to be done again
    OUT_OF_HEAT = "out of heat"  # safe only while warm, and it stands where it is not
    SNOW = "snow"  # on its cover or wrap
    TORN = "torn"  # its cover
    UNREADABLE = "unreadable"  # what is on record of it cannot be read


@dataclass(frozen=True, slots=True, kw_only=True)
class Unsettled:
    """One thing that happened, by whose word, and which circuits it took protection from."""

    kind: UnsettledKind
    at: datetime
    by: str  # empty where nobody is named
    circuits: tuple[str, ...] = ()
    act: Act | None = None  # what was entered; None: a move
    words: str = ""  # what cannot be read


WORK_COUNTS = timedelta(hours=72)  # a job that nobody has ended by then has been forgotten
_UNDOES = RUNS | {Act.FOGGED_RUNNING, Act.CIRCUIT_OPENED, Act.PORT_LEFT_OPEN, Act.BROUGHT_BACK}


def unsettled(
    profile: Profile,
    entries: Iterable[LayupEntry],
    stays: tuple[Stay, ...],
    shelters: Mapping[str, Shelter],
    held: Mapping[str, Protection],
    at: datetime,
) -> tuple[Unsettled, ...]:
    """What still wants putting right, in the order of `UnsettledKind`.

    Parameters
    ----------
    profile : Profile
        The craft's type.
    entries : iterable of LayupEntry
        Those that count at that time, in the order of the work.
    stays : tuple of Stay
        Where the craft stood, in any order.
    shelters : mapping of str to Shelter
        The yard's spaces by id.
    held : mapping of str to Protection
        What each circuit can stand at that time.
    at : datetime
        The time to tell it for.

    Notes
    -----
    A circuit that is made ready for the water in spring was undone on purpose, and so is what is
    opened or run while the craft is in work: neither is listed. Of a move nothing but its own
    time counts: one that is entered ahead has not happened.
    """
    season_now = season(at)
    told = [each for each in entries if season(each.at) == season_now]
    found = list(_undone(profile, told, stays, shelters, held, at))
    snow = _last(told, Act.SNOW_LOAD, {Act.SNOW_CLEARED, Act.COVER_FITTED})
    torn = _last(told, Act.COVER_TORN, {Act.COVER_FITTED})
    if snow is not None:
        found.append(Unsettled(kind=UnsettledKind.SNOW, at=snow.at, by=snow.by, act=snow.act))
    if torn is not None and not _in_work(told, at):
        found.append(Unsettled(kind=UnsettledKind.TORN, at=torn.at, by=torn.by, act=torn.act))
    return tuple(found)


def _undone(
    profile: Profile,
    told: list[LayupEntry],
    stays: tuple[Stay, ...],
    shelters: Mapping[str, Shelter],
    held: Mapping[str, Protection],
    at: datetime,
) -> Iterable[Unsettled]:
    void = [name for name, one in held.items() if one.state is LayupState.VOID]
    if not void:
        return
    moves = [stay for _, stay in moves_into_cold(stays, shelters, at)]
    last_move = max(moves, key=lambda stay: stay.since, default=None)
    moved, undone = _causes_of_void(profile, told, void, last_move)
    latest = max(undone.values(), key=lambda work: work.at, default=None)
    warm = _is_warm(stay_at(stays, at), shelters)
    in_work = _in_work(told, at)
    if latest is not None and not in_work:
        yield Unsettled(
            kind=UnsettledKind.UNDONE,
            at=latest.at,
            by=latest.by,
            circuits=tuple(undone),
            act=latest.act,
        )
    elif moved and warm and last_move is not None and not in_work:
        yield Unsettled(
            kind=UnsettledKind.UNDONE, at=last_move.since, by=last_move.by, circuits=tuple(moved)
        )
    if moved and not warm and last_move is not None:
        yield Unsettled(
            kind=UnsettledKind.OUT_OF_HEAT,
            at=last_move.since,
            by=last_move.by,
            circuits=tuple(moved),
        )


def _causes_of_void(
    profile: Profile, told: list[LayupEntry], void: list[str], last_move: Stay | None
) -> tuple[list[str], dict[str, LayupEntry]]:
    """Circuits that a move out of heat made void, and those that work did, each with that work.

    Where the hour of that work is not told, it may have been before a move of its day and after
    it, so both are told. What was made ready for the water before a move, and not left to the heat
    since, was moved on purpose.
    """
    ready = _last(told, Act.COMMISSIONED, {Act.KEPT_WARM})
    if ready is not None and (last_move is None or latest_time(ready) > last_move.since):
        ready = None
    moved: list[str] = []
    undone: dict[str, LayupEntry] = {}
    for name in void:
        work = _last_undoing(profile, told, name)
        on_purpose = ready is not None and (not ready.circuits or name in ready.circuits)
        if (
            last_move is not None
            and not on_purpose
            and (work is None or earliest_time(work) <= last_move.since)
        ):
            moved.append(name)
        if work is None or work.act is Act.COMMISSIONED:
            continue
        if last_move is None or latest_time(work) > last_move.since:
            undone[name] = work
    return moved, undone


def _is_warm(stay: Stay | None, shelters: Mapping[str, Shelter]) -> bool:
    shelter = shelters.get(stay.space) if stay is not None else None
    return shelter is not None and shelter.heated


def _last_undoing(profile: Profile, told: list[LayupEntry], circuit: str) -> LayupEntry | None:
    """The last work that took a circuit's protection away; None if none did."""
    undoing = [
        each
        for each in told
        if each.act in _UNDOES | {Act.COMMISSIONED} and circuit in reached(each, profile)
    ]
    return undoing[-1] if undoing else None


def _last(told: list[LayupEntry], what: Act, settled_by: set[Act]) -> LayupEntry | None:
    """The last entry of an act, if nothing that settles it came after; None else."""
    of_both = [each for each in told if each.act is what or each.act in settled_by]
    return of_both[-1] if of_both and of_both[-1].act is what else None


def _in_work(told: list[LayupEntry], at: datetime) -> bool:
    begun = _last(told, Act.WORK_BEGUN, {Act.WORK_ENDED})
    return begun is not None and at - earliest_time(begun) < WORK_COUNTS


@dataclass(frozen=True, slots=True, kw_only=True)
class Keeping:
    """How a craft is kept, as far as anybody noted. None or False: nobody said so."""

    cover: Cover | None = None  # also where its kind was not noted: see ``covered``
    covered: bool = False
    torn: bool = False
    closed: bool = False  # hatches, lockers and vents shut
    bilge_wet: bool = False  # water stands in it
    filmed: bool = False  # bare metal was sprayed with corrosion film


UNKNOWN_KEEPING = Keeping()


def keeping(entries: tuple[LayupEntry, ...]) -> Keeping:
    """Add up the entries of one season that stand, in the order of the work.

    An engine that ran afterwards has burnt and washed the film off where it matters; a torn
    cover lets rain in, so the bilge counts as wet until somebody dries it.
    """
    cover, covered, torn, closed, bilge_wet = None, False, False, False, False
    filmed = False
    for entry in entries:
        if entry.act is Act.COVER_FITTED:
            cover, covered, torn = entry.cover, True, False
        elif entry.act is Act.COVER_OFF:
            cover, covered, torn = None, False, False
        elif entry.act is Act.COVER_TORN:
            torn = bilge_wet = True
        elif entry.act in {Act.CLOSED_UP, Act.OPENED_UP}:
            closed = entry.act is Act.CLOSED_UP
        elif entry.act in {Act.BILGE_WET, Act.BILGE_DRIED}:
            bilge_wet = entry.act is Act.BILGE_WET
        elif entry.act is Act.SPRAYED_DOWN:
            filmed = True
        elif entry.act in ENGINE_RUNS or entry.act is Act.BROUGHT_BACK:
            filmed = filmed and entry.evidence.used_away is False
    return Keeping(
        cover=cover,
        covered=covered,
        torn=torn,
        closed=closed,
        bilge_wet=bilge_wet,
        filmed=filmed,
    )
