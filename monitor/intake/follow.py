"""Readings of a batch become rows with flags; late ones put right what they touch."""

import json
from collections.abc import Collection, Sequence
from datetime import datetime
from typing import NamedTuple

from monitor.clock import from_ms, to_ms
from monitor.intake.decode import DecodedReading, Decoder
from monitor.intake.inbox import ArrivedMessage
from monitor.intake.quality import GAP_MS, NEIGHBOUR_MS, quality_flags
from monitor.intake.track import Track
from monitor.store.aside import AsideKind, KeptAside
from monitor.store.reading_rows import StoredSteps
from monitor.store.series import SeriesKey
from monitor.store.store import Store
from monitor.store.transaction import Transaction
from monitor.yard.reading import Flag

_NO_FLAT_TEST_MS = 2**60
_END_MS = 2**62
_AT_ONCE = 1000  # messages in one transaction: what arrives meanwhile waits


class Stored(NamedTuple):
    """What became of readings that were handed to the store."""

    new: int  # the others were there already
    contrary: int  # for whose times the store holds another value: it stays, they are kept aside
    aside_bytes: int = 0  # that those newly kept aside take there
    too_late: int = 0  # of a time whose raw readings are in the archive: they are kept aside


def enter_readings(tx: Transaction, taken: Sequence[DecodedReading], at: datetime) -> Stored:
    """Store readings with their flags; ``at`` is the time to keep aside by.

    Readings in time order are flagged from what is remembered of their series. Where one is late,
    or nothing is remembered yet, the flags around it are worked out anew from what is stored, so
    that in the end they are the same whatever the order.

    What is older than raw readings may be once months were dropped is kept aside.

    The tracks are changed: if the transaction fails, call `Sensors.forget_store`.
    """
    taken, too_late = _part_too_late(tx, taken)
    late_bytes = _keep_too_late(tx, too_late, at) if too_late else 0
    tracks = {one[0] for one in taken}
    _name_series(tx, tracks)
    _keep_promises(tx, tracks)
    rows: list[StoredSteps] = []
    amended: list[tuple[int, int, int]] = []
    late: dict[Track, tuple[int, int]] = {}
    for one in taken:
        track, at_ms, value, raw, mended = one
        newest_ms = track.newest_ms
        if newest_ms is not None and at_ms > newest_ms:
            flag, doubt = track.flag_next(at_ms, value)
            if doubt is not None:
                amended.append((track.series_id, track.amended_ms, doubt))
            if mended and flag == 1:
                flag = 2
        elif track.is_repeat(at_ms, value):
            continue  # a repeat
        else:
            first, last = late.get(track, (at_ms, at_ms))
            late[track] = (min(first, at_ms), max(last, at_ms))
            track.forget_state()
            flag = 2 if mended else 1
        rows.append((track.series_id, at_ms, value, raw, flag))
    new = tx.reading_writer.append_rows(rows)
    tx.reading_writer.amend_flags(amended)
    for track, (first, last) in late.items():
        tx.reading_writer.amend_flags(_flags_around(tx, track, first, last))
    contrary, contrary_bytes = keep_contrary(tx, taken, at) if new < len(rows) else (0, 0)
    return Stored(new, contrary, contrary_bytes + late_bytes, len(too_late))


def _part_too_late(
    tx: Transaction, taken: Sequence[DecodedReading]
) -> tuple[Sequence[DecodedReading], list[DecodedReading]]:
    """Readings that may be stored, and those that are too old for it.

    A flag rests on what was read before, and changes its neighbours': so far from the mark that
    all of this is in the store a reading has to be.
    """
    first_ms = tx.dropped_months.taken_from_ms
    if not first_ms or all(one.at_ms >= first_ms + _behind_ms(one.track) for one in taken):
        return taken, []
    fit: list[DecodedReading] = []
    too_late: list[DecodedReading] = []
    for one in taken:
        is_fit = one.at_ms >= first_ms + _behind_ms(one.track)
        (fit if is_fit else too_late).append(one)
    return fit, too_late


def _behind_ms(track: Track) -> int:
    """How far back a flag of a series looks [ms]."""
    flat_ms = track.bounds.flat_ms
    return (flat_ms if flat_ms < _NO_FLAT_TEST_MS else 0) + GAP_MS + NEIGHBOUR_MS


def _keep_too_late(tx: Transaction, too_late: Sequence[DecodedReading], at: datetime) -> int:
    """Keep readings aside that came too late; tells the bytes that those newly there take."""
    before_ms = tx.dropped_months.before_ms or 0
    reason = (
        f"too late: raw readings before {from_ms(before_ms):%Y-%m-%d} are in the archive, and this"
        " one would change what was judged by them"
    )
    return tx.aside.keep_all(_kept_aside(one, reason, at, AsideKind.TOO_LATE) for one in too_late)


