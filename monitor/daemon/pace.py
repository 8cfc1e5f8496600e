"""How often the parts of the daemon turn, and how long each may go without a turn."""

from dataclasses import dataclass
from datetime import timedelta

# How long a part may go without a turn [s]. A round over a large yard and a week's drawing take
# minutes. How long the couriers may take, they know themselves.
TURNS_WITHIN_S = {"intake": 600.0, "watch": 600.0, "reports": 1800.0}
UPKEEP_WITHIN_S = 1800.0  # the check of a large store's file takes minutes on a slow disk


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
    page_renew_s: int = 60
    page_old_after: timedelta = timedelta(minutes=15)  # by the daemon's clock


USUAL_PACE = Schedule()
