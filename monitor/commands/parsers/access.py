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
            "Of devices: makes the yard's own certificate authority, the certificate of its broker,"
            " a password and topics for each device, and a sheet with all that has to be set there."
            " Nothing secret is shown unless --show asks for it; files are their user's alone. Of"
            " the page: sends people links to set a password, makes keys for programs and links for"
            " owners, shows each once, lists them and takes them back."
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
    _add_page_verbs(verbs)


def _add_page_verbs(verbs: Children) -> None:
    """Add what concerns the page."""
    invite = _add_page_verb(
        verbs, "invite", "send_invitation", "send somebody of the yard a link to set a password"
    )
    invite.add_argument("person", metavar="PERSON", help="id or name")
    invite.add_argument("--show", action="store_true", help="show the link, and send no mail")
    out = _add_page_verb(
        verbs, "sign-out", "sign_out_person", "end every session of somebody, wherever it is"
    )
    out.add_argument("person", metavar="PERSON", help="id or name")
    key = _add_page_verb(verbs, "key", "make_program_key", "make a key for a program; shown once")
    key.add_argument("name", metavar="NAME", help="what it is for")
    key.add_argument(
        "--role",
        choices=("reader", "mechanic", "operator"),
        default="reader",
        help="reader only looks, mechanic enters work too (reader)",
    )
    owner = _add_page_verb(
        verbs,
        "owner-link",
        "make_link_for_owner",
        "make an owner's link to the own craft; shown once",
    )
    owner.add_argument("person", metavar="OWNER", help="id or name")
    owner.add_argument("--days", type=int, default=240, help="it is good for (240)")
    craft = _add_page_verb(
        verbs,
        "craft-link",
        "make_link_for_craft",
        "make a link to look at one craft, for an insurer or the like; shown once",
    )
    craft.add_argument("craft", metavar="CRAFT", help="id or name")
    craft.add_argument("--to", required=True, metavar="WHO", help="whom it is given to")
    craft.add_argument("--days", type=int, default=14, help="it is good for (14)")
    _add_page_verb(
        verbs, "issued", "list_issued", "people with a password, keys and links, and their last use"
    )
    withdraw = _add_page_verb(
        verbs, "withdraw", "withdraw_issued", "take a key or link back, by the id in `issued`"
    )
    withdraw.add_argument("id", metavar="ID")
    log = _add_page_verb(verbs, "log", "show_deeds", "who signed in, and who gave what to whom")
    log.add_argument("--last", type=int, default=50, metavar="N", help="how many (50)")


def _add_page_verb(
    verbs: Children, name: str, function: str, about: str
) -> argparse.ArgumentParser:
    verb = verbs.add_parser(name, help=about, description=f"{about[:1].upper()}{about[1:]}.")
    add_config(verb)
    add_json(verb)
    verb.set_defaults(run=DeferredFunction("monitor.commands.access.page_access", function))
    return verb


def _add_verb(verbs: Children, name: str, function: str, about: str) -> argparse.ArgumentParser:
    verb = verbs.add_parser(name, help=about, description=f"{about[:1].upper()}{about[1:]}.")
    add_config(verb)
    verb.add_argument("--folder", type=Path, help="(broker/ in the yard's folder)")
    verb.set_defaults(run=DeferredFunction("monitor.commands.access.command", function))
    return verb
