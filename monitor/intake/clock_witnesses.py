"""What speaks for or against this machine's clock: its kernel (adjtimex), and its sensors."""

import ctypes
from datetime import datetime
from typing import NamedTuple

_UNSYNCHRONISED = 0x40  # STA_UNSYNC of <sys/timex.h>
_TIME_ERROR = 5
_SAME_CLOCK_S = 5.0
AHEAD_S = 300.0  # a sensor that is further ahead of us measures the future: one of us is wrong
BEHIND_S = 5400.0  # a sensor further behind sends late, as hourly means are, or we are ahead
SAME_AMOUNT_S = 120.0
_TIMES = 3  # said in a row, where not every sensor has been heard yet


class _Timex(ctypes.Structure):
    """struct timex as Linux has it; the fields behind the time are of no interest."""

    _fields_ = (
        ("modes", ctypes.c_uint),
        ("offset", ctypes.c_long),
        ("freq", ctypes.c_long),
        ("maxerror", ctypes.c_long),
        ("esterror", ctypes.c_long),
        ("status", ctypes.c_int),
        ("constant", ctypes.c_long),
        ("precision", ctypes.c_long),
        ("tolerance", ctypes.c_long),
        ("seconds", ctypes.c_long),
        ("fraction", ctypes.c_long),
        ("behind", ctypes.c_byte * 256),
    )


_ADJTIMEX = getattr(ctypes.CDLL(None), "adjtimex", None)  # Linux alone has it


def kernel_synchronised(now: datetime) -> bool | None:
    """Whether a time service keeps the kernel's clock right.

    Parameters
    ----------
    now : datetime
        What the clock in question shows.

    Returns
    -------
    bool or None
        None where it cannot be known: no such call, or ``now`` is not the kernel's time.
    """
    if _ADJTIMEX is None:
        return None
    asked = _Timex()  # no modes: only asks
    state = _ADJTIMEX(ctypes.byref(asked))
    if state < 0 or abs(asked.seconds - now.timestamp()) > _SAME_CLOCK_S:
        return None
    return state != _TIME_ERROR and not asked.status & _UNSYNCHRONISED


class _Voice(NamedTuple):
    """What one sensor last said of our clock."""

    off_s: float  # by how much it is ahead of ours
    newest_s: float  # a repeat of an earlier message proves nothing
    times: int  # in a row


class Witnesses:
    """How far each sensor's clock is from ours, as its last live messages had it."""

    def __init__(self, sensors: int) -> None:
        """``sensors``: how many the yard has."""
        self._sensors = sensors
        self._agree: dict[str, float] = {}  # the newest time that each sensor told meanwhile [s]
        self._apart: dict[str, _Voice] = {}

    def hear_clock(self, sensor: str, off_s: float, newest_s: float) -> None:
        """Take up by how much the newest time of a live message is ahead of its arrival."""
        if -BEHIND_S <= off_s <= AHEAD_S:
            self._agree[sensor] = max(newest_s, self._agree.get(sensor, newest_s))
            self._apart.pop(sensor, None)
            return
        if newest_s <= self._agree.get(sensor, newest_s - 1.0):
            return  # a gateway says again what agreed with us when it was new
        self._agree.pop(sensor, None)
        before = self._apart.get(sensor)
        times = 1
        if before is not None and abs(before.off_s - off_s) <= SAME_AMOUNT_S:
            times = before.times + (newest_s > before.newest_s)
            off_s = max(off_s, before.off_s)  # nothing arrives before it is sent
        self._apart[sensor] = _Voice(off_s, newest_s, times)

    def forget_all(self) -> None:
        """Hear everybody anew: our clock has been set or corrected."""
        self._agree.clear()
        self._apart.clear()

    def agrees_with_ours(self, sensor: str) -> bool:
        """Whether a sensor has been heard, and its clock is ours."""
        return sensor in self._agree

    @property
    def any_differs(self) -> bool:
        """Whether some sensor's clock is not ours."""
        return bool(self._apart)

    @property
    def any_agrees(self) -> bool:
        """Whether some sensor's clock is ours."""
        return bool(self._agree)

    def common_s(self) -> float | None:
        """By how much more than two thirds of the sensors heard, two or more, are ahead of us.

        None where they agree with us or differ among themselves; and while sensors are missing
        that may say otherwise, until each has said so three times.
        """
        if len(self._apart) < 2:
            return None
        heard = len(self._agree) + len(self._apart)
        off_s = sorted(voice.off_s for voice in self._apart.values())
        middle_s = off_s[len(off_s) // 2]
        same = [
            voice for voice in self._apart.values() if abs(voice.off_s - middle_s) <= SAME_AMOUNT_S
        ]
        if len(same) < 2 or 3 * len(same) <= 2 * heard:
            return None
        if heard < self._sensors and any(voice.times < _TIMES for voice in same):
            return None
        return max(voice.off_s for voice in same)
