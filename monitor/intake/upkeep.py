"""Upkeep of intake between batches: our clock, times stamped by a wrong one, broker drops."""

import logging
from collections.abc import Callable

from monitor.clock import Clock, to_ms
from monitor.intake.batch import BatchSummary
from monitor.intake.decode import Decoder
from monitor.intake.drops import DropWatch
from monitor.intake.follow import replay_aside
from monitor.intake.own_clock import OwnClock, Retiming
from monitor.store.store import Store
from monitor.store.transaction import Transaction
from monitor.yard.health import IntakeFaultKind
from monitor.yard.reading import Channel, Flag

log = logging.getLogger("laidup.intake")

_OTHER_AMOUNT_S = 60.0  # a change of this much in how wrong our clock is, is kept


class IntakeUpkeep:
    """Called in the writer's thread between batches; whatever fails is tried at the next call."""

    def __init__(
        self,
        store: Store,
        decoder: Decoder,
        clock: Clock,
        drops: DropWatch,
        on_batch: Callable[[BatchSummary], None],
    ) -> None:
        """Keep what ``drops`` and the decoder's own clock have noticed; tell of moved readings."""
        self._store = store
        self._decoder = decoder
        self._clock = clock
        self._drops = drops
        self._on_batch = on_batch
        self._kept_ahead_s: float | None = None  # as the store has it; None: not yet known

    def __call__(self) -> None:
        """Keep what there is to keep, and know the sensors that the yard has now."""
        if self._decoder.take_announced():
            self._take_kept_aside()
        own = self._decoder.clocks.own
        if own is not None:
            for retiming in own.collect_retimings():
                self._retime_readings(own, retiming)
            self._keep_fault(own)
        self._drops.store_growth(self._clock.now())

    def _take_kept_aside(self) -> None:
        """Take in what sensors sent before the yard knew of them, and have it judged."""
        try:
            again = replay_aside(self._store, self._decoder)
        except Exception:
            self._decoder.sensors.forget_store()
            raise
        log.info(
            "The yard's sensors are others now; readings taken from what was kept aside: %d.",
            again.readings,
        )
        if again.readings:
            now_ms = to_ms(self._clock.now())
            self._on_batch(
                BatchSummary(
                    readings=again.readings,
                    newest_ms=now_ms,
                    oldest_ms=None,
                    sensors=frozenset(),
                    aside=0,
                )
            )

    def _retime_readings(self, own: OwnClock, retiming: Retiming) -> None:
        """Give readings that were stored by a wrong clock their true times."""
        by_ms = round(1000 * retiming.by_s)
        with self._store.transaction() as tx:
            times = _times_by_series(tx, retiming, by_ms)
            moved = sum(
                tx.reading_writer.move_in_time(one, at_ms, by_ms) for one, at_ms in times.items()
            )
        # Not again, should what follows fail: it would move them twice.
        own.mark_retimed(retiming)
        self._decoder.sensors.forget_store()
        again = replay_aside(self._store, self._decoder, retiming.since, retiming.by_s)
        log.warning(
            "Times told by a clock that was wrong by %.0f s: %d readings re-timed, %d taken from"
            " what was kept aside.",
            retiming.by_s,
            moved,
            again.readings,
        )
        if moved or again.readings:
            oldest = [min(at_ms) + min(by_ms, 0) for at_ms in times.values()]
            self._on_batch(
                BatchSummary(
                    readings=moved + again.readings,
                    newest_ms=to_ms(self._clock.now()),
                    oldest_ms=min(oldest, default=to_ms(retiming.since)),
                    sensors=frozenset(),
                    aside=0,
                )
            )

    def _keep_fault(self, own: OwnClock) -> None:
        """Store the error of our clock, for the alarms."""
        kind = IntakeFaultKind.OWN_CLOCK
        if self._kept_ahead_s is None:
            with self._store.snapshot() as tx:
                known = tx.intake_faults.standing_faults().get(kind)
            self._kept_ahead_s = known.amount if known else 0.0
        ahead_s = own.ahead_s
        if ahead_s and abs(ahead_s - self._kept_ahead_s) > _OTHER_AMOUNT_S:
            with self._store.transaction() as tx:
                tx.intake_faults.note_fault(kind, ahead_s, self._clock.now())
            self._kept_ahead_s = ahead_s
        elif not ahead_s and self._kept_ahead_s and own.right:
            with self._store.transaction() as tx:
                tx.intake_faults.clear_fault(kind)
            self._kept_ahead_s = 0.0


def _times_by_series(tx: Transaction, retiming: Retiming, by_ms: int) -> dict[int, list[int]]:
    """Times of the readings that are to be moved, by the id of their series.

    What is from where raw readings were dropped, or would get there, stays.
    """
    stamped: dict[tuple[str, Channel], set[int]] = {}
    for one in retiming.stamped:
        stamped.setdefault((one.sensor, one.channel), set()).add(one.at_ms)
    times: dict[int, list[int]] = {}
    for sensor in {sensor for sensor, _ in stamped}:
        for channel, series_id in tx.series.series_of(sensor).items():
            if (sensor, channel) in stamped:
                times[series_id] = sorted(stamped[sensor, channel])
    for blame in retiming.blamed:
        for series_id in tx.series.series_of(blame.sensor).values():
            # Times that are ours because the sensor's clock was not believed have this flag.
            own = tx.readings.times_flagged(series_id, Flag.NOT_EVALUATED, to_ms(blame.since))
            times[series_id] = sorted({*times.get(series_id, ()), *own})
    first_ms = tx.dropped_months.taken_from_ms
    first_ms -= min(by_ms, 0)
    movable = {n: [at_ms for at_ms in of_n if at_ms >= first_ms] for n, of_n in times.items()}
    return {series_id: at_ms for series_id, at_ms in movable.items() if at_ms}
