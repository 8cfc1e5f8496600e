"""Tells the operators, from memory, that the store fails: no alarm of that could be stored.

An alarm is a row, and so is its message. Where the store takes neither, the only thing that anybody
can still be told is just that; it is said once, and again each half day while it lasts.
"""

import logging
from collections.abc import Callable, Mapping
from datetime import timedelta

from monitor.clock import Clock
from monitor.delivery.channels.channel import DeliveryChannel
from monitor.phrases.own_condition import MAKE_ROOM
from monitor.yard.message import DeliveryOutcome, Message, MessageKind
from monitor.yard.space import Role, Yard

log = logging.getLogger("laidup.delivery")

_AGAIN_AFTER_S = timedelta(hours=12).total_seconds()
_TRY_AGAIN_AFTER_S = 60.0


class StoreNotice:
    """Notices of a failing store that have been sent; reset once the store works again."""

    def __init__(
        self,
        channels: Mapping[str, DeliveryChannel],
        yard: Yard,
        clock: Clock,
        failure: Callable[[], str],
    ) -> None:
        """Remember whom to tell, and how.

        Parameters
        ----------
        channels : mapping of name to DeliveryChannel
            Of this notice alone: it is sent from a thread of its own.
        yard : Yard
            Its operators are told.
        clock : Clock
        failure : callable
            Why the watch cannot use its store; empty while it can.
        """
        self._channels = channels
        self._yard = yard
        self._clock = clock
        self._failure = failure
        self._due_s: dict[tuple[str, str], float] = {}  # by person and channel

    def take_yard(self, yard: Yard) -> None:
        """Go from now on by the yard as people have changed it."""
        self._yard = yard

    def run_once(self) -> None:
        """Send the notices that are due; takes as long as the channels do."""
        failure = self._failure()
        if not failure:
            self._due_s.clear()
            return
        for person in self._yard.people:
            if Role.OPERATOR not in person.roles:
                continue
            for name in person.reached_by:
                key, now_s = (person.id, name), self._clock.elapsed_s()
                if name not in self._channels or now_s < self._due_s.get(key, now_s):
                    continue
                message = self._message_to(person.id, name, person.address_on(name), failure)
                taken = self._channels[name].send(message).outcome is DeliveryOutcome.TAKEN
                self._due_s[key] = now_s + (_AGAIN_AFTER_S if taken else _TRY_AGAIN_AFTER_S)
                said = "told" if taken else "not told yet"
                log.error("The store fails: an operator %s by %s.", said, name)

    def _message_to(self, person: str, channel: str, address: str, failure: str) -> Message:
        now = self._clock.now()
        return Message(
            key=f"store-fails-{person}-{channel}-{now:%Y%m%dT%H%M%S}",
            person=person,
            channel=channel,
            address=address,
            kind=MessageKind.ALARM,
            subject=f"{self._yard.name} is not watched: laidup's store fails",
            text=(
                f"laidup at {self._yard.name} cannot keep or judge anything: {failure}.\n\n"
                "Until that is mended nobody is warned of frost, damp or batteries. Look at the"
                " yard yourself tonight, and go by the last letter for what was to be done.\n\n"
                "On laidup's machine, `laidup check` says what is wrong and the remedy. Where the"
                f" store's disk is full: {MAKE_ROOM}\n\n"
                "An aid to judgement, not a life-safety device.\n"
            ),
            created_at=now,
        )
