"""``laidup rehearse``: an evening's letter with made-up craft, by every way to one person."""

import argparse
import time

from monitor.alarms.letters.rehearsal import rehearse
from monitor.clock import SystemClock
from monitor.commands.opening import open_to_act
from monitor.commands.printing import print_json
from monitor.store.store import Store
from monitor.yard.message import DeliveryOutcome, Message

_LOOK_EVERY_S = 0.5


def run(arguments: argparse.Namespace) -> int:
    """Send and tell; 0 if every way has taken it, 1 otherwise."""
    with open_to_act(arguments) as here:
        messages = rehearse(here.store, here.yard, SystemClock(), arguments.person)
        until = time.monotonic() + arguments.wait
        while (
            not all(_outcome_of(here.store, one) for one in messages) and time.monotonic() < until
        ):
            time.sleep(_LOOK_EVERY_S)
        if arguments.json:
            print_json(
                [
                    {
                        "channel": one.channel,
                        "outcome": _outcome_of(here.store, one),
                        "said": _result_words(here.store, one),
                    }
                    for one in messages
                ]
            )
        for message in () if arguments.json else messages:
            print(f"{message.channel}: {_result_words(here.store, message)}")
        return (
            0
            if all(_outcome_of(here.store, one) is DeliveryOutcome.TAKEN for one in messages)
            else 1
        )


def _outcome_of(store: Store, message: Message) -> DeliveryOutcome | None:
    """How a message ended; None while it waits."""
    with store.snapshot() as tx:
        tried = tx.outbox.attempts_on(message.key)
    last = tried[-1].outcome if tried else None
    return None if last is DeliveryOutcome.PUT_OFF else last


def _result_words(store: Store, message: Message) -> str:
    with store.snapshot() as tx:
        tried = tx.outbox.attempts_on(message.key)
    if not tried:
        return "still in the outbox; is `laidup run` running?"
    last = tried[-1]
    where = f" for {message.address}" if message.address else ""
    return f"{last.outcome}{where}: {last.detail}"
