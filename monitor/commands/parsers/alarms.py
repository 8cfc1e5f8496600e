"""Flags of ``laidup alarms`` and its verbs."""

import argparse
from pathlib import Path

from monitor.commands.parsers.flags import Children, DeferredFunction, add_config, add_json


def add_parser(children: Children, about: str) -> None:
    """Add the command and its verbs."""
    parser = children.add_parser(
        "alarms", help=about, description=f"{about[:1].upper()}{about[1:]}."
    )
    verbs = parser.add_subparsers(metavar="VERB", required=True)
    listed = _add_verb(verbs, "list", "the open alarms, the most pressing first, each with its id")
    listed.add_argument("--days", type=float, metavar="N", help="those raised in the last N days")
    listed.add_argument(
        "--all", action="store_true", help="also those not told on purpose, else only counted"
    )
    add_json(listed)
    listed.set_defaults(run=DeferredFunction("monitor.commands.alarms", "list_alarms"))
    course = _add_verb(verbs, "course", "every change of one alarm: when, by whom, why")
    add_json(course)
    course.add_argument("alarm", metavar="ALARM", help="its id, or the first letters of it")
    course.set_defaults(run=DeferredFunction("monitor.commands.alarms", "show_alarm_history"))
    cap = _add_verb(verbs, "cap", "one alarm as a CAP 1.2 alert (XML)")
    cap.add_argument("alarm", metavar="ALARM", help="its id, or the first letters of it")
    cap.add_argument("--out", type=Path, metavar="FILE", help="write it there")
    cap.set_defaults(run=DeferredFunction("monitor.commands.alarms", "print_cap"))
    _add_acting_verb(verbs, "ack", "acknowledge_alarm", "say that a person has taken the alarm on")
    shelve = _add_acting_verb(
        verbs,
        "shelve",
        "shelve_alarm",
        "tell nobody of it until a time: 7 days at most, 24 hours for what must never be missed",
        why=True,
    )
    shelve.add_argument(
        "--until", required=True, metavar="TIME", help="like 2026-11-14T16:00, or 4h from now"
    )
    _add_acting_verb(verbs, "unshelve", "unshelve_alarm", "take it off the shelf before its time")
    _add_acting_verb(
        verbs,
        "out-of-service",
        "take_out_of_service",
        "for maintenance, until a person brings it back",
        why=True,
    )
    _add_acting_verb(verbs, "in-service", "return_to_service", "bring it back after maintenance")


def _add_verb(verbs: Children, name: str, about: str) -> argparse.ArgumentParser:
    parser = verbs.add_parser(name, help=about, description=about)
    add_config(parser)
    return parser


def _add_acting_verb(
    verbs: Children,
    name: str,
    act: str,
    about: str,
    *,
    why: bool = False,
) -> argparse.ArgumentParser:
    parser = _add_verb(verbs, name, about)
    parser.add_argument(
        "alarm", nargs="+", metavar="ALARM", help="ids, or the first letters of them"
    )
    add_json(parser)
    parser.add_argument("--by", required=True, metavar="PERSON", help="who; an id of the yard's")
    parser.add_argument("--why", required=why, default="", metavar="TEXT", help="the reason")
    parser.set_defaults(
        run=DeferredFunction("monitor.commands.alarms", "act_on_each"),
        act=DeferredFunction("monitor.commands.alarms", act),
    )
    return parser
