"""What an act proves of each shape of circuit: the one table that the account of circuits reads.

An act proves only what can physically be seen of it: clear engine oil says nothing of a water
passage, and a look cannot tell a water box dry. `TABLE` holds one row for each deed, which is an
act together with what was seen of it; DEVELOPERS.md prints it.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum

from monitor.craft.circuit import Way
from monitor.craft.layup import ANTIFREEZE, RUNS, Act, Evidence, LayupEntry, OilAppearance, Outflow
from monitor.craft.profile import CircuitProfile, Profile, Shape


class Verdict(StrEnum):
    """What a deed says of a circuit."""

    PROVES = "proves"  # makes "proven" possible, with the evidence that the profile asks for
    HINTS = "hints"  # said, not shown: the circuit stays water
    NOTHING = "nothing"  # changes nothing; the entry is a note
    UNDOES = "undoes"  # what was proven before is void
    WARMTH = "heat-only"  # safe while its space is warm


class Deed(StrEnum):
    """An act with what was seen of it, in the words of the printed table."""

    DRAINED = "drained, every drain probed and seen dry"
    WATER_FOUND = "drained, blown out, stood or looked into, and water still stood in it"
    BLOWN_OUT = "blown out, air at the outlet, seen dry"
    RUN_THROUGH = "antifreeze run through, seen at the outlet"
    POURED = "antifreeze poured in, seen at the far end"
    NOTHING_CAME = "antifreeze run through or poured in, nothing came out"
    SECOND_GLYCOL = "a second kind of glycol on top of the first"
    SAMPLE_READ = "a sample read on the scale of its glycol, zero checked before"
    OIL_CLEAR = "oil changed or looked at: clear"
    OIL_WET = "oil changed or looked at: milky, or led by water"
    OIL_UNSEEN = "oil changed, nobody noted how it looked"
    STOOD = "stood upright, drained by posture"
    LOOKED_INSIDE = "opened and seen dry (a look inside)"
    LOOKED = "looked at, nothing noted"
    KEPT_WARM = "left untreated, kept warm"
    RUN_ON_WATER = "run on water, flushed"
    FLUSHED_CLEAR = "flushed until clear water came out"
    BACK_UNSAID = "back from outside the yard, used there or nobody says"
    REPAIRED = "repaired"
    OPENED = "circuit opened, or a port left open"
    COMMISSIONED = "made ready for the water"
    COVER_OPEN = "cover found torn, or taken off"
    FOGGED = "fogged with the engine running, not as antifreeze ran through it"


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One deed on one shape of circuit; ``note`` says under which condition, or why not."""

    verdict: Verdict
    note: str = ""


_NOTHING = Cell(verdict=Verdict.NOTHING)


def _cell(verdict: Verdict, note: str = "") -> Cell:
    return Cell(verdict=verdict, note=note)


def _water(
    passage: Cell,
    low_loop: Cell,
    small_part: Cell,
    tank: Cell,
    pocket: Cell,
    coolant_loop: Cell = _NOTHING,
) -> dict[Shape, Cell]:
    """Build a row about water; an oil-filled housing is told by its oil alone."""
    return {
        Shape.PASSAGE: passage,
        Shape.LOW_LOOP: low_loop,
        Shape.COOLANT_LOOP: coolant_loop,
        Shape.OIL_FILLED: _NOTHING,
        Shape.SMALL_PART: small_part,
        Shape.TANK: tank,
        Shape.POCKET: pocket,
    }


def _oil(cell: Cell) -> dict[Shape, Cell]:
    return {shape: cell if shape is Shape.OIL_FILLED else _NOTHING for shape in Shape}


def _every(cell: Cell) -> dict[Shape, Cell]:
    return dict.fromkeys(Shape, cell)


_CLEARED = _cell(Verdict.HINTS, "what was blocked is clear")
_BLOCKED = _cell(Verdict.UNDOES, "blocked; nothing poured later counts until it is cleared")
_MIX = _cell(Verdict.UNDOES, "counts as water under the new one; no scale reads the mix")
_RINSED = _cell(Verdict.UNDOES, "no glycol is left in it: another kind may go in")
_P, _H, _U = _cell(Verdict.PROVES), _cell(Verdict.HINTS), _cell(Verdict.UNDOES)

