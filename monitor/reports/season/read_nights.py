"""One craft's nights read from a season's air, of all its circuits or of one.

The season record and a claim's case both read them here, so that they say one thing of a night.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from monitor.craft.circuit import Circuit
from monitor.craft.record import CraftRecord
from monitor.reports.season.figures import Kept, SeasonNight
from monitor.reports.season.nights import CraftNights, SharedNights, season_nights
from monitor.reports.season.space_hours import AirAround, Floats, SeasonAir
from monitor.reports.season.work import HeldOverTime
from monitor.store.standing_history import StandingChange
from monitor.yard.forecast import SaidNight
from monitor.yard.space import Mount, Yard, shelters


@dataclass(frozen=True, slots=True, kw_only=True)
class YardNights:
    """A yard, and what the nights of all its craft share."""

    yard: Yard
    nights: SharedNights


def read_nights(
    shared: YardNights,
    record: CraftRecord,
    kept: Sequence[Kept],
    around: AirAround,
    circuits: Sequence[Circuit],
    changes: Sequence[StandingChange],
) -> list[SeasonNight]:
    """Each night of which a craft stood in the yard for half at least, in order.

    Parameters
    ----------
    shared : YardNights
    record : CraftRecord
    kept : sequence of Kept
        Where it stood.
    around : AirAround
        The air there.
    circuits : sequence of Circuit
        Those that are judged: all, or one that a claim is about, with the lags that were measured.
    changes : sequence of StandingChange
        Of the craft, in order of time.
    """
    parts = {one.id for one in circuits}
    probes = {
        one.circuit: one.name
        for one in shared.yard.sensors
        if one.mount is Mount.SURFACE and one.craft == record.craft.id and one.circuit in parts
    }
    air = shared.nights.air
    inside = inside_courses(air, kept, around, circuits)
    inside |= {circuit: air.probe_c(name) for circuit, name in probes.items()}
    return season_nights(
        shared.nights,
        CraftNights(
            kept=kept,
            around=around,
            circuits=circuits,
            inside_c=inside,
            probed=frozenset(probes),
            held=HeldOverTime(record, shelters(shared.yard), parts),
            standings=[one for one in changes if one.part in parts],
        ),
    )


def inside_courses(
    air: SeasonAir, kept: Sequence[Kept], around: AirAround, circuits: Iterable[Circuit]
) -> dict[str, Floats]:
    """Lowest of each hour inside each circuit, by the short end of its lag behind the air."""
    by_lag: dict[float, Floats] = {}
    found = {}
    for circuit in circuits:
        lag_h = circuit.lag_low_h
        if lag_h not in by_lag:
            by_lag[lag_h] = air.body_c(kept, around, lag_h)
        found[circuit.id] = by_lag[lag_h]
    return found


def said_by_night(nights: Iterable[SaidNight]) -> dict[tuple[str, date], SaidNight]:
    """What was said of nights, by space and evening."""
    return {(one.space, one.evening): one for one in nights}
