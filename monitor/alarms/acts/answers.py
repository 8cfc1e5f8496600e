"""Links in a message by which one person answers, once, without signing in.

A link holds a secret of 256 random bits; the store keeps only its digest, so nobody who reads the
store can use it. Looking at a link changes nothing, however often a mail scanner fetches it; only
a deliberate answer (a form's POST) does, and it uses the link up.
"""

import hashlib
import re
import secrets
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from monitor.alarms.acts.alarm_acts import (
    acknowledge_letter_within,
    acknowledge_thread_within,
    asking,
    still_asking,
)
from monitor.clock import Clock
from monitor.errors import ActError
from monitor.store.store import Store
from monitor.store.transaction import Transaction
from monitor.store.watches import AnswerLink
from monitor.yard.alarm import Alarm, AlarmState

GOOD_FOR = timedelta(days=3)
_SECRET_BYTES = 32
_FAR = datetime.max.replace(tzinfo=UTC)
_SHAPE = re.compile(r"[A-Za-z0-9_-]{43}")

MakeSecret = Callable[[], str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Answerable:
    """What a link stands for, to be shown before a person answers."""

    person: str
    thread: str
    expires_at: datetime
    used_at: datetime | None
    open: bool  # may still be used
    # What it would take on now: one a craft, soonest first; of what is over nobody is asked.
    asks: tuple[Alarm, ...] = ()
    taken: tuple[Alarm, ...] = ()  # what it has acknowledged, likewise


class Answers:
    """Makes answer links and takes answers."""

    def __init__(
        self, store: Store, clock: Clock, address: str, *, secret: MakeSecret | None = None
    ) -> None:
        """Make the service.

        Parameters
        ----------
        store : Store
        clock : Clock
        address : str
            Where the links lead, up to the secret: ``https://yard.example/answer/``.
        secret : callable, optional
            Where secrets come from.
        """
        self._store = store
        self._clock = clock
        self._address = address if address.endswith("/") else f"{address}/"
        self._secret = secret or (lambda: secrets.token_urlsafe(_SECRET_BYTES))

    def offer(
        self, person: str, thread: str, alarms: Iterable[str], now: datetime
    ) -> tuple[str, AnswerLink]:
        """A new link by which one person may acknowledge what one letter tells of.

        It works once `keep` has put it into the store, in the transaction of its letter.
        """
        secret = self._secret()
        link = AnswerLink(
            digest=_digest(secret),
            person=person,
            thread=thread,
            expires_at=now + GOOD_FOR,
            used_at=None,
            alarms=tuple(dict.fromkeys(alarms)),
        )
        return f"{self._address}{secret}", link

    @staticmethod
    def keep(tx: Transaction, links: Sequence[AnswerLink], now: datetime) -> None:
        """Keep new links, and forget those that ran out long ago."""
        if links:
            tx.answer_links.prune_expired(now - GOOD_FOR)
            tx.answer_links.add(links)

    def find_answerable(self, secret: str) -> Answerable | None:
        """What a link stands for; None if it was never made. Changes nothing."""
        if not _SHAPE.fullmatch(secret):
            return None
        with self._store.snapshot() as tx:
            link = tx.answer_links.get(_digest(secret))
            if link is None:
                return None
            told = tx.alarms.find_known(link.alarms)
            asks = still_asking(told) if link.alarms else asking(tx, link.thread)
            taken = tx.alarms.acknowledged_by(link.person, link.used_at) if link.used_at else []
        now = self._clock.now()
        return Answerable(
            person=link.person,
            thread=link.thread,
            expires_at=link.expires_at,
            used_at=link.used_at,
            open=link.used_at is None and now < link.expires_at,
            asks=_pressing(each for each in asks if each.state is AlarmState.UNACKNOWLEDGED),
            taken=_pressing(taken),
        )

    def answer(self, secret: str, why: str = "") -> list[Alarm]:
        """Acknowledge everything that the link's letter told of, and use the link up.

        Parameters
        ----------
        secret : str
            The last part of the link.
        why : str, optional
            What the person says.

        Returns
        -------
        list of Alarm
            Those that were acknowledged; empty if others had done it before.

        Raises
        ------
        ActError
            If the link was never made, was used, or has run out.
        """
        if not _SHAPE.fullmatch(secret):
            raise ActError("this link is not one of laidup's; was it cut off?")
        with self._store.transaction() as tx:
            link = tx.answer_links.get(_digest(secret))
            now = self._clock.now()
            if link is None:
                raise ActError("this link is not one of laidup's, or it ran out long ago")
            if now >= link.expires_at:
                raise ActError("this link has run out; use the one in the latest message")
            if not tx.answer_links.use_link(link.digest, now):
                raise ActError("this link was used already; each works once")
            said = why.strip() or "acknowledged by the link in the message"
            if link.alarms:
                return acknowledge_letter_within(tx, link.alarms, link.person, said, now)
            return acknowledge_thread_within(tx, link.thread, link.person, said, now)


def _pressing(alarms: Iterable[Alarm]) -> tuple[Alarm, ...]:
    """One alarm for each craft, space or sensor: its soonest."""
    first: dict[str, Alarm] = {}
    for alarm in sorted(alarms, key=_soonest):
        first.setdefault(alarm.craft or f"{alarm.space}/{alarm.part}", alarm)
    return tuple(first.values())


def _soonest(alarm: Alarm) -> tuple[datetime, str, str]:
    return (alarm.deadline or _FAR, alarm.headline.subject, alarm.cause)


def _digest(secret: str) -> str:
    return hashlib.sha256(secret.encode("ascii")).hexdigest()