TABLE: Mapping[Deed, Mapping[Shape, Cell]] = {
    Deed.DRAINED: _water(
        passage=_P,
        low_loop=_cell(Verdict.NOTHING, "cannot empty by gravity"),
        small_part=_cell(Verdict.PROVES, "opened and seen"),
        tank=_cell(Verdict.PROVES, "emptied to the eye"),
        pocket=_P,
        coolant_loop=_cell(Verdict.UNDOES, "it should be full"),
    ),
    Deed.WATER_FOUND: _water(_U, _U, _U, _U, _U),
    Deed.BLOWN_OUT: _water(
        passage=_H,
        low_loop=_NOTHING,
        small_part=_cell(Verdict.PROVES, "both ends ran dry"),
        tank=_H,
        pocket=_P,
    ),
    Deed.RUN_THROUGH: _water(
        passage=_cell(Verdict.PROVES, "what the flow passes; a block only from a hot engine"),
        low_loop=_cell(Verdict.PROVES, "downstream in that flow"),
        small_part=_cell(Verdict.PROVES, "in that flow"),
        tank=_cell(Verdict.PROVES, "by its own pump"),
        pocket=_NOTHING,
    ),
    Deed.POURED: _water(
        passage=_cell(Verdict.PROVES, "that path; a dead leg needs a sample"),
        low_loop=_cell(Verdict.PROVES, "mixed with what stood in it"),
        small_part=_P,
        tank=_cell(Verdict.PROVES, "seen at every tap"),
        pocket=_P,
    ),
    Deed.NOTHING_CAME: _water(_BLOCKED, _BLOCKED, _BLOCKED, _BLOCKED, _U),
    Deed.SECOND_GLYCOL: _water(_MIX, _MIX, _MIX, _MIX, _MIX, coolant_loop=_MIX),
    Deed.SAMPLE_READ: _water(
        passage=_cell(Verdict.PROVES, "what was sampled"),
        low_loop=_P,
        small_part=_P,
        tank=_P,
        pocket=_P,
        coolant_loop=_cell(Verdict.PROVES, "with age and inhibitor"),
    ),
    Deed.OIL_CLEAR: _oil(_P),
    Deed.OIL_WET: _oil(_cell(Verdict.UNDOES, "water is in it")),
    Deed.OIL_UNSEEN: _oil(_H),
    Deed.STOOD: _water(
        passage=_cell(Verdict.PROVES, "an outboard's powerhead, which empties itself so"),
        low_loop=_NOTHING,
        small_part=_H,
        tank=_NOTHING,
        pocket=_cell(Verdict.HINTS, "fills when it stands otherwise"),
    ),
    Deed.LOOKED_INSIDE: _water(
        passage=_cell(Verdict.HINTS, "only what the eye reaches"),
        low_loop=_H,
        small_part=_P,
        tank=_P,
        pocket=_P,
    ),
    Deed.LOOKED: _every(_cell(Verdict.HINTS, "ends suspicion of damage")),
    Deed.KEPT_WARM: _every(_cell(Verdict.WARMTH)),
    Deed.RUN_ON_WATER: _water(_U, _U, _U, _cell(Verdict.UNDOES, "what was filled"), _U),
    Deed.FLUSHED_CLEAR: _water(_RINSED, _RINSED, _RINSED, _RINSED, _RINSED),
    Deed.BACK_UNSAID: _water(_U, _U, _U, _cell(Verdict.UNDOES, "what was filled"), _U),
    Deed.REPAIRED: _water(_CLEARED, _CLEARED, _CLEARED, _CLEARED, _CLEARED),
    Deed.OPENED: _every(_cell(Verdict.UNDOES, "once opened, a blockage counts as cleared")),
    Deed.COMMISSIONED: _water(_U, _U, _U, _U, _U),
    Deed.COVER_OPEN: _water(_NOTHING, _NOTHING, _NOTHING, _NOTHING, _U),
    Deed.FOGGED: _water(_U, _U, _U, _cell(Verdict.UNDOES, "what was filled"), _U),
}

PROVING: Mapping[Act, tuple[Deed, ...]] = {
    Act.DRAINED: (Deed.DRAINED,),
    Act.BLOWN_OUT: (Deed.BLOWN_OUT,),
    Act.ANTIFREEZE_RUN_THROUGH: (Deed.RUN_THROUGH,),
    Act.ANTIFREEZE_POURED: (Deed.POURED,),
    Act.OIL_CHANGED: (Deed.OIL_CLEAR,),
    Act.INSPECTED: (Deed.LOOKED_INSIDE, Deed.SAMPLE_READ, Deed.OIL_CLEAR),
}
WAY_OF: Mapping[Act, Way] = {
    Act.DRAINED: Way.DRAIN,
    Act.BLOWN_OUT: Way.BLOW_OUT,
    Act.ANTIFREEZE_RUN_THROUGH: Way.RUN_THROUGH,
    Act.ANTIFREEZE_POURED: Way.POUR_IN,
    Act.OIL_CHANGED: Way.CHANGE_OIL,
}

