"""The pages by which somebody signs in, sets a password, and signs out; they need no script."""

import logging
from http import HTTPStatus
from typing import Annotated
from urllib.parse import quote

from fastapi import APIRouter, BackgroundTasks, Depends, Request, Response
from fastapi.responses import HTMLResponse, RedirectResponse
from jinja2 import Environment

from monitor.clock import Clock
from monitor.errors import ActError, BadValueError, StoreError, as_sentence, problem_and_remedy
from monitor.store.page_deeds import DeedKind, PageDeed
from monitor.store.store import Store
from monitor.web.access.callers import SignInPace
from monitor.web.access.invitations import (
    ASKED_GOOD_FOR,
    PASSWORD_PATH,
    change_password,
    find_invitation,
    invitation_message,
    invite_person,
    set_password_by_link,
)
from monitor.web.access.passwords import LEAST_LENGTH, Passwords, PasswordsBusyError, fit_password
from monitor.web.access.people_access import PeopleAccess
from monitor.web.access.roles import Right
from monitor.web.access.route_rights import ROUTE_RIGHTS
from monitor.web.access.sessions import (
    begin_session,
    cookie_name,
    digest_of_secret,
    give_cookie,
    is_secret,
    take_cookie,
)
from monitor.web.access.visitor import Visitor, VisitorKind, form_of, require_form_token, visitor_of
from monitor.yard.readers import words_for
from monitor.yard.space import Person, Yard

_log = logging.getLogger(__name__)

Fields = Annotated[dict[str, str], Depends(form_of)]
Asking = Annotated[Visitor, Depends(visitor_of)]
_LONGEST_NAME = 254  # of a mail address (RFC 5321)
_LETTER_HOLDS = "A link that came by mail within the last hour still works."


class SignInDesk:
    """What signing in takes, for the routes below."""

    def __init__(
        self,
        store: Store,
        yard: Yard,
        clock: Clock,
        access: PeopleAccess,
        templates: Environment,
        address: str | None,
    ) -> None:
        self.store, self.yard, self.clock, self.access = store, yard, clock, access
        self.passwords, self.pace = Passwords(), SignInPace()
        # Anybody may ask in anybody's name: that fills no mailbox, and the last letter still holds.
        self.asked_pace = SignInPace(of_person=(3, 600.0))
        self.address = address
        self._templates = templates
        self.passwords.prepare_for_nobody()

    def person_named(self, written: str) -> Person | None:
        """Whoever signs in by this id or mail address."""
        sought = written.strip().casefold()
        return next(
            (one for one in self.yard.people if sought in (one.id, one.mail.casefold())), None
        )

    def show_page(
        self, template: str, up: str, status: HTTPStatus = HTTPStatus.OK, **shown: object
    ) -> HTMLResponse:
        """One of the pages about access."""
        html = self._templates.get_template(template).render(
            yard=self.yard, up=up, least=LEAST_LENGTH, **shown
        )
        return HTMLResponse(html, status_code=status)

    def session_of(self, request: Request) -> str:
        """The session's id that a browser shows; empty where it shows none."""
        shown = request.cookies.get(cookie_name(secure=self.access.is_secure(request)), "")
        return shown if is_secret(shown) else ""

    def let_in(self, request: Request, session: str, to: str) -> Response:
        """Send a browser on with its new session."""
        answer = RedirectResponse(to, status_code=HTTPStatus.SEE_OTHER)
        give_cookie(answer, session, secure=self.access.is_secure(request))
        return answer

    def send_link_later(self, person: Person, address: str) -> None:
        """Send it after the answer has left; a store that takes nothing gets a line in the log."""
        try:
            self.send_link(person, address)
        except StoreError as error:
            _log.warning("No link to set a password could be sent to %s: %s", person.id, error)

    def send_link(self, person: Person, address: str) -> None:
        """Put a link to set a password into the outbox, for one who asked at the page."""
        now = self.clock.now()
        with self.store.transaction() as tx:
            secret, invitation = invite_person(
                tx, person.id, now, person.id, good_for=ASKED_GOOD_FOR, address=address
            )
            link = f"{(self.address or '').rstrip('/')}{PASSWORD_PATH}{secret}"
            wording = words_for(self.yard, now, person)
            tx.outbox.add([invitation_message(self.yard, person, link, invitation, wording)])


def sign_in_routes(desk: SignInDesk) -> APIRouter:
    """Make the routes of the desk."""
    routes = APIRouter(include_in_schema=False)
    _add_sign_in(routes, desk)
    _add_password_by_link(routes, desk)
    _add_account(routes, desk)
    return routes


