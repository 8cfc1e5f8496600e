"""The threads that empty the outbox: one for each channel, so that none waits for another."""

import logging
import threading
import time
from collections.abc import Callable
from functools import partial

from monitor.delivery.channels.channel import HAND_OVER_WITHIN_S
from monitor.delivery.part_turns import PartTurns
from monitor.delivery.post import Post

log = logging.getLogger("laidup.delivery")

HANGS_AFTER_S = HAND_OVER_WITHIN_S + 600.0  # a turn: one hand-over, and the store's own waits


def courier_name(channel: str) -> str:
    """What the thread of a channel is called where it is said to be unwell."""
    return f"post by {channel}"


class Couriers:
    """One thread for each configured channel, and one that puts off what is for any other."""

    def __init__(self, post: Post, turning: PartTurns, every_s: float) -> None:
        """Make them; nothing runs yet.

        Parameters
        ----------
        post : Post
            Its channels are worked by these threads alone.
        turning : PartTurns
            Told of each turn, and of each failure.
        every_s : float
            How often to look for what is due [s].
        """
        self._turning = turning
        self._every_s = every_s
        self._stopping = threading.Event()
        self._work: dict[str, Callable[[], object]] = {
            courier_name(name): one.send_due for name, one in post.channels.items()
        }
        self._work["post"] = post.empty_unconfigured
        self._woken = {name: threading.Event() for name in self._work}
        # None of them holds up the end of the process: what it has in hand is claimed, and a new
        # start knows that the claimant is gone.
        self._threads = [
            threading.Thread(target=partial(self._run_channel, name), name=name, daemon=True)
            for name in self._work
        ]
        for name in self._work:
            turning.expect_part(name, HANGS_AFTER_S)

    def start(self) -> None:
        """Start all."""
        for thread in self._threads:
            thread.start()

    def wake_all(self) -> None:
        """Look at once: a message was written."""
        for woken in self._woken.values():
            woken.set()

    def stop(self, timeout: float) -> None:
        """Begin nothing more, and wait so long [s] at most for what is under way."""
        self._stopping.set()
        self.wake_all()
        end = time.monotonic() + timeout
        for thread in self._threads:
            if not thread.is_alive():  # nor was it ever, where the page refused to start
                continue
            thread.join(max(end - time.monotonic(), 0.0))
            if thread.is_alive():
                log.warning("The %s leaves a hand-over unfinished.", thread.name)

    def _run_channel(self, name: str) -> None:
        woken = self._woken[name]
        while not self._stopping.is_set():
            woken.wait(self._every_s)
            woken.clear()
            if self._stopping.is_set():
                return
            try:
                self._work[name]()
            except Exception as error:
                log.exception("The %s failed and will try again.", name)
                self._turning.note_failure(name, error)
            else:
                self._turning.note_turn(name)
