"""One channel's share of the outbox: claim, send outside any transaction, record the receipt.

At least once, and never again after a confirmation: a message whose process died between sending
and recording is sent anew with the same Message-ID, as soon as a process sees that it died.
While the store takes nothing (a full disk), what is due leaves all the same and is remembered here.
"""

import logging
import random
import re
from collections.abc import Callable, Collection
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from monitor.clock import Clock
from monitor.delivery.channels.channel import HAND_OVER_WITHIN_S, DeliveryChannel
from monitor.delivery.process_name import is_gone
from monitor.delivery.remembered import Remembered, UnwrittenAttempt
from monitor.delivery.waiting import FIRST_WAIT, GIVE_UP, HandOvers, tried_for, wait_after
from monitor.errors import StoreError
from monitor.store.claims import Claimant
from monitor.store.outbox import Waiting
from monitor.store.store import Store
from monitor.yard.message import GIVEN_UP, DeliveryOutcome, Message, Receipt

log = logging.getLogger("laidup.delivery")

LEASE = timedelta(seconds=HAND_OVER_WITHIN_S) + timedelta(minutes=5)


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


class ChannelPost:
    """Carries the messages of one channel; one thread at a time may work it."""

    def __init__(
        self,
        name: str,
        channel: DeliveryChannel | None,
        store: Store,
        clock: Clock,
        *,
        claimant: str,
        chance: random.Random,
        first_wait: timedelta = FIRST_WAIT,
        staff: Collection[str] = (),
        on_try: Callable[[str], None] = lambda _: None,
        sign: Callable[[Message], Message] = lambda message: message,
    ) -> None:
        """Make it.

        Parameters
        ----------
        name : str
            The channel's, as messages name it.
        channel : DeliveryChannel or None
            None where the yard has configured none of that name: its messages wait.
        store : Store
        clock : Clock
        claimant : str
            Process and worker, by a name that ``is_gone`` can look up.
        chance : random.Random
            Where the jitter comes from.
        first_wait : timedelta
            Between the first try and the second.
        staff : collection of str
            Ids of people whose messages go before those of others.
        on_try : callable
            Told the channel's name before and after each try: a long run that goes on is no run
            that hangs.
        sign : callable
            Gives a message that leaves with the head of the record in the yard's own word.
        """
        self.name = name
        self.hand_overs = HandOvers()
        self._channel = channel
        self._store = store
        self._clock = clock
        self._claimant = claimant
        self._chance = chance
        self._first_wait = first_wait
        self._staff = staff
        self._on_try = on_try
        self._sign = sign
        self._remembered = Remembered(clock.elapsed_s)
        self._failing = True  # took nothing last time; of a new one nobody knows
        self._hasten = False  # works again, and the store has not been told
        self._store_refuses = False

    def take_staff(self, staff: Collection[str]) -> None:
        """Ids of people whose messages go first from now on."""
        self._staff = staff

    def send_due(self) -> PostSummary:
        """Try what is due, once, until the first failure that is not the message's own fault.

        So a dead server costs one time-out and not one for each message.

        Raises
        ------
        StoreError
            If the store gives nothing either.
        """
        done = PostSummary()
        with self._store.snapshot() as tx:
            claimant = self._claimant_among(tx.outbox.open_claimants())
            due = tx.outbox.due_keys(self._clock.now(), self.name, claimant, 1, self._staff)
        if not due and not self._remembered.unwritten:
            return done
        self._on_try(self.name)
        waiting = self._record_and_claim(claimant, asks_store=True, claims=True)
        while waiting is not None:
            self._remembered.begin_try(waiting.message.key)
            self.hand_overs.begin_hand_over()
            receipt = self._send_message(waiting.message)
            self.hand_overs.end_hand_over(receipt)
            self._on_try(self.name)
            settled, waiting = self._settle_receipt(waiting, receipt, claimant)
            done += settled
            # A failure after a success is the message's own trouble, and no sign of the channel's.
            if receipt.outcome is DeliveryOutcome.PUT_OFF and not done.taken:
                self._failing = True
        return done

    def _claimant_among(self, others: list[str]) -> Claimant:
        """Who asks, who of the others is dead, and which waits are over."""
        return Claimant(
            name=self._claimant,
            gone=frozenset(one for one in others if is_gone(one)),
            waited=self._remembered.keys_due(),
        )

    def _record_and_claim(
        self, claimant: Claimant, *, asks_store: bool, claims: bool
    ) -> Waiting | None:
        """Write what is not written, and give the next message if ``claims``.

        It is claimed; where the store takes nothing, it is what would have been. Such a store is
        asked once a run, since each question may take half a minute.
        """
        if asks_store:
            try:
                return self._write_and_claim(claimant, limit=1 if claims else 0)
            except StoreError as error:
                if not self._store_refuses:
                    log.error("%s. What is due by %s leaves unrecorded.", error, self.name)
                self._store_refuses = True
        return self._next_unclaimed(claimant) if claims else None

    def _write_and_claim(self, claimant: Claimant, limit: int) -> Waiting | None:
        """Write the receipts that are not written, and claim, in one transaction: half the waits.

        Raises
        ------
        StoreError
            If the store takes nothing; what is known here is then still known.
        """
        now = self._clock.now()
        claimed: list[Waiting] = []
        with self._store.transaction() as tx:
            for attempt in self._remembered.unwritten:
                tx.outbox.settle_attempt(attempt.key, attempt.at, attempt.receipt, attempt.due)
            if self._hasten:
                tx.outbox.hasten_waiting(self.name, now)
            if limit:
                claimed = tx.outbox.claim_due(
                    now, LEASE, limit, (self.name,), claimant, self._staff
                )
        if self._store_refuses:
            log.info("The store takes receipts of %s again.", self.name)
        self._store_refuses = self._hasten = False
        self._remembered.all_written()
        return claimed[0] if claimed else None

    def _next_unclaimed(self, claimant: Claimant) -> Waiting | None:
        """The next message that may be tried, where the store takes no claim."""
        with self._store.snapshot() as tx:
            now = self._clock.now()
            for key in tx.outbox.due_keys(now, self.name, claimant, staff=self._staff):
                if self._remembered.may_be_tried(key):
                    found = tx.outbox.waiting_message(key)
                    if found is not None:
                        tries = found.tries + self._remembered.unwritten_tries(key)
                        return found._replace(tries=tries)
        return None

    def _send_message(self, message: Message) -> Receipt:
        if self._channel is None:
            return Receipt(
                outcome=DeliveryOutcome.PUT_OFF, detail=f"no channel {self.name} is configured"
            )
        try:  # one odd message must not stop the others
            receipt = self._channel.send(self._sign(message))
            # It is kept for good, and told in alarms: the address stands in the yard's file alone.
            return replace(receipt, detail=_without(receipt.detail, message.address))
        except Exception as error:
            log.exception("The channel %s failed on %r.", self.name, message.subject)
            return Receipt(
                outcome=DeliveryOutcome.PUT_OFF, detail=f"{type(error).__name__}: {error}"
            )

    def _settle_receipt(
        self, waiting: Waiting, receipt: Receipt, claimant: Claimant
    ) -> tuple[PostSummary, Waiting | None]:
        """Keep the receipt, write it, and claim the channel's next unless this one was put off."""
        message, now = waiting.message, self._clock.now()
        put_off = receipt.outcome is DeliveryOutcome.PUT_OFF
        wait: timedelta | None = None
        if put_off:
            wait = wait_after(waiting.tries, message.kind, self._chance, self._first_wait)
            if self._too_old(waiting, now + wait):
                wait = None
                receipt = _given_up(receipt, waiting.tries + 1)
        attempt = UnwrittenAttempt(
            key=message.key, at=now, receipt=receipt, due=None if wait is None else now + wait
        )
        self._remembered.end_try(attempt, None if wait is None else wait.total_seconds())
        if receipt.outcome is DeliveryOutcome.TAKEN and self._failing:
            self._remembered.end_waits()
            self._hasten, self._failing = True, False
        following = self._record_and_claim(
            claimant, asks_store=not self._store_refuses, claims=not put_off
        )
        return self._log_attempt(message, receipt, wait), following

    def _too_old(self, waiting: Waiting, at: datetime) -> bool:
        """Whether a message tells nothing that helps at its next try.

        The wall clock may have been set since it was written, so it alone ends nothing: the tries
        must have gone on for so long too, here or before a restart.
        """
        message = waiting.message
        limit = GIVE_UP[message.kind]
        if at - message.created_at <= limit:
            return False
        here = timedelta(seconds=self._remembered.age_s(message.key))
        return max(here, tried_for(waiting.tries, message.kind)) > limit

    def _log_attempt(
        self, message: Message, receipt: Receipt, wait: timedelta | None
    ) -> PostSummary:
        """Say in the log how an attempt ended, and count it."""
        match receipt.outcome:
            case DeliveryOutcome.TAKEN:
                log.info("A message left by %s: %s", message.channel, message.subject)
                log.debug("It told %s.", message.person)
                return PostSummary(taken=1)
            case DeliveryOutcome.PUT_OFF:
                log.warning(
                    "A message could not leave by %s yet. Next try in %.0f s.",
                    *(message.channel, wait.total_seconds() if wait else 0),
                )
                log.debug("It was to tell %s: %s.", message.person, receipt.detail)
                return PostSummary(put_off=1)
            case DeliveryOutcome.REFUSED:
                log.error(
                    "A message was refused by %s and is not tried again; `laidup status` says how"
                    " many, an alarm says whose.",
                    message.channel,
                )
                log.debug("It was to tell %s: %s.", message.person, receipt.detail)
                return PostSummary(refused=1)


def _without(detail: str, address: str) -> str:
    """What the far side said, without the address that it repeats."""
    if not address:
        return detail
    return re.sub(re.escape(address), "the address", detail, flags=re.IGNORECASE)


def _given_up(receipt: Receipt, tries: int) -> Receipt:
    return Receipt(
        outcome=DeliveryOutcome.REFUSED,
        detail=f"{GIVEN_UP}{tries} tries: {receipt.detail}",
    )
