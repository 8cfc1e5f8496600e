"""The writer: one transaction for many messages, then their acknowledgements, in order."""

import logging
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import timedelta
from operator import itemgetter

from monitor.clock import from_ms
from monitor.errors import StoreError
from monitor.intake.decode import CUT_SHORT, DecodedReading, Decoder
from monitor.intake.follow import Stored, enter_readings, replay_aside
from monitor.intake.inbox import BEGINNING, ArrivedMessage, Inbox, in_turns
from monitor.store.aside import AsideKind, KeptAside
from monitor.store.store import Store
from monitor.yard.health import IntakeFaultKind

log = logging.getLogger("laidup.intake")

_LONGEST_LINGER_S = 0.1
_MESSAGES_PER_S = 5000  # a batch of so many lets one second more come; in proportion below
ASIDE_BYTES = 16 * 1024 * 1024  # kept aside at most: topics, reasons and payloads
ASIDE_AGE = timedelta(days=120)  # a winter: a sensor may become known as late as in spring
_TRIM_EVERY_BYTES = ASIDE_BYTES // 8  # trimming goes through all that is aside: now and then
_PORTION_BYTES = 1024 * 1024  # in one transaction, where more waits: a second's work at most
_WHOLE_BYTES = 64 * 1024  # of what nobody can read, on one topic in one transaction
_FIRST_PAUSE_S = 0.5
_LONGEST_PAUSE_S = 5.0
_SIFT_AFTER = 3  # failures in a row: is it one message that the store will never take?
_SAY_AGAIN_S = 600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchSummary:
    """What one committed batch brought."""

    readings: int  # that were new
    newest_ms: int | None  # latest time among its readings; None if it had none
    oldest_ms: int | None  # earliest, likewise
    sensors: frozenset[str]
    aside: int  # messages kept aside, wholly or in part


