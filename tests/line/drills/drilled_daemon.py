"""A daemon as `laidup run` wires it, with a clock that a drill sets and waits that fit a drill.

python -m tests.line.drills.drilled_daemon YARD_FILE SCALE

The clock is the machine's, moved by as many seconds as `clock` beside the yard's file says. SCALE
multiplies every time limit of delivery and the wait before a second try.
"""

import logging
import signal
import sys
import threading
import time
from dataclasses import fields, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

from monitor.daemon.daemon import Daemon
from monitor.daemon.opening import open_store
from monitor.daemon.pace import Schedule
from monitor.delivery.channels.mail_settings import PhaseLimits
from monitor.settings.load import Settings, load_settings

_QUICK = Schedule(
    round_every_s=0.5, round_gap_s=0.1, settle_s=0.2, post_every_s=0.2, signs_every_s=0.2
)


class MovedClock:
    """The machine's clock and so many seconds, as somebody sets it who gets it wrong."""

    def __init__(self, file: Path) -> None:
        self._file = file

    def now(self) -> datetime:
        """The time that the clock shows."""
        moved_s = float(self._file.read_text()) if self._file.exists() else 0.0
        return datetime.now(UTC) + timedelta(seconds=moved_s)

    def elapsed_s(self) -> float:
        """Seconds that nobody sets."""
        return time.monotonic()


def scaled_limits(limits: PhaseLimits, scale: float) -> PhaseLimits:
    """The limits of a mail's phases, each multiplied."""
    return PhaseLimits(**{one.name: getattr(limits, one.name) * scale for one in fields(limits)})


def scaled(settings: Settings, scale: float) -> Settings:
    """The settings with every time limit of delivery multiplied."""
    mail, ping = settings.mail, settings.ping
    return replace(
        settings,
        mail=mail and replace(mail, limits=scaled_limits(mail.limits, scale)),
        channels={
            name: replace(one, within_s=one.within_s * scale)
            for name, one in settings.channels.items()
        },
        ping=ping and replace(ping, within_s=ping.within_s * scale, every_s=1.0),
    )


def main() -> None:
    """Watch until told to stop."""
    file, scale = Path(sys.argv[1]), float(sys.argv[2])
    logging.basicConfig(level=logging.INFO, format="%(asctime)s %(levelname)s %(message)s")
    settings = scaled(load_settings(file), scale)
    pace = replace(_QUICK, first_retry_s=_QUICK.first_retry_s * scale)
    stop = threading.Event()
    signal.signal(signal.SIGTERM, lambda *_: stop.set())
    store = open_store(settings.store_url, settings.yard.id)
    daemon = Daemon(settings, store, MovedClock(file.with_name("clock")), pace=pace)
    daemon.start()
    stop.wait()
    daemon.stop()


if __name__ == "__main__":
    main()
