"""What the kernel says of this machine's clock: whether something keeps it right (adjtimex)."""

import ctypes
from datetime import datetime

_UNSYNCHRONISED = 0x40  # STA_UNSYNC of <sys/timex.h>
_TIME_ERROR = 5
_SAME_CLOCK_S = 5.0


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
