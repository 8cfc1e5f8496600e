"""Public forecasts: every issue as it was known at the time, and how asking for them went."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

import numpy as np
from pydantic import TypeAdapter
from sqlalchemy import Connection, Row, and_, delete, func, insert, select

from monitor.clock import from_ms, to_ms
from monitor.store.tables import forecast_asking, forecasts
from monitor.store.yard_marks import SteadyReads
from monitor.yard.forecast import ForecastAsking, PublicForecast

_LAST_MS = 2**62  # behind every time
_STEP_C = 0.01  # as air temperatures are kept
_ASKING = TypeAdapter(ForecastAsking)


class Forecasts:
    """The forecasts of one yard."""

    def __init__(
        self, connection: Connection, yard_id: int, reads: SteadyReads | None = None
    ) -> None:
        self._connection = connection
        self._yard_id = yard_id
        self._reads = reads

    def keep_issue(self, forecast: PublicForecast) -> int:
        """Store an issue and tell how many hours it has; one that is stored already adds none.

        Hours without a temperature are left out: the agency does not know them either.
        """
        issued_ms = to_ms(forecast.issued)
        known = self._connection.scalar(
            select(func.count())
            .select_from(forecasts)
            .where(
                forecasts.c.yard_id == self._yard_id,
                forecasts.c.source == forecast.source,
                forecasts.c.issued_ms == issued_ms,
            )
        )
        if known:
            return 0
        rows = [
            {
                "yard_id": self._yard_id,
                "source": forecast.source,
                "issued_ms": issued_ms,
                "valid_ms": int(at_ms),
                "fetched_ms": to_ms(forecast.fetched),
                "air": round(float(air_c) / _STEP_C),
                "dew_point": None if np.isnan(dew_c) else round(float(dew_c) / _STEP_C),
            }
            for at_ms, air_c, dew_c in zip(
                forecast.at_ms, forecast.air_c, forecast.dew_point_c, strict=True
            )
            if np.isfinite(air_c)
        ]
        if rows:
            self._connection.execute(insert(forecasts), rows)
        return len(rows)

    def known_between(self, since: datetime, until: datetime) -> list[PublicForecast]:
        """Issues that came to be known with ``since < fetched <= until``, in that order."""
        return self._select_known(to_ms(since), to_ms(until))

    def newest_known(self, since: datetime, at: datetime) -> PublicForecast | None:
        """The issue that came last to be known, with ``since < fetched <= at``."""
        if self._reads is None:
            known = self._select_known(to_ms(since), to_ms(at))
        elif self._reads.marks.forecast_ms is None:
            return None
        else:
            # Issues of a time that is still to come by this clock are read with the others.
            known = self._reads.read_since(
                "forecasts",
                self._reads.marks.forecast_ms,
                to_ms(since) + 1,
                lambda: self._select_known(to_ms(since), _LAST_MS),
                lambda one: to_ms(one.fetched),
            )
            known = [one for one in known if one.fetched <= at]
        return max(known, key=lambda one: one.fetched, default=None)

    def _select_known(self, since_ms: int, until_ms: int) -> list[PublicForecast]:
        rows = self._connection.execute(
            select(forecasts)
            .where(
                forecasts.c.yard_id == self._yard_id,
                forecasts.c.fetched_ms > since_ms,
                forecasts.c.fetched_ms <= until_ms,
            )
            .order_by(
                forecasts.c.fetched_ms,
                forecasts.c.source,
                forecasts.c.issued_ms,
                forecasts.c.valid_ms,
            )
        ).all()
        issues: dict[tuple[str, int], list[Row[Any]]] = {}
        for row in rows:
            issues.setdefault((row.source, row.issued_ms), []).append(row)
        return [_forecast(hours) for hours in issues.values()]

    def newest_issue(self, source: str, at: datetime) -> PublicForecast | None:
        """The issue of a source that was the newest known at a time."""
        newest = self._connection.execute(
            select(forecasts.c.fetched_ms, forecasts.c.issued_ms)
            .where(
                forecasts.c.yard_id == self._yard_id,
                forecasts.c.source == source,
                forecasts.c.fetched_ms <= to_ms(at),
            )
            .order_by(forecasts.c.fetched_ms.desc(), forecasts.c.issued_ms.desc())
            .limit(1)
        ).first()
        if newest is None:
            return None
        rows = self._connection.execute(
            select(forecasts)
            .where(
                forecasts.c.yard_id == self._yard_id,
                forecasts.c.source == source,
                forecasts.c.issued_ms == newest.issued_ms,
            )
            .order_by(forecasts.c.valid_ms)
        ).all()
        return _forecast(rows)

    def thin_issues(self, source: str, newest: datetime, keep: timedelta, ahead: timedelta) -> None:
        """Forget issues that were known longer ago than ``keep``, and far hours of older ones.

        Past skill is about the coming night, so of every issue but the ``newest`` only the
        hours up to ``ahead`` of it are of use.
        """
        here = and_(forecasts.c.yard_id == self._yard_id, forecasts.c.source == source)
        self._connection.execute(
            delete(forecasts).where(here, forecasts.c.fetched_ms < to_ms(newest - keep))
        )
        self._connection.execute(
            delete(forecasts).where(
                here,
                forecasts.c.issued_ms < to_ms(newest),
                forecasts.c.valid_ms
                > forecasts.c.issued_ms + int(ahead / timedelta(milliseconds=1)),
            )
        )

    def forget_source(self, source: str) -> None:
        """Remove all issues of a source: they were for another place."""
        self._connection.execute(
            delete(forecasts).where(
                forecasts.c.yard_id == self._yard_id, forecasts.c.source == source
            )
        )

    def asking_of(self, source: str) -> ForecastAsking:
        """How asking a source went so far; of one never asked, that."""
        body = self._connection.scalar(
            select(forecast_asking.c.body).where(
                forecast_asking.c.yard_id == self._yard_id, forecast_asking.c.source == source
            )
        )
        return ForecastAsking(source=source) if body is None else _ASKING.validate_json(body)

    def set_asking(self, asking: ForecastAsking) -> None:
        """Keep how asking a source went, in place of what was kept before."""
        key = {"yard_id": self._yard_id, "source": asking.source}
        self._connection.execute(
            delete(forecast_asking).where(
                *(forecast_asking.c[name] == value for name, value in key.items())
            )
        )
        self._connection.execute(
            insert(forecast_asking).values(**key, body=_ASKING.dump_json(asking).decode())
        )


def _forecast(rows: Sequence[Row[Any]]) -> PublicForecast:
    first = rows[0]
    return PublicForecast(
        source=first.source,
        issued=from_ms(first.issued_ms),
        fetched=from_ms(first.fetched_ms),
        at_ms=np.array([row.valid_ms for row in rows], dtype=np.int64),
        air_c=np.array([row.air * _STEP_C for row in rows]),
        dew_point_c=np.array(
            [np.nan if row.dew_point is None else row.dew_point * _STEP_C for row in rows]
        ),
    )
