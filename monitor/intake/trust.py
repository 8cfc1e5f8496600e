"""Whether a sensor's own time can be believed."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class TimePolicy:
    """Which times are taken as they come.

    A time is compared with the arrival of its message. Where readings drive the clock, as in a
    replay or the demo, arrival says nothing about them, and every time is taken.
    """

    compared: bool = True
    ahead_s: float = 300.0  # the future: no sensor measures it
    behind_s: float = 30 * 86400.0  # a logger's backlog may be late, but no more than this


AS_THEY_COME = TimePolicy(compared=False)