# The acts by which somebody claims to have protected a circuit, or to have seen it protected.
CLAIMS = frozenset(PROVING)

_DEEDS: Mapping[Act, Deed] = {
    Act.KEPT_WARM: Deed.KEPT_WARM,
    Act.CIRCUIT_OPENED: Deed.OPENED,
    Act.PORT_LEFT_OPEN: Deed.OPENED,
    Act.COMMISSIONED: Deed.COMMISSIONED,
    Act.COVER_TORN: Deed.COVER_OPEN,
    Act.COVER_OFF: Deed.COVER_OPEN,
    Act.FOGGED_RUNNING: Deed.FOGGED,
    Act.REPAIRED: Deed.REPAIRED,
    **dict.fromkeys(RUNS, Deed.RUN_ON_WATER),
}

# A flush of which nobody saw the end is a run on water.
_FLUSHED: Mapping[Outflow, Deed] = {
    Outflow.NONE: Deed.NOTHING_CAME,
    Outflow.CLEAR_WATER: Deed.FLUSHED_CLEAR,
}


def deeds_of(entry: LayupEntry) -> tuple[Deed, ...]:
    """Rows of the table that an entry amounts to, by its act and evidence; none for a mere note.

    That a glycol is the second kind in a circuit depends on what stands there, so the account of
    circuits finds that row itself.
    """
    act, evidence = entry.act, entry.evidence
    if act is Act.BROUGHT_BACK:
        return () if evidence.used_away is False else (Deed.BACK_UNSAID,)
    if act is Act.FLUSHED and (flushed := _FLUSHED.get(evidence.outflow)):
        return (flushed,)
    if act is Act.STOOD:
        return (Deed.STOOD, *_dry_or_wet(evidence))
    if act in _DEEDS:
        return (_DEEDS[act],)
    if act in {Act.DRAINED, Act.BLOWN_OUT}:
        return (*PROVING[act], Deed.WATER_FOUND) if evidence.dry is False else PROVING[act]
    if act in ANTIFREEZE:
        return (Deed.NOTHING_CAME,) if evidence.outflow is Outflow.NONE else PROVING[act]
    if act is Act.OIL_CHANGED:
        return tuple(_oil_seen(evidence)) or (Deed.OIL_UNSEEN,)
    return tuple(_seen_inside(evidence)) or (Deed.LOOKED,) if act is Act.INSPECTED else ()


def _oil_seen(evidence: Evidence) -> Iterator[Deed]:
    if evidence.oil is not None:
        yield Deed.OIL_CLEAR if evidence.oil is OilAppearance.CLEAR else Deed.OIL_WET


def _dry_or_wet(evidence: Evidence) -> Iterator[Deed]:
    if evidence.dry is not None:
        yield Deed.LOOKED_INSIDE if evidence.dry else Deed.WATER_FOUND


def _seen_inside(evidence: Evidence) -> Iterator[Deed]:
    """What an inspection amounts to, by what was noted of it."""
    yield from _oil_seen(evidence)
    yield from _dry_or_wet(evidence)
    if evidence.ice_point_c is not None:
        yield Deed.SAMPLE_READ


def verdict_on(deed: Deed, one: CircuitProfile) -> Verdict:
    """What a deed says of a circuit of that shape."""
    return TABLE[deed][one.shape].verdict


def is_mute(entry: LayupEntry, one: CircuitProfile) -> bool:
    """Whether an entry says nothing of this circuit, whatever was seen: it is a note there.

    An act that stands in no row of the table, such as the owner's word, is not judged by it.
    """
    deeds = deeds_of(entry)
    return bool(deeds) and all(verdict_on(deed, one) is Verdict.NOTHING for deed in deeds)


def circuits_within_reach(act: Act, profile: Profile) -> tuple[str, ...]:
    """Ids of the circuits of which an act can prove or hint anything: what "all" means for it."""
    rows = PROVING.get(act, ())
    return tuple(
        one.circuit.id
        for one in profile.circuits
        if any(verdict_on(deed, one) in {Verdict.PROVES, Verdict.HINTS} for deed in rows)
    )
