"""What every channel is to the post."""

from typing import Protocol

from monitor.yard.message import Message, Receipt

# No hand-over takes longer, whatever the far side does [s]: a claim holds so long, and a worker
# that does not come back within it hangs. It is the sum of a mail's phases (mail.py).
HAND_OVER_WITHIN_S = 3600.0


class DeliveryChannel(Protocol):
    """Takes one message and says how that went; it never raises for what the far side does.

    It comes back within ``HAND_OVER_WITHIN_S``, even from a far side that answers byte by byte.
    """

    def send(self, message: Message) -> Receipt:
        """Hand one message over."""
        ...
