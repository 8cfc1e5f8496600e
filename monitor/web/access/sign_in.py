"""The page at which somebody signs in, or asks for a link to set a password; it needs no script."""

from http import HTTPStatus
from urllib.parse import quote

from fastapi import APIRouter, BackgroundTasks, Request, Response
from fastapi.responses import RedirectResponse

from monitor.errors import StoreError
from monitor.store.page_deeds import DeedKind, PageDeed
from monitor.web.access.passwords import PasswordsBusyError
from monitor.web.access.route_rights import ROUTE_RIGHTS
from monitor.web.access.sessions import begin_session, digest_of_secret
from monitor.web.access.sign_in_desk import (
    Asking,
    Fields,
    SignInDesk,
    caller_of,
    say_not_kept,
    say_too_often,
    words_asked_for,
)
from monitor.web.access.visitor import VisitorKind
from monitor.yard.space import Person

_LONGEST_NAME = 254  # of a mail address (RFC 5321)


def sign_in_routes(desk: SignInDesk) -> APIRouter:
    """Make the routes."""
    routes = APIRouter(include_in_schema=False)

    def show_form(
        request: Request,
        up: str,
        status: HTTPStatus = HTTPStatus.OK,
        *,
        next: str,
        name: str = "",
        problem: str = "",
    ) -> Response:
        say = words_asked_for(request)
        return desk.show_page(
            "sign_in.html", up, status,
            next=next, name=name, problem=problem, say=say, lang=say.language,
        )  # fmt: skip

    @routes.get("/sign-in")
    def show_sign_in(request: Request, visitor: Asking, next: str = "") -> Response:
        if visitor.kind is VisitorKind.PERSON:
            return RedirectResponse("./", status_code=HTTPStatus.SEE_OTHER)
        return show_form(request, "", next=path_to_go_on(next))

    @routes.post("/sign-in")
    def sign_in(request: Request, fields: Fields) -> Response:
        name = fields.get("name", "")[:_LONGEST_NAME]
        written, to = fields.get("password", ""), path_to_go_on(fields.get("next", ""))
        say = words_asked_for(request)

        def ask_again(problem: str, status: HTTPStatus) -> Response:
            return show_form(request, "", status, next=to, name=name, problem=problem)

        person, address = desk.person_named(name), caller_of(request)
        with desk.store.snapshot() as tx:
            kept = tx.sign_ins.password_of(person.id) if person else None
            wait_s = desk.pace.wait_before_try(
                person.id if person else name,
                address,
                lambda: person is not None and tx.page_deeds.has_signed_in_from(person.id, address),
            )
        if wait_s:
            answer = ask_again(say_too_often(wait_s, say), HTTPStatus.TOO_MANY_REQUESTS)
            answer.headers["Retry-After"] = str(int(wait_s) + 1)
            return answer
        try:
            right = desk.passwords.is_password(kept.hash if kept else None, written)
        except PasswordsBusyError:
            return ask_again(say.busy, HTTPStatus.SERVICE_UNAVAILABLE)
        if person is None or not right:
            desk.keep_refusal(person, address)
            return ask_again(say.not_together, HTTPStatus.UNAUTHORIZED)
        try:
            session = _begin_session(desk, person, desk.session_of(request), address)
        except StoreError as error:
            return ask_again(say_not_kept(error, say), HTTPStatus.SERVICE_UNAVAILABLE)
        return desk.let_in(request, session, f".{to}")

    @routes.post("/sign-in/letter")
    def ask_for_link(request: Request, fields: Fields, after: BackgroundTasks) -> Response:
        name, address = fields.get("name", "")[:_LONGEST_NAME], caller_of(request)
        person, say = desk.person_named(name), words_asked_for(request)
        wait_s = desk.asked_pace.wait_before_try(person.id if person else name, address)
        if wait_s:
            problem = f"{say_too_often(wait_s, say)} {say.letter_holds}"
            return show_form(
                request, "../", HTTPStatus.TOO_MANY_REQUESTS, next="/", name=name, problem=problem
            )
        if person is not None and person.mail and desk.address:
            # Once this answer has left: the time it takes does not tell who is known.
            after.add_task(desk.send_link_later, person, address)
        return desk.show_page(
            "link_sent.html", "../", can_send=bool(desk.address), say=say, lang=say.language
        )

    return routes


def path_to_go_on(said: str) -> str:
    """Where to go after signing in: a page of ours that can be looked at, else the first one."""
    for row in ROUTE_RIGHTS:
        if row.needs is not None and "GET" in row.methods and row.matches_path(said):
            return quote(said, safe="/") if not said.startswith(("//", "/api/")) else "/"
    return "/"


def _begin_session(desk: SignInDesk, person: Person, shown: str, address: str) -> str:
    """A new session in place of the one that the browser came with; its id."""
    now = desk.clock.now()
    with desk.store.transaction() as tx:
        # Never the id that the browser came with: somebody else may have put it there.
        if shown:
            tx.sign_ins.end_session(digest_of_secret(shown))
        session = begin_session(tx, person.id, now, address)
        deed = PageDeed(at=now, who=person.id, kind=DeedKind.SIGNED_IN, address=address)
        tx.page_deeds.add(deed)
    return session
