"""Does the store hold what its closed days say? Groups against roots, readings against leaves.

A reading that came late stands in the tree of a later day, so of each hour the last leaf counts.
Hours that have been noted as late since then get their leaf when the next day is closed.
"""

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any, NamedTuple

from monitor.craft.breaks import Break, Tampering
from monitor.errors import LaidupError, StoreError
from monitor.store.closed_trees import ClosedTrees, HourLeaf, hour_words, leaf_of_rows
from monitor.store.day_trees import DAY_MS, day_bounds
from monitor.store.reading_rows import ArchivedRows
from monitor.store.transaction import Transaction
from monitor.yard.reading import Channel

_SPAN_MS = 10 * DAY_MS  # of one sensor, whose readings are held in memory at once
_READINGS_REMEDY = (
    "Compare these hours with a backup of the store and with season records that were given out;"
    " do not rely on what stands there now."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class DaysVerified:
    """What a check of the closed days found."""

    days: int
    sensors: int
    hours: int  # of sensors, whose readings were compared
    breaks: tuple[Break, ...]
    archived: Mapping[Path, int]  # hours that are no longer in the store, by the file that has them
    archive_faults: tuple[str, ...]  # why files have none of what is gone

    @property
    def whole(self) -> bool:
        """Whether nothing was found."""
        return not self.breaks


class _OddHour(NamedTuple):
    """An hour of a sensor whose readings are not those of its last leaf."""

    hour_ms: int
    channels: Sequence[Channel]
    then: list[Any] | None  # its last leaf; None: it has none
    now: list[Any] | None  # None: what stands there is no reading

    @property
    def is_gone(self) -> bool:
        """Whether it had readings when its day was closed, and has none now."""
        return self.then is not None and self.now is not None and not any(self.now[2:])


def verify_days(
    tx: Transaction, tell_sensor: Callable[[int, int, str], None] = lambda *_: None
) -> DaysVerified:
    """Compare leaves, roots and readings of every day that is closed.

    Every reading is read once, those of one sensor and ten days at a time.

    Parameters
    ----------
    tx : Transaction
        A snapshot; nothing is written.
    tell_sensor : callable, optional
        Told the number of a sensor that is begun, how many there are, and its name.
    """
    trees = ClosedTrees(tx)
    closed, breaks = trees.closed, trees.find_breaks()
    series = tx.series.series_by_sensor()
    noted = [(one.series_id, one.hour_ms) for one in tx.late_hours.noted_hours()]
    span = _span_of(closed)
    sensors = sorted({*trees.sensors, *series}) if closed else []
    hours, archive = 0, _ArchivedHours(tx.archived)
    for number, sensor in enumerate(sensors, start=1):
        tell_sensor(number, len(sensors), sensor)
        leaves, unfit = trees.leaves_of_sensor(sensor)
        own = series.get(sensor, {})
        late = {hour_ms for series_id, hour_ms in noted if series_id in own.values()}
        compared = [] if unfit else _odd_hours(tx, own, leaves, span)
        odd = [
            one for one in compared if one.hour_ms not in late and not archive.holds(sensor, one)
        ]
        breaks += [*unfit, *([_reading_break(sensor, odd)] if odd else [])]
        hours += len(leaves)
    return DaysVerified(
        days=len(closed),
        sensors=len(sensors),
        hours=hours,
        breaks=tuple(breaks),
        archived=archive.hours,
        archive_faults=tuple(archive.faults),
    )


class _ArchivedHours:
    """Hours that are gone from the store, looked up in the archive."""

    def __init__(self, archived: ArchivedRows | None) -> None:
        self._archived = archived
        self.hours: dict[Path, int] = {}
        self.faults: dict[str, None] = {}  # in the order in which they came up

    def holds(self, sensor: str, odd: _OddHour) -> bool:
        """Whether an hour is gone from the store, and a file has it as its last leaf does."""
        if self._archived is None or not odd.is_gone:
            return False
        try:
            file = self._archived.file_of(odd.hour_ms, sensor)
        except StoreError:
            raise
        except LaidupError as error:
            self.faults[str(error)] = None
            return False
        if file is not None:
            self.hours[file] = self.hours.get(file, 0) + 1
        return file is not None


def _span_of(closed: Collection[str]) -> tuple[int, int]:
    """Beginning and end of what the closed days cover [ms]."""
    if not closed:
        return 0, 0
    first, last = (date.fromisoformat(one) for one in (min(closed), max(closed)))
    return day_bounds(first)[0], day_bounds(last)[1]


def _odd_hours(
    tx: Transaction,
    series: Mapping[Channel, int],
    leaves: Mapping[int, Sequence[HourLeaf]],
    span: tuple[int, int],
) -> Iterator[_OddHour]:
    """Hours of a sensor whose readings are not those of their last leaf, in order of time."""
    first_ms = min([span[0], *leaves])
    for begin_ms in range(first_ms, span[1], _SPAN_MS):
        end_ms = min(begin_ms + _SPAN_MS, span[1])
        rows = tx.day_trees.hours_of_series(series.values(), begin_ms, end_ms)
        there = {hour for by_hour in rows.values() for hour in by_hour}
        for hour_ms in sorted({*there, *(one for one in leaves if begin_ms <= one < end_ms)}):
            read = {c: rows.get(n, {}).get(hour_ms, ()) for c, n in series.items()}
            leaf = leaves[hour_ms][-1] if hour_ms in leaves else None
            channels = sorted(series) if leaf is None else leaf.channels
            now = leaf_of_rows(hour_ms, channels, read)
            if leaf is None or now != leaf.said:
                yield _OddHour(hour_ms, channels, None if leaf is None else leaf.said, now)


def _reading_break(sensor: str, odd: Sequence[_OddHour]) -> Break:
    """The first odd hour of a sensor, and how many more there are."""
    first = odd[0]
    what, told = _told(first)
    more = f"; and {len(odd) - 1} more of its hours" if len(odd) > 1 else ""
    return Break(
        craft="",
        part=f"readings of {sensor}",
        what=what,
        words=f"Readings of {sensor} in the hour from {hour_words(first.hour_ms)} {told}{more}",
        remedy=_READINGS_REMEDY,
        number=len(odd),
    )


def _told(odd: _OddHour) -> tuple[Tampering, str]:
    if odd.then is None:
        return Tampering.ADDED, "stand in the store, and in no closed day"
    if odd.now is None:
        return Tampering.CHANGED, "hold what is no reading"
    if odd.is_gone:
        return Tampering.DELETED, "are gone"
    pairs = zip(odd.channels, odd.then[2:], odd.now[2:], strict=True)
    figures = [
        f"{channel}: {_figures(channel, then)} then, {_figures(channel, now)} now"
        for channel, then, now in pairs
        if then != now
    ]
    why = "; ".join(figures) or "its lowest, highest and mean are the same, single readings not"
    return Tampering.CHANGED, f"are not what they were when their day was closed ({why})"


def _figures(channel: Channel, said: Sequence[int | None] | None) -> str:
    """``6 readings, -4.12 to -3.9 Cel``."""
    if said is None:
        return "none"
    count, low, high, _ = said
    if low is None or high is None:
        return "none that counts"
    least, most = (round(steps * channel.resolution, 6) for steps in (low, high))
    unit = channel.senml_unit
    return f"{count} reading{'' if count == 1 else 's'}, {least:g} to {most:g} {unit}"
