"""What every channel is to the post, and what makes one of a block of the yard's file."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Protocol

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


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelKind:
    """One kind of channel beside mail; a block of the yard's file under its name switches it on.

    ``settings`` is a frozen dataclass. Each of its fields is a key of the block, but for those
    with ``internal`` in their metadata; ``secret`` is read of what ``secret_file`` or
    ``secret_env`` names, and what its ``__post_init__`` raises (`BadValueError`) is told as a fault
    of the block.
    """

    name: str
    settings: type[Any]
    # Makes the channel of its settings; the second is the channel that mails leave by, if any.
    make: Callable[[Any, DeliveryChannel | None], DeliveryChannel]
    # Tries it for `laidup check`, given settings, mail channel and the yard's name; tells what it
    # found, and raises DeliveryError with the remedy.
    try_out: Callable[[Any, DeliveryChannel | None, str], str]
