"""Flags of ``laidup demo``, ``run``, ``check``, ``status`` and ``rehearse``."""

import argparse
from math import inf
from pathlib import Path

from monitor.commands.parsers.flags import Children, DeferredFunction, add_config, add_json

_HOURS_A_MINUTE = 36.0  # the four days of the story take about two and a half minutes


def add_demo(children: Children, about: str) -> None:
    """Add the command."""
    parser = children.add_parser(
        "demo",
        help=about,
        description=(
            "Starts a broker inside this program, a simulated yard that publishes to it, the"
            " daemon and its page, and hurries through four days of November. Ctrl-C ends it and"
            " leaves nothing behind."
        ),
    )
    parser.add_argument(
        "--hours-a-minute",
        type=_parse_speed,
        default=_HOURS_A_MINUTE,
        metavar="N",
        help=f"hours of the story in one minute (default: {_HOURS_A_MINUTE:g})",
    )
    parser.add_argument(
        "--mails",
        type=Path,
        metavar="FOLDER",
        help="keep the mails in this folder (default: one that goes when the demo ends)",
    )
    parser.add_argument(
        "--port",
        type=_parse_port,
        default=0,
        metavar="PORT",
        help="port of the page (default: a free one)",
    )
    parser.add_argument(
        "--end", action="store_true", help="end with the story instead of waiting for Ctrl-C"
    )
    parser.set_defaults(run=DeferredFunction("monitor.commands.demo", "run"))


def _parse_speed(text: str) -> float:
    hours = float(text)
    if not 0.0 < hours < inf:
        raise argparse.ArgumentTypeError(f"{text}: at this speed the story never ends")
    return hours


def _parse_port(text: str) -> int:
    number = int(text)
    if not 0 <= number <= 65535:
        raise argparse.ArgumentTypeError(f"{text}: a port lies between 1 and 65535; 0 takes any")
    return number


def add_run(children: Children, about: str) -> None:
    """Add the command."""
    parser = children.add_parser("run", help=about, description=f"{about[:1].upper()}{about[1:]}.")
    add_config(parser)
    parser.add_argument(
        "--new-store",
        action="store_true",
        help="begin an empty store where the one that this yard had is gone; deletes none",
    )
    parser.add_argument(
        "--log-level",
        choices=("debug", "info", "warning", "error"),
        default="info",
        help="log from this on (info); debug alone names people",
    )
    parser.add_argument("--log-json", action="store_true", help="log one JSON object a line")
    parser.set_defaults(run=DeferredFunction("monitor.commands.run", "run"))


def add_check(children: Children, about: str) -> None:
    """Add the command."""
    parser = children.add_parser(
        "check",
        help=about,
        description=(
            "Reads the yard's file and everything it names, checks that the lay-up record is what"
            " was written, looks for craft in one berth, tries store, broker and mail server, and"
            " where they are configured webhook, texts, ping, lamp and public forecast, and says"
            " what it found. With --payload, tries the payload mappings on a captured message"
            " instead."
        ),
    )
    add_json(parser)
    add_config(parser)
    parser.add_argument("--payload", type=Path, metavar="FILE", help="a captured message")
    parser.add_argument("--topic", metavar="TOPIC", help="the topic that it came on")
    parser.set_defaults(run=DeferredFunction("monitor.commands.check", "run"))


def add_status(children: Children, about: str) -> None:
    """Add the command."""
    parser = children.add_parser(
        "status", help=about, description=f"{about[:1].upper()}{about[1:]}."
    )
    add_json(parser)
    add_config(parser)
    parser.set_defaults(run=DeferredFunction("monitor.commands.status", "run"))


def add_rehearse(children: Children, about: str) -> None:
    """Add the command."""
    parser = children.add_parser(
        "rehearse",
        help=about,
        description=(
            "Puts the message into the outbox and waits for what becomes of it; `laidup run`"
            " sends it."
        ),
    )
    parser.add_argument("person", metavar="PERSON", help="an id of the yard's people")
    parser.add_argument(
        "--wait", type=float, default=20.0, metavar="SECONDS", help="for the answer (default: 20)"
    )
    add_json(parser)
    add_config(parser)
    parser.set_defaults(run=DeferredFunction("monitor.commands.rehearse", "run"))
