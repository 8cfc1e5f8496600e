"""The page on which an operator lets others in: keys and links, made and taken back."""

from collections.abc import Callable, Mapping
from functools import partial
from http import HTTPStatus

from fastapi import APIRouter, Depends, Request, Response

from monitor.errors import ActError, as_sentence
from monitor.store.page_grants import Grant
from monitor.store.store import Transaction
from monitor.web.access.invitations import invitation_message, invite_person
from monitor.web.access.keys_and_links import (
    KEY_ROLES,
    MOST_DAYS,
    OWNER_DAYS,
    THIRD_PARTY_DAYS,
    make_craft_link,
    make_key,
    make_owner_link,
    withdraw_grant,
)
from monitor.web.access.roles import AccessRole
from monitor.web.access.sign_in_desk import Asking, Fields, SignInDesk, caller_of
from monitor.web.access.visitor import Visitor, require_form_token
from monitor.yard.readers import words_for
from monitor.yard.space import Role

_LONGEST_NAME = 80
_DEEDS = 30
_FORM = [Depends(require_form_token)]


def people_routes(desk: SignInDesk) -> APIRouter:
    """Make the routes."""
    routes = APIRouter(prefix="/people", include_in_schema=False)

    @routes.get("")
    def show_people(visitor: Asking) -> Response:
        return _show(desk, visitor, "", up="")

    @routes.post("/keys", dependencies=_FORM)
    def give_key(request: Request, visitor: Asking, fields: Fields) -> Response:
        def make(tx: Transaction) -> str:
            name, role = _line(fields.get("name", "")), fields.get("role", "")
            if not name:
                raise ActError("say what the key is for")
            if role not in KEY_ROLES:
                raise ActError("a key is a reader's, a mechanic's or an operator's")
            by = _id_of(visitor)
            now = desk.clock.now()
            return make_key(tx, name, AccessRole(role), now, by, caller_of(request))[0]

        return _make_and_show(desk, visitor, make)

    @routes.post("/links", dependencies=_FORM)
    def give_link(request: Request, visitor: Asking, fields: Fields) -> Response:
        def make(tx: Transaction) -> str:
            secret = _make_link(desk, tx, visitor, fields, caller_of(request))
            return f"{_outside(desk, request)}/owner/{secret}"

        return _make_and_show(desk, visitor, make)

    @routes.post("/withdraw", dependencies=_FORM)
    def take_back(request: Request, visitor: Asking, fields: Fields) -> Response:
        def withdraw(tx: Transaction) -> str:
            grant, by = fields.get("id", ""), _id_of(visitor)
            withdraw_grant(tx, grant, desk.clock.now(), by, caller_of(request))
            return ""

        return _make_and_show(desk, visitor, withdraw)

    @routes.post("/invite", dependencies=_FORM)
    def invite(request: Request, visitor: Asking, fields: Fields) -> Response:
        def send(tx: Transaction) -> str:
            person = desk.person_named(fields.get("person", ""))
            if person is None or not person.mail or not desk.address:
                raise ActError("no mail leads to that person, or [web] address is not set")
            now = desk.clock.now()
            secret, made = invite_person(
                tx, person.id, now, _id_of(visitor), address=caller_of(request)
            )
            link = f"{desk.address.rstrip('/')}/password/{secret}"
            words = words_for(desk.yard, now, person)
            tx.outbox.add([invitation_message(desk.yard, person, link, made, words)])
            return ""

        return _make_and_show(desk, visitor, send)

    return routes


def _make_and_show(
    desk: SignInDesk, visitor: Visitor, make: Callable[[Transaction], str]
) -> Response:
    """Do it in one transaction, and show the page with what opens, this once."""
    try:
        with desk.store.transaction() as tx:
            shown = make(tx)
    except ActError as error:
        return _show(desk, visitor, "", as_sentence(str(error)))
    return _show(desk, visitor, shown)


def _show(
    desk: SignInDesk, visitor: Visitor, shown: str, problem: str = "", up: str = "../"
) -> Response:
    """The page; ``shown`` is a key or link that was made just now."""
    now = desk.clock.now()
    with desk.store.snapshot() as tx:
        passwords, grants = tx.sign_ins.people_with_password(), tx.page_grants.all_grants()
        deeds = tx.page_deeds.latest_deeds(_DEEDS)
    status = HTTPStatus.UNPROCESSABLE_ENTITY if problem else HTTPStatus.OK
    craft = [(one.id, one.name) for one in desk.access.craft_seen_by(visitor)]
    called = {one.id: one.name for one in desk.yard.people} | dict(craft)
    return desk.show_page(
        "people.html", up, status,
        visitor=visitor, shown=shown, problem=problem,
        people=[(one, passwords.get(one.id)) for one in desk.yard.people],
        owners=[one for one in desk.yard.people if Role.OWNER in one.roles],
        craft=craft,
        good=[one for one in grants if one.is_good_at(now)],
        describe=partial(_describe_grant, called), deeds=deeds,
        roles=KEY_ROLES, most_days=MOST_DAYS,
        owner_days=OWNER_DAYS, third_party_days=THIRD_PARTY_DAYS,
        wording=words_for(desk.yard, now, visitor.person),
    )  # fmt: skip


def _make_link(
    desk: SignInDesk, tx: Transaction, visitor: Visitor, fields: Fields, address: str
) -> str:
    """The secret of a new link, to an owner's craft or to one craft for somebody else."""
    said, by, now = fields.get("days", ""), _id_of(visitor), desk.clock.now()
    if not said.isascii() or not said.isdigit() or len(said) > 4:
        raise ActError(f"a link is good for 1 to {MOST_DAYS} days")
    if owner := fields.get("owner", ""):
        if owner not in {one.id for one in desk.yard.people if Role.OWNER in one.roles}:
            raise ActError("that is no owner of the yard's file")
        return make_owner_link(tx, owner, int(said), now, by, address)[0]
    craft, name = fields.get("craft", ""), _line(fields.get("name", ""))
    if craft not in {one.id for one in desk.access.craft_seen_by(visitor)} or not name:
        raise ActError("name a craft in the yard's care, and whom the link is for")
    return make_craft_link(tx, craft, name, int(said), now, by, address)[0]


def _describe_grant(called: Mapping[str, str], grant: Grant) -> str:
    """What was given out, in a few words; ``called`` are names of people and craft by id."""
    if grant.role:
        return f"key of {grant.name}, {grant.role}"
    if grant.person:
        return f"link of the owner {called.get(grant.person, grant.person)}"
    return f"link to {called.get(grant.craft, grant.craft)} for {grant.name}"


def _outside(desk: SignInDesk, request: Request) -> str:
    """Address of the page as its readers know it, else as this one came to it."""
    return (desk.address or str(request.base_url)).rstrip("/")


def _line(said: str) -> str:
    return " ".join(said.split())[:_LONGEST_NAME]


def _id_of(visitor: Visitor) -> str:
    if visitor.person is None:
        raise ActError("nobody is signed in")
    return visitor.person.id