def _add_sign_in(routes: APIRouter, desk: SignInDesk) -> None:
    @routes.get("/sign-in")
    def show_sign_in(visitor: Asking, next: str = "") -> Response:
        if visitor.kind is VisitorKind.PERSON:
            return RedirectResponse("./", status_code=HTTPStatus.SEE_OTHER)
        return desk.show_page("sign_in.html", "", next=path_to_go_on(next), name="", problem="")

    @routes.post("/sign-in")
    def sign_in(request: Request, fields: Fields) -> Response:
        name = fields.get("name", "")[:_LONGEST_NAME]
        written, to = fields.get("password", ""), path_to_go_on(fields.get("next", ""))

        def ask_again(problem: str, status: HTTPStatus) -> Response:
            return desk.show_page("sign_in.html", "", status, next=to, name=name, problem=problem)

        person, address, now = desk.person_named(name), caller_of(request), desk.clock.now()
        with desk.store.snapshot() as tx:
            kept = tx.sign_ins.password_of(person.id) if person else None
            wait_s = desk.pace.wait_before_try(
                person.id if person else name,
                address,
                lambda: person is not None and tx.page_deeds.has_signed_in_from(person.id, address),
            )
        if wait_s:
            answer = ask_again(_too_often(wait_s), HTTPStatus.TOO_MANY_REQUESTS)
            answer.headers["Retry-After"] = str(int(wait_s) + 1)
            return answer
        try:
            right = desk.passwords.is_password(kept.hash if kept else None, written)
        except PasswordsBusyError as error:
            return ask_again(as_sentence(str(error)), HTTPStatus.SERVICE_UNAVAILABLE)
        with desk.store.transaction() as tx:
            if person is None or not right:
                who = person.id if person else "nobody"  # what was written may be a password
                tx.page_deeds.add(PageDeed(at=now, who=who, kind=DeedKind.REFUSED, address=address))
                return ask_again(
                    "Name and password do not go together, or no password was set yet.",
                    HTTPStatus.UNAUTHORIZED,
                )
            # Never the id that the browser came with: somebody else may have put it there.
            if old := desk.session_of(request):
                tx.sign_ins.end_session(digest_of_secret(old))
            session = begin_session(tx, person.id, now, address)
            deed = PageDeed(at=now, who=person.id, kind=DeedKind.SIGNED_IN, address=address)
            tx.page_deeds.add(deed)
        return desk.let_in(request, session, f".{to}")

    @routes.post("/sign-in/letter")
    def ask_for_link(request: Request, fields: Fields, after: BackgroundTasks) -> Response:
        name, address = fields.get("name", "")[:_LONGEST_NAME], caller_of(request)
        person = desk.person_named(name)
        wait_s = desk.asked_pace.wait_before_try(person.id if person else name, address)
        if wait_s:
            return desk.show_page(
                "sign_in.html", "../", HTTPStatus.TOO_MANY_REQUESTS,
                next="/", name=name, problem=f"{_too_often(wait_s)} {_LETTER_HOLDS}",
            )  # fmt: skip
        if person is not None and person.mail and desk.address:
            # Once this answer has left: the time it takes does not tell who is known.
            after.add_task(desk.send_link_later, person, address)
        return desk.show_page("link_sent.html", "../", can_send=bool(desk.address))


def _add_password_by_link(routes: APIRouter, desk: SignInDesk) -> None:
    def show_form(secret: str, status: HTTPStatus, problem: str = "") -> Response:
        with desk.store.snapshot() as tx:
            found = find_invitation(tx, secret, desk.clock.now())
        person = desk.person_named(found.person) if found else None
        if person is None:
            status = HTTPStatus.NOT_FOUND
        return desk.show_page(
            "set_password.html", "../", status,
            name=person.name if person else "", id=person.id if person else "", problem=problem,
        )  # fmt: skip

    # A mail program that looks at the link uses nothing up.
    @routes.head("/password/{secret}")
    @routes.get("/password/{secret}")
    def show_password_form(secret: str) -> Response:
        return show_form(secret, HTTPStatus.OK)

    @routes.post("/password/{secret}")
    def set_password(request: Request, secret: str, fields: Fields) -> Response:
        now = desk.clock.now()
        with desk.store.snapshot() as tx:
            found = find_invitation(tx, secret, now)
        person = desk.person_named(found.person) if found else None
        if person is None:
            return show_form(secret, HTTPStatus.NOT_FOUND)
        try:
            hashed = _hash_of_new(desk, fields.get("password", ""), person)
            with desk.store.transaction() as tx:
                _, session = set_password_by_link(tx, secret, hashed, now, caller_of(request))
        except BadValueError as error:
            return show_form(secret, HTTPStatus.UNPROCESSABLE_ENTITY, _said_of(error))
        except PasswordsBusyError as error:
            return show_form(secret, HTTPStatus.SERVICE_UNAVAILABLE, as_sentence(str(error)))
        except ActError:
            return show_form(secret, HTTPStatus.NOT_FOUND)
        return desk.let_in(request, session, "../")


