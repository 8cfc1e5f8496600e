"""The daemon on a clock that is wrong: `python -m tests.line.drills.shifted_daemon YARD`.

The file `clock-off-by` beside the yard's says by how many seconds; it may change at any moment, as
when somebody sets the machine's clock.
"""

import logging
import signal
import sys
import threading
from datetime import datetime, timedelta
from pathlib import Path

from monitor.clock import SystemClock
from monitor.daemon.daemon import Daemon
from monitor.daemon.opening import open_store
from monitor.settings.load import load_settings


class ShiftedClock(SystemClock):
    """The machine's clock, off by what a file says."""

    def __init__(self, file: Path) -> None:
        self._file = file

    def now(self) -> datetime:
        """Tell the wrong time."""
        return super().now() + timedelta(seconds=float(self._file.read_text()))


def main(yard: Path) -> None:
    """Run until told to stop."""
    logging.basicConfig(level=logging.INFO, format="%(message)s")
    settings = load_settings(yard)
    store = open_store(settings.store_url, settings.yard.id)
    daemon = Daemon(settings, store, ShiftedClock(yard.with_name("clock-off-by")))
    stop = threading.Event()
    signal.signal(signal.SIGTERM, lambda *_: stop.set())
    daemon.start()
    stop.wait()
    daemon.stop()


if __name__ == "__main__":
    main(Path(sys.argv[1]))
