"""What is missing: the shortest list of acts that makes a craft safe for a stated low."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from monitor.craft.account import protections
from monitor.craft.circuit import Way
from monitor.craft.kept import Shelter, stay_at
from monitor.craft.layup import ANTIFREEZE, Liquid, Outflow
from monitor.craft.mixture import ice_point_c, litres_needed, mass_fraction
from monitor.craft.profile import CircuitKind, CircuitProfile, Proof
from monitor.craft.protection import Basis, Protection
from monitor.craft.record import CraftRecord, battery
from monitor.craft.stored import BatteryPlace
from monitor.wording import Wording, listed

STANDING_MARGIN_K = 2.0  # below the low that what stands must reach: a refractometer's allowance
NEW_MARGIN_K = 5.0  # below the low that new work must reach: common practice, no source
# Products on the shelf, weakest first; glycol by mass. Stronger than 60 % protects less again.
_SHELF = (0.30, 0.40, 0.50, 0.60)
_MOST_FILLINGS = 3.0  # more than this of a weak product, and a stronger one is the shorter way


class Care(StrEnum):
    """Cautions that an act calls for; the words are ``monitor.yard.caution``'s."""

    CARBON_MONOXIDE = "carbon monoxide"
    FUEL_VAPOUR = "fuel vapour"
    HYDROGEN = "hydrogen"
    FROZEN_BATTERY = "frozen battery"
    GLYCOL = "glycol"


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """One act that is missing, and what it takes."""

    act: str  # a way to protect circuits, or "take the battery to the bench"
    circuits: tuple[str, ...]
    words: str
    quantity_l: float | None = None
    strength: float | None = None  # mass fraction of the product to use
    cautions: tuple[Care, ...] = ()


def needs(
    record: CraftRecord,
    shelters: Mapping[str, Shelter],
    at: datetime,
    low_c: float,
    wording: Wording | None = None,
) -> list[Need]:
    """Acts that make every circuit of a craft, and its battery, safe for a low.

    Draining comes first where it is enough, because it needs no product; circuits that one flow
    reaches are treated in one act.

    Parameters
    ----------
    record : CraftRecord
        All that is on record.
    shelters : mapping of str to Shelter
        The yard's spaces by id.
    at : datetime
        The time to judge for.
    low_c : float
        Coldest that the craft is to stand [°C].
    wording : Wording, optional
        Zone and units of the sentences.
    """
    words = wording or Wording()
    held = protections(
        record.profile, record.entries, record.stays, shelters, at, record.iced, words
    )
    weak = [
        one
        for one in record.profile.circuits
        if held[one.circuit.id].ice_point_c > low_c - STANDING_MARGIN_K and low_c < 0.0
    ]
    stuck = _blocked(record, at)
    unread = [one for one in weak if _wants_reading(held[one.circuit.id], low_c)]
    found: list[Need] = [_read(unread, low_c, words)] if unread else []
    weak = [one for one in weak if one not in unread]
    dry = [one for one in weak if one.circuit.id in stuck and one.treatment(Way.DRAIN)]
    for group in _by_flow([one for one in weak if one not in dry]):
        if all(one.treatment(Way.DRAIN) for one in group):
            dry.extend(group)
            continue
        for way in (Way.RUN_THROUGH, Way.POUR_IN):
            if all(one.treatment(way) for one in group):
                found.append(_antifreeze(way, group, held, low_c, words))
                break
        else:
            for one in group:
                if one.treatment(Way.DRAIN):
                    dry.append(one)
                else:
                    found.append(_alone(one, held, low_c, words))
    if dry:
        found.insert(0, _drain(dry))
    stay = stay_at(record.stays, at)
    cell = battery(record.profile, record.standing(at), stay.space if stay else "")
    if cell and not cell.maintained and cell.place in {BatteryPlace.ABOARD, BatteryPlace.UNKNOWN}:
        found.append(
            Need(
                act="take the battery to the bench",
                circuits=(),
                words=(
                    "Take the battery to the bench, let it rest, read it, and put it on a"
                    " maintainer; if it may be frozen, thaw it and look at it first."
                ),
                cautions=(Care.FROZEN_BATTERY, Care.HYDROGEN),
            )
        )
    return found


def _blocked(record: CraftRecord, at: datetime) -> frozenset[str]:
    """Circuits out of which nothing came when antifreeze last went in: only draining helps."""
    last = {
        name: entry.evidence.outflow
        for entry in record.standing(at)
        if entry.act in ANTIFREEZE
        for name in entry.circuits
    }
    return frozenset(name for name, outflow in last.items() if outflow is Outflow.NONE)


def _wants_reading(protection: Protection, low_c: float) -> bool:
    """By its computed or stated ice point it holds, but without the room that a guess needs."""
    guessed = protection.basis in {Basis.COMPUTED, Basis.LABEL}
    return guessed and protection.ice_point_c <= low_c


