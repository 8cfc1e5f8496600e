"""``laidup run``: the daemon that watches."""

import argparse
import logging
import signal
import threading

from monitor.commands.opening import add_config
from monitor.settings.load import load_settings


def add_parser(children: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command."""
    parser = children.add_parser(
        "run", help="watch the yard: take readings, judge, and tell people"
    )
    add_config(parser)
    parser.add_argument(
        "--new-store",
        action="store_true",
        help="begin an empty store where the one that this yard had is gone; deletes none",
    )
    parser.set_defaults(run=run)


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
