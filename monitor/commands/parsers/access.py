"""Flags of ``laidup access`` and its verbs."""

import argparse
from pathlib import Path

from monitor.commands.parsers.flags import Children, DeferredFunction, add_config, add_json


def add_parser(children: Children, about: str) -> None:
    """Add the command and its verbs."""
    parser = children.add_parser(
        "access",
        help=about,
        description=(
            "Makes the yard's own certificate authority, the certificate of its broker, a password"
            " and topics for each device, and a sheet with all that has to be set there. Nothing"
            " secret is shown unless --show asks for it; files are their user's alone."
        ),
    )
    verbs = parser.add_subparsers(metavar="VERB", required=True)
    begin = _add_verb(
        verbs, "begin", "begin_and_tell", "make authority, certificate and laidup's own password"
    )
    begin.add_argument(
        "--host",
        action="append",
        required=True,
        help="name or address by which devices reach the broker; may be given again",
    )
    add = _add_verb(
        verbs,
        "add",
        "add_devices",
        "add devices: each gets a user, a password, topics and a sheet",
    )
    add.add_argument(
        "users",
        nargs="*",
        metavar="USER",
        help="(each `user` of a sensor in the yard's file that is not there yet)",
    )
    add.add_argument("--lamp", action="store_true", help="it follows the lamp's topic, sends none")
    again = _add_verb(
        verbs, "new-password", "change_password", "give a device another password and sheet"
    )
    again.add_argument("user", metavar="USER")
    revoke = _add_verb(verbs, "revoke", "revoke_device", "take one device's access away")
    revoke.add_argument("user", metavar="USER")
    renew = _add_verb(
        verbs,
        "renew-certificate",
        "renew_certificate",
        "renew the broker's certificate; devices need no visit",
    )
    renew.add_argument("--host", action="append", help="(those that it has)")
    certify = _add_verb(
        verbs,
        "certify",
        "certify_server",
        "make key and certificate of another server in the yard, such as the page's proxy",
    )
    certify.add_argument("hosts", nargs="+", metavar="HOST", help="names by which it is reached")
    listed = _add_verb(
        verbs, "list", "list_users", "users, their topics, and when the certificate ends"
    )
    add_json(listed)
    for verb in (renew, certify):
        verb.add_argument(
            "--ca-key", metavar="FILE", help="the authority's key; - reads it from stdin (ca.key)"
        )
    for verb in (add, again):
        verb.add_argument("--show", action="store_true", help="show the sheet, with the password")


def _add_verb(verbs: Children, name: str, function: str, about: str) -> argparse.ArgumentParser:
    verb = verbs.add_parser(name, help=about, description=f"{about[:1].upper()}{about[1:]}.")
    add_config(verb)
    verb.add_argument("--folder", type=Path, help="(broker/ in the yard's folder)")
    verb.set_defaults(run=DeferredFunction("monitor.commands.access.command", function))
    return verb
