"""The nightly copy of the store, taken by a process of its own: `laidup backup`, with low priority.

Copying and reading back a season takes minutes of processor time, which intake and rounds would
wait for inside one process; and what hangs can be ended.
"""

import contextlib
import os
import subprocess
import sys
from datetime import timedelta
from pathlib import Path

from monitor.errors import StoreError

WITHIN = timedelta(hours=6)
_LOW_PRIORITY = 15
_LINES_TOLD = 4


def take_nightly_copy(yard_file: Path, within: timedelta = WITHIN) -> None:
    """Copy the store as the yard's file says, and thin out older copies.

    Raises
    ------
    StoreError
        With what the command said, if it failed or took too long.
    """
    # With -P, so that Python finds its modules nowhere but where they are installed.
    command = [sys.executable, "-P", "-m", "monitor", "backup", "--config", str(yard_file)]
    child = subprocess.Popen(  # noqa: S603 - our own program
        command,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        errors="replace",
    )
    with contextlib.suppress(OSError):  # where that is not allowed, it takes its turn as others do
        os.setpriority(os.PRIO_PROCESS, child.pid, _LOW_PRIORITY)
    try:
        said, _ = child.communicate(timeout=within.total_seconds())
    except subprocess.TimeoutExpired as error:
        raise StoreError(f"it was not done within {within}, and was ended") from error
    finally:
        if child.poll() is None:
            child.kill()
    if child.returncode != 0:
        told = " ".join(said.strip().splitlines()[-_LINES_TOLD:])
        raise StoreError(told or f"it ended with status {child.returncode}")
