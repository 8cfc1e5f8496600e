"""What the record says of a craft's own damp: cover, film, closed lockers, bilge."""

from dataclasses import dataclass

from monitor.craft.layup import ENGINE_RUNS, Act, Cover, LayupEntry


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
