"""One craft's nights read from a season's air, of all its circuits or of one.

The season record and a claim's case both read them here, so that they say one thing of a night.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property

from monitor.craft.circuit import Circuit
from monitor.craft.craft_stays import Shelter
from monitor.craft.record import CraftRecord
from monitor.reports.season.figures import Kept, SeasonNight
from monitor.reports.season.nights import CraftNights, season_nights
from monitor.reports.season.shared_nights import SharedNights
from monitor.reports.season.space_hours import AirAround, Floats
from monitor.reports.season.work import HeldOverTime
from monitor.store.standing_history import StandingChange
from monitor.yard.forecast import SaidNight
from monitor.yard.space import Mount, Sensor, Yard, shelters


@dataclass(frozen=True, kw_only=True)
class YardNights:
    """A yard, and what the nights of all its craft share."""

    yard: Yard
    nights: SharedNights

    @cached_property
    def sensors_of_craft(self) -> Mapping[str, Mapping[int, Sensor]]:
        """Sensors on each craft, by its id; each by its place in the yard's file."""
        return _grouped(self.yard.sensors, lambda one: one.craft)

    @cached_property
    def air_sensors(self) -> Mapping[str, Mapping[int, Sensor]]:
        """Sensors of the air of each space, by its id; each by its place in the yard's file."""
        return _grouped(
            self.yard.sensors, lambda one: one.space if one.mount is Mount.AIR else None
        )

    @cached_property
    def shelters(self) -> dict[str, Shelter]:
        """The spaces as a record sees them."""
        return shelters(self.yard)


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
        for one in shared.sensors_of_craft.get(record.craft.id, {}).values()
        if one.mount is Mount.SURFACE and one.circuit in parts
    }
    nights = shared.nights
    inside = _lows_inside(nights, kept, around, circuits)
    for circuit, name in probes.items():
        if circuit is not None:
            inside[circuit] = nights.rows.lows_known(nights.air.probe_c(name))
    return season_nights(
        shared.nights,
        CraftNights(
            kept=kept,
            around=around,
            circuits=circuits,
            inside_lows_c=inside,
            probed=frozenset(probes),
            held=HeldOverTime(record, shared.shelters, parts),
            standings=[one for one in changes if one.part in parts],
        ),
    )


def _grouped(
    sensors: Iterable[Sensor], group_of: Callable[[Sensor], str | None]
) -> dict[str, dict[int, Sensor]]:
    """Sensors by the group that they are in; empty or None: in none."""
    found: dict[str, dict[int, Sensor]] = {}
    for place, one in enumerate(sensors):
        if group := group_of(one):
            found.setdefault(group, {})[place] = one
    return found


def _lows_inside(
    shared: SharedNights, kept: Sequence[Kept], around: AirAround, circuits: Iterable[Circuit]
) -> dict[str, Floats]:
    """Lowest of each night inside each circuit, by the short end of its lag behind the air."""
    by_lag: dict[float, Floats] = {}
    found = {}
    for circuit in circuits:
        lag_h = circuit.lag_low_h
        if lag_h not in by_lag:
            by_lag[lag_h] = shared.lows_inside(kept, around, lag_h)
        found[circuit.id] = by_lag[lag_h]
    return found


def said_by_night(nights: Iterable[SaidNight]) -> dict[tuple[str, date], SaidNight]:
    """What was said of nights, by space and evening."""
    return {(one.space, one.evening): one for one in nights}
