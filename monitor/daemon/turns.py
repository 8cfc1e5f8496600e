"""One turn of a part, guarded: a thread that died would be a silence nobody hears."""

import logging
from collections.abc import Callable
from threading import Event

from monitor.delivery.turning import Turning

log = logging.getLogger("laidup")


def take_turn(turning: Turning, part: str, what: str, work: Callable[[], object]) -> None:
    """Run one piece of a part's work, and note how it went.

    Parameters
    ----------
    turning : Turning
        Where it is noted.
    part : str
        As `turning` knows it.
    what : str
        The work as the log names it.
    work : callable
    """
    try:
        work()
    except Exception as error:
        log.exception("%s failed and will be tried again.", what)
        turning.note_failure(part, error)
    else:
        turning.note_turn(part)


def repeat_turns(stopping: Event, every_s: float, turn: Callable[[], object]) -> None:
    """Take turns with a rest between them [s], until told to stop."""
    while not stopping.is_set():
        turn()
        stopping.wait(every_s)
