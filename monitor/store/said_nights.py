"""What was said of each night, for good: by that the judgement shows how true its chances were."""

from collections.abc import Iterable
from datetime import date

from sqlalchemy import Connection, bindparam, insert, select, update
from sqlalchemy.engine import Row

from monitor.clock import from_ms, to_ms
from monitor.store.tables import said_nights
from monitor.yard.forecast import SaidNight

_STEP_C = 0.01
_STEP_CHANCE = 0.001


class SaidNights:
    """A row a space a night of one yard."""

    def __init__(self, connection: Connection, yard_id: int) -> None:
        self._connection = connection
        self._yard_id = yard_id

    def add(self, nights: Iterable[SaidNight]) -> int:
        """Keep what was said; what is kept of a night already stays. Tells how many were new."""
        wanted = {(each.space, each.evening): each for each in nights}
        if not wanted:
            return 0
        first = min(evening for _, evening in wanted)
        known = {(each.space, each.evening) for each in self.nights_since(first)}
        new = [each for key, each in wanted.items() if key not in known]
        if new:
            self._connection.execute(insert(said_nights), [self._row(each) for each in new])
        return len(new)

    def settle_nights(self, lows_c: Iterable[tuple[str, date, float]]) -> None:
        """Enter what nights came to; each is a space, an evening and its lowest air [°C]."""
        rows = [
            {"the_space": space, "the_evening": evening.isoformat(), "to": round(low_c / _STEP_C)}
            for space, evening, low_c in lows_c
        ]
        if rows:
            self._connection.execute(
                update(said_nights)
                .where(
                    said_nights.c.yard_id == self._yard_id,
                    said_nights.c.space == bindparam("the_space"),
                    said_nights.c.evening == bindparam("the_evening"),
                )
                .values(low=bindparam("to")),
                rows,
            )

    def nights_since(self, evening: date) -> list[SaidNight]:
        """Nights from one evening on, in order of evening and space."""
        rows = self._connection.execute(
            select(said_nights)
            .where(
                said_nights.c.yard_id == self._yard_id,
                said_nights.c.evening >= evening.isoformat(),
            )
            .order_by(said_nights.c.evening, said_nights.c.space)
        )
        return [_night(row) for row in rows]

    def nights_of(self, evening: date) -> list[SaidNight]:
        """What was said of one night, in order of space."""
        rows = self._connection.execute(
            select(said_nights)
            .where(
                said_nights.c.yard_id == self._yard_id,
                said_nights.c.evening == evening.isoformat(),
            )
            .order_by(said_nights.c.space)
        )
        return [_night(row) for row in rows]

    def _row(self, night: SaidNight) -> dict[str, object]:
        return {
            "yard_id": self._yard_id,
            "space": night.space,
            "evening": night.evening.isoformat(),
            "said_ms": to_ms(night.said_at),
            "air": round(night.air_c / _STEP_C),
            "cold": round(night.cold_c / _STEP_C),
            "expected": round(night.expected_c / _STEP_C),
            "warm": round(night.warm_c / _STEP_C),
            "below_zero": _steps(night.below_zero, _STEP_CHANCE),
            "low": _steps(night.low_c, _STEP_C),
        }


def _steps(value: float | None, step: float) -> int | None:
    return None if value is None else round(value / step)


def _night(row: Row[tuple[object, ...]]) -> SaidNight:
    return SaidNight(
        space=row.space,
        evening=date.fromisoformat(row.evening),
        said_at=from_ms(row.said_ms),
        air_c=row.air * _STEP_C,
        cold_c=row.cold * _STEP_C,
        expected_c=row.expected * _STEP_C,
        warm_c=row.warm * _STEP_C,
        below_zero=None if row.below_zero is None else row.below_zero * _STEP_CHANCE,
        low_c=None if row.low is None else row.low * _STEP_C,
    )