def _kept_aside(one: DecodedReading, reason: str, at: datetime, kind: AsideKind) -> KeptAside:
    """A reading with its series for a topic, and as payload a SenML pack of what was sent."""
    channel = one.track.channel
    name, unit, step = f"{one.track.sensor}:{channel}", channel.senml_unit, channel.resolution
    value = float(f"{_sent(one) * step:.9g}")
    pack = [{"n": name, "u": unit, "t": one.at_ms / 1000, "v": value}]
    return KeptAside(name, reason, json.dumps(pack).encode(), at, kind)


def _sent(one: DecodedReading) -> int:
    return one.value if one.raw is None else one.raw


def _keep_promises(tx: Transaction, tracks: Collection[Track]) -> None:
    """Keep how soon each series says that its next reading will come, where that has changed."""
    news = {
        one.series_id: one.update_s
        for one in tracks
        if one.update_s is not None and one.update_s != one.kept_update_s
    }
    if news:
        tx.series.keep_promises(news)
        for one in tracks:
            one.kept_update_s = one.update_s


def _name_series(tx: Transaction, tracks: Collection[Track]) -> None:
    """Give every track its id in the store."""
    new = [track for track in tracks if not track.series_id]
    if new:
        keys: dict[SeriesKey, Track] = {(one.sensor, one.channel): one for one in new}
        for key, series_id in tx.series.series_ids(sorted(keys)).items():
            keys[key].series_id = series_id


def _flags_around(
    tx: Transaction, track: Track, first_ms: int, last_ms: int
) -> list[tuple[int, int, int]]:
    """Flags that change around late readings; the track takes up its state again."""
    bounds = track.bounds
    behind_ms = _behind_ms(track)
    begin_ms, end_ms = first_ms - NEIGHBOUR_MS, last_ms + behind_ms
    newest_ms = tx.readings.newest_ms(track.series_id) or last_ms
    if newest_ms <= end_ms + behind_ms:
        end_ms = newest_ms
    at, value, before = tx.readings.steps_of_series(track.series_id, begin_ms - behind_ms, end_ms)
    flags = quality_flags(at, value, bounds)
    flags[(flags == Flag.PASS) & (before == Flag.NOT_EVALUATED)] = Flag.NOT_EVALUATED
    # Those at the edges of what was read lack the neighbours that their stored flags had.
    told_ms = end_ms if end_ms == newest_ms else end_ms - NEIGHBOUR_MS
    changed = ((flags != before) & (at >= begin_ms) & (at <= told_ms)).nonzero()[0]
    changes = [(track.series_id, int(at[n]), int(flags[n])) for n in changed]
    if end_ms < newest_ms:
        at, value, flags = tx.readings.steps_of_series(
            track.series_id, newest_ms - behind_ms, _END_MS
        )
    track.restore_state(at, value, flags)
    return changes


def keep_contrary(
    tx: Transaction, taken: Sequence[DecodedReading], at: datetime
) -> tuple[int, int]:
    """Keep aside those readings that say otherwise than what is stored for their series and time.

    What the sensor sent is compared, not what a calibration made of it: a file brought in again
    after a calibration contradicts nothing. A row's topic is the series, its payload a SenML pack.

    Returns
    -------
    count, bytes : int
        How many there were, and what those that were not aside already take there.
    """
    stored = tx.reading_writer.raw_steps({(one.track.series_id, one.at_ms) for one in taken})
    aside: list[KeptAside] = []
    for one in taken:
        first = stored.get((one.track.series_id, one.at_ms), _sent(one))
        if _sent(one) == first:
            continue
        unit, step = one.track.channel.senml_unit, one.track.channel.resolution
        reason = f"another value for its time; the first one, {first * step:g} {unit}, stays"
        aside.append(_kept_aside(one, reason, at, AsideKind.CONTRARY))
    return len(aside), tx.aside.keep_all(aside)


class Replayed(NamedTuple):
    """What trying again has brought."""

    readings: int
    messages: int  # that are aside no more


def replay_aside(
    store: Store, decoder: Decoder, since: datetime | None = None, later_s: float = 0.0
) -> Replayed:
    """Take in what can now be read of the messages kept aside, and forget those read in full.

    Messages are judged by the time at which they came. What has no time of its own stays aside:
    nobody knows when it was sent. Of a stretch in which our own clock was wrong only the messages
    ``since`` its begin are tried, as having come ``later_s`` seconds later.
    """
    readings = messages = 0
    after = None
    while True:
        with store.snapshot() as tx:
            rows = tx.aside.oldest_of_use(_AT_ONCE, after)
        if not rows:
            return Replayed(readings, messages)
        after = rows[-1]
        taken: list[DecodedReading] = []
        done: list[str] = []
        for row in rows:
            if since is not None and row.last_at < since:
                continue
            came_ms = to_ms(row.last_at) + round(1000 * later_s)
            message = ArrivedMessage(row.topic, row.payload, came_ms, False, 0, 0, 0)
            found, reason = decoder.decode_message(message)
            taken += found
            if found and not reason:
                done.append(row.digest)
        if taken:
            with store.transaction(can_wait=True) as tx:
                readings += enter_readings(tx, taken, after.last_at).new
                tx.aside.drop_messages(done)
            messages += len(done)
