"""What the nights of all craft of a yard share: the air of each space, and nights that are alike.

So many craft cost little more than one of each kind, and no more memory than few.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

import numpy as np

from monitor.craft.protection import Basis, LayupState, Protection
from monitor.reports.season.figures import Kept, SeasonNight
from monitor.reports.season.night_hours import NightAirs, NightRows, airs_of_nights
from monitor.reports.season.space_hours import AirAround, Floats, SeasonAir
from monitor.yard.forecast import SaidNight
from monitor.yard.standing import Standing

_MOST_SHARED = 16_384  # nights; some 8 MB, however much craft differ


class NightStandings(NamedTuple):
    """What the circuits of a craft stood at during one night."""

    held: frozenset[Standing]
    became_suspect: bool  # ice that was computed afterwards, as of readings that came late


@dataclass(frozen=True, slots=True, eq=False)
class HeldByCircuit:
    """What one circuit held; one object for all craft of which it was the same."""

    circuit: str
    ice_point_c: float
    burst_point_c: float
    state: LayupState
    basis: Basis
    is_probed: bool


# The circuit with the least room in one night; the lowest inside it, None: not known; the coldest
# of the inside, else of the air.
Least = tuple[HeldByCircuit, float | None, float | None]
# All that a night from noon to noon in one space depends on: its number, the space, the circuit
# with the least room, what the craft stood at, whether what it held is known.
NightKey = tuple[int, str, Least | None, NightStandings, bool]


class SharedNights:
    """What the nights of all craft share: the air of each space, and nights that are alike.

    Parameters
    ----------
    rows : NightRows
    air : SeasonAir
    said : mapping of (str, date) to SaidNight
        What was said of nights, by space and evening.
    """

    def __init__(
        self, rows: NightRows, air: SeasonAir, said: Mapping[tuple[str, date], SaidNight]
    ) -> None:
        self.rows, self.air, self.said = rows, air, said
        self._airs: dict[str, NightAirs] = {}
        self._held: dict[tuple[object, ...], HeldByCircuit] = {}
        self._lows: dict[tuple[str, float], Floats] = {}
        self._nights: dict[NightKey, SeasonNight] = {}

    def airs_of_space(self, space: str) -> NightAirs:
        """The air of each night in a space."""
        if space not in self._airs:
            here = self.air.of_space(space)
            self._airs[space] = airs_of_nights(self.rows, self.air.hours, here.low_c, here.heard)
        return self._airs[space]

    def lows_inside(self, kept: Sequence[Kept], around: AirAround, lag_h: float) -> Floats:
        """Lowest of each night inside a body of some lag [°C]; NaN where an hour is not known."""
        if len(kept) != 1:
            return self.rows.lows_all_known(self.air.body_c(kept, around, lag_h))
        [stay] = kept
        key = (stay.space, lag_h)
        if key not in self._lows:
            self._lows[key] = self.rows.lows_all_known(self.air.body_of_space(*key))
        is_known = self.rows.lie_within(self.air.known_hours(stay, lag_h))
        return np.where(is_known, self._lows[key], np.nan)

    def share_held(self, one: Protection, *, is_probed: bool) -> HeldByCircuit:
        """What a circuit held, as one object for all craft."""
        facts = (one.circuit, one.ice_point_c, one.burst_point_c, one.state, one.basis, is_probed)
        found = self._held.get(facts)
        if found is None:
            if len(self._held) >= _MOST_SHARED:
                self._held.clear()
            found = self._held[facts] = HeldByCircuit(*facts)
        return found

    def find_night(self, key: NightKey) -> SeasonNight | None:
        """The night that another craft had alike, if it is kept."""
        return self._nights.get(key)

    def keep_night(self, key: NightKey, night: SeasonNight) -> SeasonNight:
        """Keep a night for the next craft."""
        if len(self._nights) >= _MOST_SHARED:
            self._nights.clear()
        self._nights[key] = night
        return night