def _read(group: list[CircuitProfile], low_c: float, words: Wording) -> Need:
    return Need(
        act="read a sample",
        circuits=tuple(one.circuit.id for one in group),
        words=(
            f"Draw a sample from {_names(group)} and read it: it must show"
            f" {words.temperature(low_c - STANDING_MARGIN_K)} or colder."
        ),
        cautions=(Care.GLYCOL,),
    )


def _by_flow(weak: list[CircuitProfile]) -> Iterable[list[CircuitProfile]]:
    groups: dict[str, list[CircuitProfile]] = {}
    for one in weak:
        groups.setdefault(one.flow or one.circuit.id, []).append(one)
    return groups.values()


def _drain(group: list[CircuitProfile]) -> Need:
    stand = sorted({str(one.posture) for one in group if one.posture})
    upright = f", standing {listed(stand)}" if stand else ""
    return Need(
        act="drain",
        circuits=tuple(one.circuit.id for one in group),
        words=(
            f"Drain {_names(group)}{upright}; probe each opening until it runs free, and note that"
            " it was seen dry."
        ),
    )


def _alone(
    one: CircuitProfile, held: Mapping[str, Protection], low_c: float, words: Wording
) -> Need:
    ways = [each.way for each in one.treatments]
    if Way.TEST in ways:
        return Need(
            act="test",
            circuits=(one.circuit.id,),
            words=(
                f"Read the coolant of {one.circuit.name}: it must show"
                f" {words.temperature(low_c - NEW_MARGIN_K)} or colder; else change it."
            ),
            cautions=(Care.GLYCOL,),
        )
    if Way.CHANGE_OIL in ways:
        return Need(
            act="change oil",
            circuits=(one.circuit.id,),
            words=(
                f"Change the oil of {one.circuit.name} and look at what comes out: clear, or"
                " milky with water."
            ),
        )
    way = next(each for each in (Way.POUR_IN, Way.RUN_THROUGH, Way.BLOW_OUT) if each in ways)
    if way is Way.BLOW_OUT:
        return Need(
            act="blow out",
            circuits=(one.circuit.id,),
            words=f"Blow out {one.circuit.name} until only air comes, and note that it is dry.",
        )
    return _antifreeze(way, [one], held, low_c, words)


def _antifreeze(
    way: Way,
    group: list[CircuitProfile],
    held: Mapping[str, Protection],
    low_c: float,
    words: Wording,
) -> Need:
    goal_c = low_c - NEW_MARGIN_K
    volume = sum(one.circuit.volume_l for one in group)
    stood = sum(_glycol(held[one.circuit.id]) * one.circuit.volume_l for one in group) / volume
    chosen = _product(goal_c, volume, stood)
    names = _names(group)
    run = way is Way.RUN_THROUGH
    cautions = (
        (Care.GLYCOL, Care.CARBON_MONOXIDE)
        if run and any(one.kind is CircuitKind.RAW for one in group)
        else (Care.GLYCOL,)
    )
    circuits = tuple(one.circuit.id for one in group)
    if chosen is None:
        return Need(
            act=str(way),
            circuits=circuits,
            words=(
                f"No glycol mix holds {words.temperature(goal_c)}: drain {names} as far as it goes"
                " and move the craft into heat."
            ),
            cautions=cautions,
        )
    strength, litres = chosen
    verb = "Run through" if run else "Pour into"
    hot = (
        ", the engine hot"
        if run and any(Proof.HOT_ENGINE in _needs(one, way) for one in group)
        else ""
    )
    return Need(
        act=str(way),
        circuits=circuits,
        words=(
            f"{verb} {names}{hot}: {words.volume(litres)} of {strength * 100:.0f} % propylene"
            " glycol, until it comes out in the jug's colour; a sample from the outlet must read"
            f" {words.temperature(goal_c)} or colder."
        ),
        quantity_l=litres,
        strength=strength,
        cautions=cautions,
    )


def _product(goal_c: float, volume_l: float, stood: float) -> tuple[float, float] | None:
    """Weakest product on the shelf that gets there within a few fillings, and how much of it."""
    best: tuple[float, float] | None = None
    if goal_c < ice_point_c(_SHELF[-1], Liquid.PROPYLENE):
        return None
    target = mass_fraction(goal_c, Liquid.PROPYLENE)
    for strength in _SHELF:
        litres = litres_needed(strength, target, volume_l, Liquid.PROPYLENE, stood)
        if litres is None:
            continue
        if litres <= _MOST_FILLINGS * volume_l:
            return strength, litres
        best = (strength, litres)
    return best


def _glycol(protection: Protection) -> float:
    """Propylene glycol that may be built on."""
    mixed = protection.liquid.startswith(str(Liquid.PROPYLENE))
    return (protection.glycol_mass_fraction or 0.0) if mixed else 0.0


def _needs(one: CircuitProfile, way: Way) -> frozenset[Proof]:
    treatment = one.treatment(way)
    return treatment.needs if treatment else frozenset()


def _names(group: list[CircuitProfile]) -> str:
    return listed([one.circuit.name for one in group])
