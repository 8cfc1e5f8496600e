"""Whether what comes now is sent now, or had waited in the broker while we were away."""

import time

_GAP_S = 1.0
SPAN_S = 5.0
_LONG_S = SPAN_S + 2.0
_TRICKLE_PER_S = 50.0  # messages: no backlog comes as slowly, no yard's sensors send as fast


class Backlog:
    """What waited in the broker comes first after a reconnect, as fast as it is taken.

    So a gap ends it, and so does a span in which little came: a busy yard leaves no gap.
    """

    def __init__(self) -> None:
        self.waits = False
        self._began_s = self._last_s = self._span_began_s = 0.0
        self._count = 0  # messages since the span began

    def begin_connection(self, *, kept: bool) -> None:
        """A connection begins; ``kept``: the broker kept what came meanwhile."""
        self.waits = kept
        self._began_s = self._last_s = self._span_began_s = time.monotonic()
        self._count = 0

    @property
    def lasts_long(self) -> bool:
        """Whether it goes on after the span in which any reconnect is seen through."""
        return self.waits and time.monotonic() - self._began_s > _LONG_S

    def count_message(self) -> None:
        """A message came."""
        self._count += 1

    def note_all_read(self) -> None:
        """Everything that could be read at once has been."""
        self._last_s = time.monotonic()

    def check_caught_up(self) -> None:
        """See whether it is through; called now and then, between reads."""
        if not self.waits:
            return
        now_s = time.monotonic()
        span_s = now_s - self._span_began_s
        if now_s - self._last_s > _GAP_S:
            self.waits = False
        elif span_s >= SPAN_S:
            self.waits = self._count > _TRICKLE_PER_S * span_s
            self._span_began_s, self._count = now_s, 0
