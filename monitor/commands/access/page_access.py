"""``laidup access`` for the page: invite people, make keys and links, list and withdraw them."""

import argparse
import getpass
from collections.abc import Iterator
from datetime import datetime

from monitor.commands.opening import Opened, craft_named, daemon_clock, names_on_record, open_to_act
from monitor.commands.printing import print_json
from monitor.errors import ConfigurationError, Fault, fault_from
from monitor.phrases.names import plain
from monitor.store.page_deeds import DeedKind, PageDeed
from monitor.store.page_grants import Grant, GrantKind
from monitor.web.access.invitations import PASSWORD_PATH, invitation_message, invite_person
from monitor.web.access.keys_and_links import (
    make_craft_link,
    make_key,
    make_owner_link,
    withdraw_grant,
)
from monitor.web.access.roles import AccessRole
from monitor.yard.people import person_id
from monitor.yard.readers import words_for
from monitor.yard.space import Person, Role


def send_invitation(arguments: argparse.Namespace) -> int:
    """Send somebody a link to set a password; show it where no mail would reach them."""
    with open_to_act(arguments) as here:
        person = _person_meant(here, arguments.person)
        now = daemon_clock(here.store).now()
        settings = here.settings
        reached = bool((settings.mail or settings.folder) and person.mail and settings.web.address)
        wording = words_for(here.yard, now, person)
        with here.store.transaction() as tx:
            secret, invitation = invite_person(tx, person.id, now, _by())
            link = f"{_page_address(here)}{PASSWORD_PATH}{secret}"
            if reached and not arguments.show:
                tx.outbox.add([invitation_message(here.yard, person, link, invitation, wording)])
        if arguments.json:
            by_mail = reached and not arguments.show
            print_json(
                {
                    "person": person.id,
                    "mail_to": person.mail if by_mail else None,
                    "link": None if by_mail else link,  # in one place only
                    "expires_at": _iso(invitation.expires_at),
                }
            )
            return 0
        until = wording.clock(invitation.expires_at)
        if reached and not arguments.show:
            print(f"A link for {person.name} leaves by mail to {person.mail}; good until {until}.")
            return 0
        if not reached and not arguments.show:
            print(f"No mail leads to {person.name}, or [web] address is not set; so here it is.")
        print(f"For {person.name} alone, once, until {until}:\n{link}")
        return 0


def sign_out_person(arguments: argparse.Namespace) -> int:
    """End every session of somebody."""
    with open_to_act(arguments) as here:
        person = _person_meant(here, arguments.person)
        now = daemon_clock(here.store).now()
        with here.store.transaction() as tx:
            ended = tx.sign_ins.end_sessions_of(person.id)
            tx.page_deeds.add(
                PageDeed(at=now, who=_by(), kind=DeedKind.SIGNED_OUT_EVERYWHERE, about=person.id)
            )
        if arguments.json:
            print_json({"person": person.id, "sessions_ended": ended})
            return 0
        print(f"{person.name} was signed in at {ended} places, and is at none now.")
        return 0


def make_program_key(arguments: argparse.Namespace) -> int:
    """Make a key for a program and show it, once."""
    with open_to_act(arguments) as here:
        now = daemon_clock(here.store).now()
        with here.store.transaction() as tx:
            key, grant = make_key(tx, arguments.name, AccessRole(arguments.role), now, _by())
        if arguments.json:
            print_json({**_grant_json(grant, good=grant.is_good_at(now)), "key": key})
            return 0
        print(f"{grant.id}, for {plain(grant.name)}, as {grant.role}. It is shown this once:")
        print(key)
        print("The program shows it with each request: Authorization: Bearer laidup-key-...")
        return 0


def make_link_for_owner(arguments: argparse.Namespace) -> int:
    """Make an owner's link and show it, once."""
    with open_to_act(arguments) as here:
        owner = _person_meant(here, arguments.person)
        if Role.OWNER not in owner.roles:
            raise _fault("OWNER", f"{owner.name} is no owner", "Name one with roles owner.")
        now = daemon_clock(here.store).now()
        with here.store.transaction() as tx:
            secret, grant = make_owner_link(tx, owner.id, arguments.days, now, _by())
        _show_link(here, secret, grant, f"{owner.name}'s own craft", as_json=arguments.json)
        return 0


def make_link_for_craft(arguments: argparse.Namespace) -> int:
    """Make a link to one craft and show it, once."""
    with open_to_act(arguments) as here:
        names = names_on_record(here)
        craft = craft_named(arguments.craft, names)
        now = daemon_clock(here.store).now()
        with here.store.transaction() as tx:
            secret, grant = make_craft_link(tx, craft, arguments.to, arguments.days, now, _by())
        to = f"{names[craft]} alone, for {plain(arguments.to)} to read"
        _show_link(here, secret, grant, to, as_json=arguments.json)
        return 0


def withdraw_issued(arguments: argparse.Namespace) -> int:
    """Take a key or link back."""
    with open_to_act(arguments) as here:
        with here.store.transaction() as tx:
            now = daemon_clock(here.store).now()
            withdraw_grant(tx, arguments.id, now, _by())
        if arguments.json:
            print_json({"id": arguments.id, "withdrawn_at": _iso(now)})
            return 0
        print(f"{arguments.id} opens nothing any more.")
        return 0


