"""A trial of the broker for ``laidup check``: connect, subscribe, leave nothing behind."""

import secrets
import time
from dataclasses import replace

from monitor.errors import BrokerError
from monitor.intake.broker import BrokerSettings
from monitor.intake.connection import Connection
from monitor.intake.inbox import Inbox

_WITHIN_S = 12.0


def check_broker(settings: BrokerSettings) -> str:
    """Connect and subscribe as the daemon would, under another name, and say what was found.

    Raises
    ------
    BrokerError
        If the broker does not answer or does not let laidup read.
    """
    trial = replace(
        settings,
        client_id=f"{settings.client_id}-check-{secrets.token_hex(4)}",
        session_expiry_s=0,
        keep_session=False,
    )
    inbox = Inbox(capacity=2 * trial.receive_maximum)
    connection = Connection(trial, inbox, lambda: 0)
    before = connection.words
    connection.start()
    try:
        end = time.monotonic() + _WITHIN_S
        while time.monotonic() < end:
            if connection.subscribed:
                return (
                    f"{settings} answers in MQTT {settings.version} and lets laidup read"
                    f" {', '.join(settings.topics)}."
                )
            if connection.words != before and not connection.connected:
                break
            time.sleep(0.05)
        raise BrokerError(connection.words.replace("; laidup keeps trying", ""))
    finally:
        connection.stop(timeout=5.0)
