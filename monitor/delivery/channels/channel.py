"""What every channel is to the post."""

from typing import Protocol

from monitor.yard.message import Message, Receipt


class Channel(Protocol):
    """Takes one message and says how that went; it never raises for what the far side does."""

    def send(self, message: Message) -> Receipt:
        """Hand one message over."""
        ...