def _add_account(routes: APIRouter, desk: SignInDesk) -> None:
    def show(visitor: Visitor, status: HTTPStatus = HTTPStatus.OK, problem: str = "") -> Response:
        person = visitor.person
        with desk.store.snapshot() as tx:
            sessions = tx.sign_ins.sessions_of(person.id) if person else []
        return desk.show_page(
            "account.html", "", status,
            visitor=visitor, sessions=sessions, problem=problem,
            wording=words_for(desk.yard, desk.clock.now(), person),
            may_admit=visitor.may(Right.ADMIT_OTHERS),
            own_craft=_own_craft(desk, visitor),
        )  # fmt: skip

    @routes.get("/account")
    def show_account(visitor: Asking) -> Response:
        return show(visitor)

    @routes.post("/account/password", dependencies=[Depends(require_form_token)])
    def change_own_password(request: Request, visitor: Asking, fields: Fields) -> Response:
        person, now, address = _signed_in(visitor), desk.clock.now(), caller_of(request)
        wait_s = desk.pace.wait_before_try(person.id, address, lambda: True)
        if wait_s:
            return show(visitor, HTTPStatus.TOO_MANY_REQUESTS, _too_often(wait_s))
        with desk.store.snapshot() as tx:
            kept = tx.sign_ins.password_of(person.id)
        try:
            if not desk.passwords.is_password(kept.hash if kept else None, fields.get("old", "")):
                return show(visitor, HTTPStatus.FORBIDDEN, "That is not your password as it was.")
            hashed = _hash_of_new(desk, fields.get("password", ""), person)
        except BadValueError as error:
            return show(visitor, HTTPStatus.UNPROCESSABLE_ENTITY, _said_of(error))
        except PasswordsBusyError as error:
            return show(visitor, HTTPStatus.SERVICE_UNAVAILABLE, as_sentence(str(error)))
        with desk.store.transaction() as tx:
            session = change_password(tx, person.id, hashed, now, address)
        return desk.let_in(request, session, "../account")

    @routes.post("/sign-out", dependencies=[Depends(require_form_token)])
    def sign_out(request: Request, visitor: Asking) -> Response:
        return _end_sessions(request, visitor, "sign-in", everywhere=False)

    @routes.post("/sign-out/everywhere", dependencies=[Depends(require_form_token)])
    def sign_out_everywhere(request: Request, visitor: Asking) -> Response:
        return _end_sessions(request, visitor, "../sign-in", everywhere=True)

    def _end_sessions(request: Request, visitor: Visitor, to: str, *, everywhere: bool) -> Response:
        person = _signed_in(visitor)
        kind = DeedKind.SIGNED_OUT_EVERYWHERE if everywhere else DeedKind.SIGNED_OUT
        with desk.store.transaction() as tx:
            if everywhere:
                tx.sign_ins.end_sessions_of(person.id)
            else:
                tx.sign_ins.end_session(digest_of_secret(desk.session_of(request)))
            tx.page_deeds.add(
                PageDeed(at=desk.clock.now(), who=person.id, kind=kind, address=caller_of(request))
            )
        answer = RedirectResponse(to, status_code=HTTPStatus.SEE_OTHER)
        take_cookie(answer, secure=desk.access.is_secure(request))
        return answer


def path_to_go_on(said: str) -> str:
    """Where to go after signing in: a page of ours that can be looked at, else the first one."""
    for row in ROUTE_RIGHTS:
        if row.needs is not None and "GET" in row.methods and row.matches_path(said):
            return quote(said, safe="/") if not said.startswith(("//", "/api/")) else "/"
    return "/"


def caller_of(request: Request) -> str:
    """The address that a request came from, as the server or a trusted proxy says."""
    return request.client.host if request.client else ""


def _signed_in(visitor: Visitor) -> Person:
    if visitor.person is None:
        raise ActError("nobody is signed in")
    return visitor.person


def _own_craft(desk: SignInDesk, visitor: Visitor) -> list[tuple[str, str]]:
    """Id and name of an owner's craft."""
    if visitor.craft is None:
        return []
    return [(one.id, one.name) for one in desk.access.craft_seen_by(visitor)]


def _hash_of_new(desk: SignInDesk, written: str, person: Person) -> str:
    names = (person.id, person.name, person.mail, desk.yard.id, desk.yard.name)
    return desk.passwords.hash_password(fit_password(written, names))


def _said_of(error: BadValueError) -> str:
    problem, remedy = problem_and_remedy(error)
    return f"That password will not do: {problem}. {as_sentence(remedy)}"


def _too_often(wait_s: float) -> str:
    return (
        f"Too many tries just now: come again in {int(wait_s) + 1} seconds. Nobody is locked out."
    )
