"""How often the parts of the daemon turn, how long each may go without, and one guarded turn."""

import logging
from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from threading import Event

from monitor.delivery.part_turns import PartTurns

# How long a part may go without a turn [s]. A round over a large yard and a week's drawing take
# minutes. How long the couriers may take, they know themselves.
TURNS_WITHIN_S = {"intake": 600.0, "watch": 600.0, "reports": 1800.0}
UPKEEP_WITHIN_S = 1800.0  # the check of a large store's file takes minutes on a slow disk
log = logging.getLogger("laidup")


@dataclass(frozen=True, slots=True, kw_only=True)
class Schedule:
    """How often the parts turn, by seconds that nobody sets. The demo's hurried clock wants more.

    Nightly work has hours of the day instead: `monitor/daemon/housework.py`.
    """

    round_every_s: float = 60.0  # judge at least this often: silence is judged too
    round_gap_s: float = 5.0  # and no more often than this, however fast readings come
    settle_s: float = 1.0  # readings seldom come alone: judge when the others are there too
    post_every_s: float = 5.0
    first_retry_s: float = 30.0  # between the first try of a message and its second
    report_every_s: float = 60.0  # where no housekeeping looks whether the week's letter is due
    signs_every_s: float = 3.0
    upkeep_every_s: float = 20.0  # how often to look whether the store's file is due for a check
    probe_every_s: float = 2.0  # how often to ask the store whether it takes and gives
    page_renew_s: float = 1.5  # within which an open page may show what holds no more
    page_old_after: timedelta = timedelta(minutes=15)  # by the daemon's clock


USUAL_PACE = Schedule()


def take_turn(turning: PartTurns, part: str, what: str, work: Callable[[], object]) -> None:
    """Run one piece of a part's work, and note how it went.

    Parameters
    ----------
    turning : PartTurns
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
