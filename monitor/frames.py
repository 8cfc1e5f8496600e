"""A yard's readings, judgements and record as pandas frames, for a notebook or a script.

Needs the extra ``data``. Three lines::

    from monitor.frames import YardFrames
    yard = YardFrames("/srv/laidup")
    readings = yard.reading_frame("2026-11-01", "2026-12-01")

The store is only read; laidup may run meanwhile.
"""

from datetime import UTC, datetime
from pathlib import Path

import pandas as pd

from monitor.clock import to_ms
from monitor.reports.export_rows import RECORD_COLUMNS, columns_of, record_rows
from monitor.settings.load import load_settings
from monitor.settings.place import yard_file_in
from monitor.store.store import Store

_BEGINNING = datetime(1970, 1, 1, tzinfo=UTC)


class YardFrames:
    """Opens one yard to look."""

    def __init__(self, folder: str | Path) -> None:
        """Open the yard.

        Parameters
        ----------
        folder : str or Path
            The yard's folder, or its ``yard.toml``.

        Raises
        ------
        ConfigurationError
            If the yard's file is wrong.
        StoreError
            If there is no store yet, or one of another revision.
        """
        self._settings = load_settings(yard_file_in(folder))
        self._store = Store(self._settings.store_url, self._settings.yard.id, only_looking=True)
        self._store.use_archive(self._settings.archive)

    def reading_frame(
        self, since: str | datetime = _BEGINNING, until: str | datetime | None = None
    ) -> pd.DataFrame:
        """Readings as they are judged on, calibrations applied, with their flags.

        Parameters
        ----------
        since, until : str or datetime, optional
            ``since <= at < until``; a text or a time without a zone is the yard's own.

        Returns
        -------
        DataFrame
            Columns ``at`` (UTC), ``sensor``, ``channel``, ``value`` (in the channel's unit: degrees
            Celsius, per cent, V, A) and ``flag`` (QARTOD, 1 to 4).
        """
        begin, end = self._time_ms(since), self._time_ms(until or datetime.now(UTC))
        with self._store.snapshot() as tx:
            traces = tx.readings.traces_between(list(tx.series.known_series()), begin, end)
        parts = [
            pd.DataFrame(
                {
                    "at": pd.to_datetime(trace.at_ms, unit="ms", utc=True),
                    "sensor": trace.sensor,
                    "channel": str(trace.channel),
                    "value": trace.value,
                    "flag": trace.flag,
                }
            )
            for trace in traces.values()
        ]
        empty = pd.DataFrame(columns=["at", "sensor", "channel", "value", "flag"])
        return pd.concat(parts, ignore_index=True) if parts else empty

    def assessment_frame(
        self, since: str | datetime = _BEGINNING, until: str | datetime | None = None
    ) -> pd.DataFrame:
        """Every change of standing.

        Returns
        -------
        DataFrame
            Columns ``at`` (UTC), ``hazard``, ``space``, ``craft``, ``part``, ``standing``,
            ``now_c``, ``low_c``, ``limit_c``, ``margin_k`` (NaN: not known) and ``deadline``.
        """
        begin, end = (
            datetime.fromtimestamp(self._time_ms(one) / 1000, UTC)
            for one in (since, until or datetime.now(UTC))
        )
        with self._store.snapshot() as tx:
            changes = tx.assessments.changes_between(begin, end)
        names = ("now_c", "low_c", "limit_c", "margin_k")
        return pd.DataFrame(
            [
                {
                    "at": one.at,
                    "hazard": str(one.hazard),
                    "space": one.subject.space,
                    "craft": one.subject.craft,
                    "part": one.subject.part,
                    "standing": str(one.standing),
                    **{name: getattr(one, name) for name in names},
                    "deadline": one.deadline,
                }
                for one in changes
            ],
            columns=[*("at", "hazard", "space", "craft", "part", "standing"), *names, "deadline"],
        )

    def record_frame(self) -> pd.DataFrame:
        """Every entry of the lay-up record, a text a column as in a work list; '' is not said."""
        with self._store.snapshot() as tx:
            records = tx.layup.all_records(self._settings.profiles, check_chains=True)
        return pd.DataFrame(columns_of(record_rows(records), RECORD_COLUMNS))

    def close(self) -> None:
        """Let go of the store."""
        self._store.close()

    def _time_ms(self, said: str | datetime) -> int:
        at = datetime.fromisoformat(said) if isinstance(said, str) else said
        return to_ms(at if at.tzinfo is not None else at.replace(tzinfo=self._settings.yard.zone))
