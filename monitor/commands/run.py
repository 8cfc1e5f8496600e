"""``laidup run``: the daemon that watches."""

import argparse
import gc
import logging
import signal
import threading
from functools import partial

from monitor.commands.logs import set_up_log
from monitor.errors import LaidupError
from monitor.settings.load import Settings, load_settings

log = logging.getLogger("laidup")

_NEW_OBJECTS = 50_000  # some 10 MB; Python's own threshold is 700


def run(arguments: argparse.Namespace) -> int:
    """Watch until told to stop with SIGTERM or Ctrl-C."""
    from monitor.daemon.daemon import Daemon

    settings = load_settings(arguments.config)
    set_up_log(arguments.log_level, as_json=arguments.log_json)
    have_record_key(settings)
    told_to_stop = threading.Event()
    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, lambda *_: told_to_stop.set())
    daemon = Daemon.from_settings(settings, new_store=arguments.new_store)
    del settings  # all craft files are in it, and the daemon needs them no more
    daemon.start()
    collect_seldom()
    told_to_stop.wait()
    daemon.stop()
    return 0


def have_record_key(settings: Settings) -> None:
    """Make the yard's key at the first run; without one it watches on, and says why."""
    from monitor.commands.warnings import has_signed_letters
    from monitor.settings.record_key import load_or_make_record_key

    try:
        load_or_make_record_key(settings.file.parent, partial(has_signed_letters, settings))
    except LaidupError as error:  # a store that does not answer, too: it may hold such letters
        log.error("Heads and season records cannot be signed: %s", error)


def collect_seldom() -> None:
    """Have Python look for dead cycles seldom, and never among what the start has made.

    A round makes a judgement for each of thousands of parts, which are in no cycle; by the usual
    thresholds it would go through all of the daemon's memory for them, several times a round.
    """
    gc.collect()
    gc.freeze()
    gc.set_threshold(_NEW_OBJECTS, 10, 10)
