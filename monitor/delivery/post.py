"""Empties the outbox: every channel beside the others, so that none waits for another."""

import random
from collections.abc import Callable, Collection, Mapping
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from itertools import count

from monitor.clock import Clock
from monitor.delivery.channel_post import ChannelPost, PostSummary
from monitor.delivery.channels.channel import DeliveryChannel
from monitor.delivery.process_name import own_name
from monitor.delivery.waiting import FIRST_WAIT
from monitor.store.store import Store
from monitor.yard.message import Message

_workers = count()  # of this process: no two claim under one name


class Post:
    """The outbox of one yard, channel by channel."""

    def __init__(
        self,
        store: Store,
        channels: Mapping[str, DeliveryChannel],
        clock: Clock,
        *,
        chance: random.Random | None = None,
        first_wait: timedelta = FIRST_WAIT,
        staff: Collection[str] = (),
        on_try: Callable[[str], None] = lambda _: None,
        sign: Callable[[Message], Message] = lambda message: message,
    ) -> None:
        """Make a post.

        Parameters
        ----------
        store : Store
        channels : mapping of name to DeliveryChannel
        clock : Clock
        chance : random.Random, optional
            Where the jitter comes from.
        first_wait : timedelta
            Between the first try of a message and its second.
        staff : collection of str
            Ids of people whose messages go before those of others.
        on_try : callable
            Told the channel's name before and after each try.
        sign : callable
            Gives a message that leaves with the head of the record in the yard's own word.
        """
        self._store = store
        self._clock = clock
        chance = chance or random.Random()  # noqa: S311 - spreads load, guards nothing

        self._staff = staff

        def channel_post(name: str, channel: DeliveryChannel | None) -> ChannelPost:
            return ChannelPost(
                name,
                channel,
                store,
                clock,
                claimant=f"{own_name()}/{next(_workers)}",
                chance=chance,
                first_wait=first_wait,
                staff=self._staff,
                on_try=on_try,
                sign=sign,
            )

        self.channels = {name: channel_post(name, one) for name, one in channels.items()}
        self._unconfigured: dict[str, ChannelPost] = {}
        self._make = channel_post

    def take_staff(self, staff: Collection[str]) -> None:
        """Ids of people whose messages go first from now on."""
        self._staff = staff
        for one in [*self.channels.values(), *list(self._unconfigured.values())]:
            one.take_staff(staff)

    def channel_troubles(self) -> dict[str, str]:
        """Channels that take nothing just now, each with the reason; from memory."""
        # A copy: another thread adds the first message for a channel that is not configured.
        every = [*self.channels.values(), *list(self._unconfigured.values())]
        return {one.name: one.hand_overs.trouble for one in every if one.hand_overs.trouble}

    def run_once(self) -> PostSummary:
        """Try everything that is due, once, every channel in a thread of its own."""
        work = [one.send_due for one in self.channels.values()] + [self.empty_unconfigured]
        with ThreadPoolExecutor(max_workers=len(work), thread_name_prefix="post") as workers:
            return sum(workers.map(lambda each: each(), work), start=PostSummary())

    def empty_unconfigured(self) -> PostSummary:
        """Put off messages for channels that are not configured: they may be tomorrow."""
        with self._store.snapshot() as tx:
            due = set(tx.outbox.due_channels(self._clock.now())) - set(self.channels)
        for name in sorted(due - set(self._unconfigured)):
            self._unconfigured[name] = self._make(name, None)
        return sum(
            (self._unconfigured[name].send_due() for name in sorted(due)), start=PostSummary()
        )
