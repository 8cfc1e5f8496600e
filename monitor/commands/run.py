"""``laidup run``: the daemon that watches."""

import argparse
import signal
import threading

from monitor.commands.logs import set_up_log
from monitor.settings.load import load_settings


def run(arguments: argparse.Namespace) -> int:
    """Watch until told to stop with SIGTERM or Ctrl-C."""
    from monitor.daemon.daemon import Daemon

    settings = load_settings(arguments.config)
    set_up_log(arguments.log_level, as_json=arguments.log_json)
    told_to_stop = threading.Event()
    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, lambda *_: told_to_stop.set())
    daemon = Daemon.from_settings(settings, new_store=arguments.new_store)
    daemon.start()
    told_to_stop.wait()
    daemon.stop()
    return 0
