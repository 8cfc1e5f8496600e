"""The demo's own broker, for tests that need no more than it can do: see monitor.demo.broker."""

from collections.abc import Iterator

import pytest

from monitor.demo.broker import EmbeddedBroker


@pytest.fixture
def embedded_broker() -> Iterator[EmbeddedBroker]:
    """A started broker in this process, MQTT 3.1.1 only; `host` and `port` say where."""
    broker = EmbeddedBroker()
    broker.start()
    yield broker
    broker.stop()
