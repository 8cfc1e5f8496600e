"""Empties the outbox: claim, send outside any transaction, record the receipt; again until done.

At least once, and never again after a confirmation: a message whose worker died between sending
and recording is sent anew with the same Message-ID once its claim has run out.
"""

import logging
import random
from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import datetime, timedelta

from monitor.clock import Clock
from monitor.delivery.channels.channel import Channel
from monitor.store.outbox import Waiting
from monitor.store.store import Store, Transaction
from monitor.yard.message import DeliveryOutcome, Message, MessageKind, Receipt

log = logging.getLogger("laidup.delivery")

_LEASE = timedelta(minutes=10)  # longer than any channel may take over one message
_FIRST_WAIT = timedelta(seconds=30)
# What a person must act on asks often whether the channel is back; the rest follows it.
_LONGEST_WAIT = {
    MessageKind.ALARM: timedelta(minutes=4),
    MessageKind.UPDATE: timedelta(minutes=4),
    MessageKind.ALL_CLEAR: timedelta(minutes=30),
    MessageKind.REPORT: timedelta(minutes=30),
    MessageKind.TEST: timedelta(minutes=4),
}
_JITTER = 0.25  # share of the wait, either way: many yards must not knock in step
# After so long a message tells nothing that helps. What a person must do tonight is stale sooner
# than a report.
_GIVE_UP = {
    MessageKind.ALARM: timedelta(days=2),
    MessageKind.UPDATE: timedelta(days=2),
    MessageKind.ALL_CLEAR: timedelta(days=2),
    MessageKind.REPORT: timedelta(days=5),
    MessageKind.TEST: timedelta(hours=1),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class PostSummary:
    """What one run handed over."""

    taken: int = 0
    put_off: int = 0
    refused: int = 0

    def __add__(self, other: "PostSummary") -> "PostSummary":
        """Add two runs up."""
        return PostSummary(
            taken=self.taken + other.taken,
            put_off=self.put_off + other.put_off,
            refused=self.refused + other.refused,
        )


class Post:
    """Carries messages from the outbox to their channels."""

    def __init__(
        self,
        store: Store,
        channels: Mapping[str, Channel],
        clock: Clock,
        *,
        chance: random.Random | None = None,
        on_try: Callable[[], None] = lambda: None,
    ) -> None:
        """Make a post.

        Parameters
        ----------
        store : Store
        channels : mapping of name to Channel
        clock : Clock
        chance : random.Random, optional
            Where the jitter comes from.
        on_try : callable
            Told before each try: a long run that goes on is no run that hangs.
        """
        self._store = store
        self._channels = channels
        self._clock = clock
        self._on_try = on_try
        # Channels that took nothing last time; of a new post nobody knows, so all of them.
        self._failed = set(channels)
        self._chance = chance or random.Random()  # noqa: S311 - spreads load, guards nothing

    def run_once(self) -> PostSummary:
        """Try everything that is due, once.

        Channels run beside each other: a mail server that hangs does not hold up a siren. On
        one channel, the first failure that is not the message's own fault ends the run, so that
        a dead server costs one time-out and not one for each message.
        """
        with self._store.snapshot() as tx:
            due = tx.outbox.due_channels(self._clock.now())
        if not due:
            return PostSummary()
        with ThreadPoolExecutor(max_workers=len(due), thread_name_prefix="post") as workers:
            return sum(workers.map(self._empty, due), start=PostSummary())

    def _empty(self, name: str) -> PostSummary:
        done = PostSummary()
        self._on_try()
        with self._store.transaction() as tx:
            waiting = self._claimed(tx, name)
        while waiting is not None:
            receipt = self._send(name, waiting.message)
            self._on_try()
            settled, waiting = self._settle(waiting, receipt)
            done += settled
            # A failure after a success is the message's own trouble, and no sign of the channel's.
            if receipt.outcome is DeliveryOutcome.PUT_OFF and not done.taken:
                self._failed.add(name)
        return done

    def _claimed(self, tx: Transaction, name: str) -> Waiting | None:
        """The next message that is due on a channel, claimed; None if there is none."""
        claimed = tx.outbox.claim(self._clock.now(), _LEASE, limit=1, channels=(name,))
        return claimed[0] if claimed else None

    def _send(self, name: str, message: Message) -> Receipt:
        channel = self._channels.get(name)
        if channel is None:
            return Receipt(
                outcome=DeliveryOutcome.PUT_OFF, detail=f"no channel {name} is configured"
            )
        try:  # one odd message must not stop the others
            return channel.send(message)
        except Exception as error:
            log.exception("The channel %s failed on %r.", name, message.subject)
            return Receipt(
                outcome=DeliveryOutcome.PUT_OFF, detail=f"{type(error).__name__}: {error}"
            )

    def _settle(self, waiting: Waiting, receipt: Receipt) -> tuple[PostSummary, Waiting | None]:
        """Record the receipt and claim the channel's next, in one transaction: half the waits."""
        message, now = waiting.message, self._clock.now()
        goes_on = receipt.outcome is not DeliveryOutcome.PUT_OFF
        due: datetime | None = None
        if receipt.outcome is DeliveryOutcome.PUT_OFF:
            due = now + self.wait(waiting.tries, message.kind)
            if due - message.created_at > _GIVE_UP[message.kind]:
                age_h = (now - message.created_at).total_seconds() / 3600
                due = None
                receipt = Receipt(
                    outcome=DeliveryOutcome.REFUSED,
                    detail=f"given up after {waiting.tries + 1} tries in {age_h:.0f} h:"
                    f" {receipt.detail}",
                )
        with self._store.transaction() as tx:
            tx.outbox.settle(message.key, now, receipt, due)
            if receipt.outcome is DeliveryOutcome.TAKEN and message.channel in self._failed:
                tx.outbox.hasten(message.channel, now)
            following = self._claimed(tx, message.channel) if goes_on else None
        if receipt.outcome is DeliveryOutcome.TAKEN:
            self._failed.discard(message.channel)
        return self._told(message, receipt, due, now), following

    def _told(
        self, message: Message, receipt: Receipt, due: datetime | None, now: datetime
    ) -> PostSummary:
        """Say in the log how an attempt ended, and count it."""
        match receipt.outcome:
            case DeliveryOutcome.TAKEN:
                log.info("Told %s by %s: %s", message.person, message.channel, message.subject)
                return PostSummary(taken=1)
            case DeliveryOutcome.PUT_OFF:
                log.warning(
                    "Could not tell %s by %s yet: %s. Next try in %.0f s.",
                    *(message.person, message.channel, receipt.detail),
                    (due - now).total_seconds() if due else 0,
                )
                return PostSummary(put_off=1)
            case DeliveryOutcome.REFUSED:
                log.error(
                    "Could not tell %s by %s, and will not try again: %s.",
                    *(message.person, message.channel, receipt.detail),
                )
                return PostSummary(refused=1)

    def wait(self, tries: int, kind: MessageKind) -> timedelta:
        """How long to wait after the try number ``tries`` (from 0): doubled each time, jittered."""
        doubled: timedelta = _FIRST_WAIT * (1 << min(tries, 16))
        return min(doubled, _LONGEST_WAIT[kind]) * (1 + self._chance.uniform(-_JITTER, _JITTER))
