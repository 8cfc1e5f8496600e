"""``laidup demo``: a fictional yard through a cold spell and a warm damp front, at once."""

import argparse
import logging
import signal
import sys
import textwrap
import threading
from datetime import timedelta
from email.parser import BytesHeaderParser
from email.policy import default
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from monitor.demo.stage import Stage

_TELL_EVERY = timedelta(hours=3)
_POLL_S = 0.2


def run(arguments: argparse.Namespace) -> int:
    """Put the demo on until it is stopped."""
    try:
        from monitor.demo.stage import Stage
    except ModuleNotFoundError as error:
        print(
            f"The demo needs {error.name}; install laidup with its extra: laidup[demo].",
            file=sys.stderr,
        )
        return 1

    logging.basicConfig(level=logging.WARNING, format="%(levelname)s %(name)s: %(message)s")
    told_to_stop = threading.Event()
    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, lambda *_: told_to_stop.set())
    stage = Stage(
        speed=arguments.hours_a_minute * 60.0, mails=arguments.mails, page_port=arguments.port
    )
    try:
        page = stage.start()
        print(f"{stage.yard_name}, a fictional yard: twelve craft, some laid up wrong on purpose.")
        print(f"  The page:  {page}")
        print(f"  The mails: {stage.mails}")
        print("Four days of November pass in a few minutes. Ctrl-C ends it.\n", flush=True)
        _follow_story(stage, told_to_stop, ends=arguments.end)
    finally:
        stage.stop()
    if stage.failure:
        print(f"The simulated yard fell silent: {stage.failure}", file=sys.stderr)
        return 1
    print("\nThe demo has ended; nothing is left running.")
    return 0


def _follow_story(stage: "Stage", told_to_stop: threading.Event, ends: bool) -> None:
    """Say what happens until somebody stops it, or the story ends and nothing is to stay."""
    teller = _Teller(stage)
    while not told_to_stop.is_set():
        over = stage.wait(_POLL_S)
        teller.print_news()
        if not over:
            continue
        teller.close()
        if ends or stage.failure:
            return
        teller.say_what_stays()
        told_to_stop.wait(_POLL_S)  # a told story makes nobody wait any more


class _Teller:
    """Says in the terminal what happens: the hour, each space's air, and each mail as it leaves."""

    def __init__(self, stage: "Stage") -> None:
        self._stage = stage
        self._next = stage.clock.now()
        self._mails: set[Path] = set()
        self._closed = self._stays = False

    def print_news(self) -> None:
        """Say what is new."""
        now = self._stage.clock.now()
        if now >= self._next:
            self._next = now + _TELL_EVERY
            local = now.astimezone(self._stage.yard_zone)
            print(f"{local:%a %d %b %H:%M}  {self._stage.air_line()}", flush=True)
        while not self._stage.deeds.empty():
            print(f"  * {self._stage.deeds.get()}", flush=True)
        for path in sorted(set(self._stage.mails.glob("*.eml")) - self._mails):
            self._mails.add(path)
            with path.open("rb") as file:
                head = BytesHeaderParser(policy=default).parse(file)
            print(f"    mail to {head['To']}: {head['Subject']}", flush=True)

    def close(self) -> None:
        """Say once how the story goes on in spring."""
        if self._closed:
            return
        self._closed = True
        print("\nIn spring, the craft that was saved goes back into the water:")
        for line in self._stage.spring_lines():
            print(textwrap.fill(line, 96, initial_indent="  - ", subsequent_indent="    "))

    def say_what_stays(self) -> None:
        """Say once that the page stays."""
        if not self._stays:
            self._stays = True
            print("\nThe story is told. The page and the mails stay until Ctrl-C.", flush=True)
