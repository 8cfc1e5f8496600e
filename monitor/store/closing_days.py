"""Closes each day of UTC that is over: its tree is made, and its root goes into the yard's record.

A reading that comes later, for a day that is closed, makes a further leaf in the tree of the day
in which it arrived. So a tree says what the store held when it was closed, and the store itself
stays the same in whatever order readings come.
"""

from collections.abc import Iterator, Sequence
from datetime import date, datetime, timedelta

from monitor.clock import to_ms
from monitor.craft.links import YARD_CHAIN, LinkKind
from monitor.craft.tree_cover import HashedTree
from monitor.store.chain import Content
from monitor.store.day_trees import DayTrees, day_bounds, day_of
from monitor.store.stale_hours import LateHour
from monitor.store.statements import in_batches
from monitor.store.store import Store
from monitor.store.transaction import Transaction
from monitor.yard.day_leaves import DayGroup, hour_leaf, sensor_group
from monitor.yard.hourly import HOUR_MS
from monitor.yard.reading import Channel

# Most readings have come by then, and have moved on from where they land.
_GRACE = timedelta(minutes=90)
_SENSORS_AT_ONCE = 20  # their readings of a day are held in memory
_LATE_AT_ONCE = 20_000  # late hours that one day takes in


def close_due_days(store: Store, now: datetime, *, at_most: int | None = None) -> int:
    """Close the days that are over, the oldest first; tells how many.

    A kill at any moment leaves a day closed as a whole or not at all.

    Parameters
    ----------
    store : Store
    now : datetime
    at_most : int, optional
        Days; a yard that had none closed has its whole history to close.

    Raises
    ------
    StoreError
        If the store takes nothing; days that were closed stay closed.
    """
    closed = 0
    while at_most is None or closed < at_most:
        day = _begin_day(store, now)
        if day is None:
            break
        with store.snapshot() as tx:
            late = tx.late_hours.noted_hours(_LATE_AT_ONCE)
            groups = _groups_of_day(tx, day, late)
        tree = HashedTree([one.leaf for one in groups])
        said = {"day": day.isoformat(), "groups": tree.size, "root": tree.root}
        with store.transaction(can_wait=True) as tx:
            if _next_day(tx) != day:  # another process closed it meanwhile
                continue
            tx.day_trees.add_day(day, groups)
            content = Content(craft=YARD_CHAIN, kind=LinkKind.DAY, said=said)
            tx.layup.chain.append_links([content], now)
            tx.late_hours.forget_hours(late)
        closed += 1
    return closed


def _begin_day(store: Store, now: datetime) -> date | None:
    """The next day to close, from now on with a note of each reading that comes late for it."""
    with store.snapshot() as tx:
        day = _next_day(tx)
    if day is None or day_bounds(day)[1] > to_ms(now - _GRACE):
        return None
    with store.transaction(can_wait=True) as tx:
        tx.late_hours.note_before(day_bounds(day)[1])
    return day


def _next_day(tx: Transaction) -> date | None:
    """The day after the last that was closed, or the first with a reading; None without any."""
    last = tx.layup.chain.last_day()
    if last is not None:
        return last + timedelta(days=1)
    oldest_ms = tx.day_trees.oldest_reading_ms()
    return None if oldest_ms is None else day_of(oldest_ms)


def _groups_of_day(tx: Transaction, day: date, late: Sequence[LateHour]) -> list[DayGroup]:
    begin_ms, end_ms = day_bounds(day)
    groups = [
        *tx.day_trees.alarm_groups(begin_ms, end_ms),
        *tx.day_trees.letter_groups(begin_ms, end_ms),
        *tx.told_alarms.day_groups(begin_ms, end_ms),
        *_sensor_groups(tx, begin_ms, end_ms, late),
    ]
    return sorted(groups, key=lambda one: one.leaf)


def _sensor_groups(
    tx: Transaction, begin_ms: int, end_ms: int, late: Sequence[LateHour]
) -> Iterator[DayGroup]:
    series = tx.series.series_by_sensor()
    late_of: dict[int, set[int]] = {}
    for one in late:
        if one.hour_ms < begin_ms:  # of the day itself all hours are taken anyway
            late_of.setdefault(one.series_id, set()).add(one.hour_ms)
    for some in in_batches(sorted(series), _SENSORS_AT_ONCE):
        ids = [series_id for sensor in some for series_id in series[sensor].values()]
        rows = tx.day_trees.hours_of_series(ids, begin_ms, end_ms)
        for sensor in some:
            of_sensor = series[sensor]
            channels = sorted(of_sensor)
            read = [(channel, rows.get(of_sensor[channel], {})) for channel in channels]
            hours = {hour for _, by_hour in read for hour in by_hour}
            leaves = {
                hour: hour_leaf(hour, channels, {c: by_hour.get(hour, ()) for c, by_hour in read})
                for hour in hours
            }
            own_late = {each for one in of_sensor.values() for each in late_of.get(one, ())}
            leaves |= _late_leaves(tx.day_trees, sensor, of_sensor, own_late)
            if leaves:
                yield sensor_group(sensor, channels, [leaves[hour] for hour in sorted(leaves)])


def _late_leaves(
    trees: DayTrees, sensor: str, series: dict[Channel, int], hours: set[int]
) -> dict[int, list[object]]:
    """Leaves of hours of closed days whose readings are no longer those of their last leaf."""
    if not hours:
        return {}
    channels = sorted(series)
    last = {leaf[0]: leaf for leaf in trees.leaves_of_sensor(sensor, channels)}
    found: dict[int, list[object]] = {}
    for hour in hours:
        rows = trees.hours_of_series(series.values(), hour, hour + HOUR_MS)
        read = {each: rows.get(series[each], {}).get(hour, ()) for each in channels}
        leaf = hour_leaf(hour, channels, read)
        if last.get(leaf[0]) != leaf:
            found[hour] = leaf
    return found