class Writer:
    """Takes messages from the inbox into the store, in one thread of its own."""

    def __init__(
        self,
        store: Store,
        decoder: Decoder,
        inbox: Inbox,
        acknowledge: Callable[[Iterable[ArrivedMessage]], None],
        on_batch: Callable[[BatchSummary], None],
        between: Callable[[], None] = lambda: None,
    ) -> None:
        """Make a writer that has not yet started.

        ``between`` is called in its thread between batches, and once a second where none come.
        """
        self._between = between
        self._own = decoder.clocks.own
        self._said_between = float("-inf")
        self._store = store
        self._decoder = decoder
        self._inbox = inbox
        self._acknowledge = acknowledge
        self._on_batch = on_batch
        self._thread = threading.Thread(target=self._write_batches, name="intake", daemon=True)
        self._stopping = threading.Event()
        self.messages = 0
        self.readings = 0
        self.aside = 0
        self.last_message_ms: int | None = None
        self._kept_bytes = _TRIM_EVERY_BYTES  # trim at the first message aside, then after so many
        self._said_unforeseen = float("-inf")
        self.refusal: StoreError | None = None  # why the store takes nothing; None while it does

    def start(self) -> None:
        """Start the thread."""
        self._thread.start()

    def stop(self, timeout: float) -> None:
        """Store what has arrived and end the thread; what cannot be stored stays in the broker."""
        self._stopping.set()
        self._inbox.wake_writer()
        if self._thread.is_alive():
            self._thread.join(timeout)

    def _write_batches(self) -> None:
        self._take_up()
        last = 0
        while True:
            self._inbox.wait_for_message(1.0)
            if not self._inbox and self._stopping.is_set():
                return
            if last > 1 and not self._stopping.is_set():
                # Under load, fewer and larger transactions; alone, at once.
                self._inbox.wait_for_more(min(last / _MESSAGES_PER_S, _LONGEST_LINGER_S))
            self._do_between()
            messages = self._inbox.take_all()
            last = len(messages)
            try:
                if messages and not self._store_in_turns(messages):
                    return
            except Exception:  # unacknowledged, they come again; the thread must live
                log.exception("%d messages could not be dealt with.", len(messages))

    def _do_between(self) -> None:
        try:
            self._between()
        except Exception:
            if time.monotonic() - self._said_between > _SAY_AGAIN_S:
                self._said_between = time.monotonic()
                log.exception("What is kept beside readings failed and will be tried again.")

    def _take_up(self) -> None:
        """Take up what is known of clocks, and try again what is kept aside.

        Its sensor may have become known since, or been tied to where its readings come from:
        whoever claims one from elsewhere is counted anew.
        """
        try:
            with self._store.transaction(can_wait=True) as tx:
                wrong = tx.sensor_clocks.wrong_clocks()
                tx.intake_faults.clear_fault(IntakeFaultKind.FOREIGN_TOPIC)
            self._decoder.clocks.recall_wrong(wrong)
            again = replay_aside(self._store, self._decoder)
        except Exception:
            self._decoder.sensors.forget_store()
            log.exception("What is kept aside could not be tried again.")
            return
        if again.readings:
            log.info(
                "Taken now from what was kept aside: readings %d, messages %d.",
                again.readings,
                again.messages,
            )

    def _store_in_turns(self, messages: list[ArrivedMessage]) -> bool:
        """Store and acknowledge messages, each topic in its turn; False if told to stop before.

        Acknowledgements leave in the order in which the messages came (MQTT 5, section 4.6).
        """
        stored: set[int] = set()
        acknowledged = 0
        for portion in in_turns(messages, _PORTION_BYTES):
            summary = self._store_portion(portion)
            if summary is None:
                return False
            stored.update(map(id, portion))
            first = acknowledged
            while acknowledged < len(messages) and id(messages[acknowledged]) in stored:
                acknowledged += 1
            self._acknowledge(messages[first:acknowledged])
            # Whoever sees them counted finds them acknowledged; whoever is told finds them counted.
            self.messages += len(portion)
            self._report_summary(summary)
        return True

    def _store_portion(self, messages: list[ArrivedMessage]) -> BatchSummary | None:
        """Store in one transaction, until it is done; None if told to stop before."""
        messages, taken, aside = self._decode_by_right_clock(messages)
        pause_s, said, failures = _FIRST_PAUSE_S, 0.0, 0
        while True:
            try:
                if failures == _SIFT_AFTER:
                    taken, aside = self._set_refused_aside(messages)
                entered = self._commit_batch(taken, aside, messages[-1].arrived_ms)
                break
            except Exception as error:  # noqa: BLE001
                failures += 1
                # Whatever the store says, the messages are not lost: the broker has them.
                self._decoder.sensors.forget_store()
                self.refusal = _as_refusal(error)
                if not said or time.monotonic() - said > _SAY_AGAIN_S:
                    log.error(
                        "The store takes nothing (%s). %d messages are held, the others wait in"
                        " the broker; laidup keeps trying.",
                        self.refusal,
                        len(messages),
                    )
                    said = time.monotonic()
            if self._stopping.wait(pause_s):
                return None
            pause_s = min(2 * pause_s, _LONGEST_PAUSE_S)
        if said:
            log.warning("The store takes readings again.")
        self.refusal = None
        if self._own is not None:
            self._own.note_stamped(self._decoder.stamped)
        self.readings += entered.new
        kept_aside = len(aside) + entered.contrary + entered.too_late
        self.aside += kept_aside
        self.last_message_ms = messages[-1].arrived_ms
        return _summary_of(taken, entered.new, kept_aside)

    def _decode_by_right_clock(
        self, messages: list[ArrivedMessage]
    ) -> tuple[list[ArrivedMessage], list[DecodedReading], list[tuple[ArrivedMessage, str]]]:
        """Decode; once more, where the messages show that our own clock is wrong."""
        if self._own is None:
            return messages, *self._decode_messages(messages)
        messages = self._own.restamp_messages(messages)
        self._decoder.stamped.clear()
        taken, aside = self._decode_messages(messages)
        if self._own.put_right():
            self._decoder.clocks.acquit_all()
            messages = self._own.restamp_messages(messages)
            self._decoder.stamped.clear()
            taken, aside = self._decode_messages(messages)
        return messages, taken, aside

    def _set_refused_aside(
        self, messages: list[ArrivedMessage]
    ) -> tuple[list[DecodedReading], list[tuple[ArrivedMessage, str]]]:
        """Find the messages that the store refuses while it takes others, and set them aside.

        Each is stored on its own; what can neither be stored nor kept aside raises: then it is
        the store that is unwell, not the message.
        """
        taken, aside = [], []
        for message in messages:
            readings, reasons = self._decode_messages([message])
            try:
                self._commit_batch(readings, reasons, message.arrived_ms)
                taken += readings
                aside += reasons
            except Exception as error:  # noqa: BLE001
                self._decoder.sensors.forget_store()
                refused = (message, f"the store refuses it: {error!r}"[:500])
                self._commit_batch([], [refused], message.arrived_ms)
                aside.append(refused)
        return taken, aside

    def _decode_messages(
        self, messages: list[ArrivedMessage]
    ) -> tuple[list[DecodedReading], list[tuple[ArrivedMessage, str]]]:
        taken: list[DecodedReading] = []
        aside: list[tuple[ArrivedMessage, str]] = []
        for message in messages:
            try:
                readings, reason = self._decoder.decode_message(message)
            except Exception as error:
                if time.monotonic() - self._said_unforeseen > _SAY_AGAIN_S:
                    self._said_unforeseen = time.monotonic()
                    log.warning("A message on %s could not be read.", message.topic, exc_info=True)
                readings, reason = [], f"it could not be read: {error!r}"
            taken += readings
            if reason:
                aside.append((message, reason))
        return taken, self._shorten_flood(aside)

    def _shorten_flood(
        self, aside: list[tuple[ArrivedMessage, str]]
    ) -> list[tuple[ArrivedMessage, str]]:
        """Of a flood of unreadable messages, the first ones whole, the beginnings of the rest.

        To write all of it would hold up good readings by minutes. What can be read stays whole: its
        sensor may become known.
        """
        whole: Counter[str] = Counter()
        kept = []
        for message, reason in aside:
            size = len(message.payload)
            if (
                size > BEGINNING
                and whole[message.topic] + size > _WHOLE_BYTES
                and not self._decoder.can_read(message)
            ):
                message = message._replace(payload=message.payload[:BEGINNING], cut_from=size)
                reason = f"{CUT_SHORT}: one of many; {reason}"
            else:
                whole[message.topic] += size
            kept.append((message, reason))
        return kept

    def _commit_batch(
        self,
        taken: Sequence[DecodedReading],
        aside: Sequence[tuple[ArrivedMessage, str]],
        arrived_ms: int,
    ) -> Stored:
        now = from_ms(arrived_ms)
        clocks = self._decoder.clocks.clock_news()
        with self._store.transaction(can_wait=True) as tx:
            entered = enter_readings(tx, taken, now)
            kept_bytes = entered.aside_bytes + tx.aside.keep_all(
                KeptAside(
                    _storable_text(message.topic),
                    _storable_text(reason),
                    message.payload,
                    from_ms(message.arrived_ms),
                    AsideKind.CUT_SHORT if message.cut_from else None,
                )
                for message, reason in aside
            )
            foreign = sum(self._decoder.is_foreign(message) for message, _ in aside)
            if foreign:
                tx.intake_faults.count_more(IntakeFaultKind.FOREIGN_TOPIC, foreign, now)
            tx.sensor_clocks.note_clocks(clocks, now)
            self._kept_bytes += kept_bytes
            if kept_bytes and self._kept_bytes >= _TRIM_EVERY_BYTES:
                self._kept_bytes = 0
                tx.aside.trim_to(ASIDE_BYTES - _TRIM_EVERY_BYTES, now - ASIDE_AGE)
        self._decoder.clocks.note_stored(clocks)
        return entered

    def _report_summary(self, summary: BatchSummary) -> None:
        try:
            self._on_batch(summary)
        except Exception:
            log.exception("The batch is stored, but what follows it failed.")


def _summary_of(taken: Sequence[DecodedReading], new: int, aside: int) -> BatchSummary:
    times = list(map(itemgetter(1), taken))
    return BatchSummary(
        readings=new,
        newest_ms=max(times, default=None),
        oldest_ms=min(times, default=None),
        sensors=frozenset(track.sensor for track in {one[0] for one in taken}),
        aside=aside,
    )


def _as_refusal(error: Exception) -> StoreError:
    """Why the store takes nothing, of its kind and in one line."""
    kind = type(error) if isinstance(error, StoreError) else StoreError
    return kind((str(error) or repr(error)).splitlines()[0])


def _storable_text(text: str) -> str:
    """Text that every database takes: no lone surrogates, no NUL."""
    return text.encode("utf-8", "backslashreplace").decode("utf-8").replace("\0", "\\0")