def list_issued(arguments: argparse.Namespace) -> int:
    """List people with a password, keys and links; nothing that opens."""
    with open_to_act(arguments) as here:
        now = daemon_clock(here.store).now()
        wording = words_for(here.yard, now)
        with here.store.snapshot() as tx:
            passwords, grants = tx.sign_ins.people_with_password(), tx.page_grants.all_grants()
            places = {one.id: len(tx.sign_ins.sessions_of(one.id)) for one in here.yard.people}
        if arguments.json:
            print_json(
                {
                    "people": [
                        {
                            "person": one.id,
                            "password_set_at": _iso(passwords.get(one.id)),
                            "sessions": places[one.id],
                        }
                        for one in here.yard.people
                    ],
                    "issued": [_grant_json(one, good=one.is_good_at(now)) for one in grants],
                }
            )
            return 0
        for one in here.yard.people:
            since = passwords.get(one.id)
            said = f"password since {wording.clock(since)}" if since else "no password yet"
            print(f"{one.name} ({one.id}): {said}; signed in at {places[one.id]} places")
        for grant in grants:
            print(f"{grant.id}: {', '.join(_grant_words(grant, here))}")
        return 0


def show_deeds(arguments: argparse.Namespace) -> int:
    """Show what was done about access, the latest first."""
    with open_to_act(arguments) as here:
        wording = words_for(here.yard, daemon_clock(here.store).now())
        with here.store.snapshot() as tx:
            deeds = tx.page_deeds.latest_deeds(max(arguments.last, 0))
        if arguments.json:
            print_json(
                [
                    {
                        "at": _iso(one.at),
                        "who": one.who,
                        "deed": str(one.kind),
                        "about": one.about,
                        "from": one.address,
                    }
                    for one in deeds
                ]
            )
            return 0
        for one in deeds:
            about = f": {plain(one.about)}" if one.about else ""
            whence = f", from {plain(one.address)}" if one.address else ""
            print(f"{wording.clock(one.at)} {plain(one.who)} {one.kind}{about}{whence}")
        return 0


def _person_meant(here: Opened, said: str) -> Person:
    names = {one.id: one.name for one in here.yard.people}
    try:
        meant = person_id(said, names)
    except ValueError as error:
        raise ConfigurationError([fault_from(error, "laidup access", "PERSON")]) from error
    return here.yard.person(meant)


def _show_link(here: Opened, secret: str, grant: Grant, to: str, *, as_json: bool) -> None:
    link = f"{_page_address(here)}/owner/{secret}"
    if as_json:
        print_json({**_grant_json(grant, good=grant.is_good_at(grant.made_at)), "link": link})
        return
    wording = words_for(here.yard, grant.made_at)
    until = wording.clock(grant.expires_at) if grant.expires_at else ""
    print(f"{grant.id}, to {to}, until {until}. It is shown this once:")
    print(link)
    print("Whoever has it can open it; `laidup access withdraw` takes it back.")


def _page_address(here: Opened) -> str:
    web = here.settings.web
    return (web.address or f"http://{web.host}:{web.port}").rstrip("/")


def _grant_words(grant: Grant, here: Opened) -> Iterator[str]:
    wording = words_for(here.yard, grant.made_at)
    if grant.kind is GrantKind.KEY:
        yield f"key of {plain(grant.name)}, {grant.role}"
    elif grant.kind is GrantKind.OWNER:
        yield f"link of the owner {grant.person}"
    else:
        yield f"link to {grant.craft} for {plain(grant.name)}"
    yield f"made {wording.clock(grant.made_at)} by {plain(grant.made_by)}"
    if grant.expires_at:
        yield f"good until {wording.clock(grant.expires_at)}"
    if grant.has_run_out:
        yield "ran out"
    elif grant.withdrawn_at:
        yield f"withdrawn {wording.clock(grant.withdrawn_at)}"
    yield f"last used {wording.clock(grant.seen_at)}" if grant.seen_at else "never used"


def _grant_json(grant: Grant, *, good: bool) -> dict[str, object]:
    return {
        "id": grant.id,
        "kind": str(grant.kind),
        "role": grant.role or None,
        "name": grant.name or None,
        "owner": grant.person or None,
        "craft": grant.craft or None,
        "made_by": grant.made_by,
        "made_at": _iso(grant.made_at),
        "expires_at": _iso(grant.expires_at),
        "withdrawn_at": None if grant.has_run_out else _iso(grant.withdrawn_at),
        "last_used_at": _iso(grant.seen_at),
        "good": good,
    }


def _iso(at: datetime | None) -> str | None:
    return None if at is None else at.isoformat()


def _by() -> str:
    """Whoever is at the keyboard, by the name of their account on this machine."""
    try:
        return f"{getpass.getuser()} at the machine"
    except (KeyError, OSError):
        return "somebody at the machine"


def _fault(key: str, problem: str, remedy: str) -> ConfigurationError:
    return ConfigurationError(
        [Fault(file="laidup access", key=key, problem=problem, remedy=remedy)]
    )
