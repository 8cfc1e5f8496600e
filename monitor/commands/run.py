"""``laidup run``: the daemon that watches."""

import argparse
import logging
import signal
import threading

from monitor.settings.load import load_settings


def run(arguments: argparse.Namespace) -> int:
    """Watch until told to stop with SIGTERM or Ctrl-C."""
    from monitor.daemon.daemon import Daemon

    settings = load_settings(arguments.config)
    logging.basicConfig(
        level=logging.INFO, format="%(asctime)s %(levelname)-7s %(name)s: %(message)s"
    )
    logging.getLogger("alembic").setLevel(logging.WARNING)  # we say ourselves what happens
    logging.getLogger("apscheduler").setLevel(logging.CRITICAL)
    told_to_stop = threading.Event()
    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, lambda *_: told_to_stop.set())
    daemon = Daemon.from_settings(settings, new_store=arguments.new_store)
    daemon.start()
    told_to_stop.wait()
    daemon.stop()
    return 0
