"""The page of whoever is signed in: where they are signed in, their password, the way out."""

from http import HTTPStatus

from fastapi import APIRouter, Depends, Request, Response
from fastapi.responses import RedirectResponse

from monitor.errors import ActError, StoreError
from monitor.phrases.account_words import account_words_of
from monitor.phrases.owner_words import owner_words_for
from monitor.store.page_deeds import DeedKind, PageDeed
from monitor.web.access.invitations import change_password
from monitor.web.access.passwords import PasswordsBusyError, UnfitPasswordError
from monitor.web.access.roles import Right
from monitor.web.access.sessions import digest_of_secret, take_cookie
from monitor.web.access.sign_in_desk import (
    Asking,
    Fields,
    SignInDesk,
    caller_of,
    say_not_kept,
    say_too_often,
    say_unfit,
)
from monitor.web.access.visitor import Visitor, require_form_token
from monitor.wording import Wording
from monitor.yard.readers import words_for
from monitor.yard.space import STAFF, Person

_FORM = [Depends(require_form_token)]


def account_routes(desk: SignInDesk) -> APIRouter:
    """Make the routes."""
    routes = APIRouter(include_in_schema=False)

    def show(
        visitor: Visitor, status: HTTPStatus = HTTPStatus.OK, problem: str = "", up: str = ""
    ) -> Response:
        person = visitor.person
        with desk.store.snapshot() as tx:
            sessions = tx.sign_ins.sessions_of(person.id) if person else []
        language = person.language if person else "en"
        return desk.show_page(
            "account.html", up, status,
            visitor=visitor, sessions=sessions, problem=problem, say=account_words_of(language),
            lang=language, wording=_wording_for(desk, person),
            may_admit=visitor.may(Right.ADMIT_OTHERS),
            own_craft=_own_craft(desk, visitor),
        )  # fmt: skip

    @routes.get("/account")
    def show_account(visitor: Asking) -> Response:
        return show(visitor)

    @routes.post("/account/password", dependencies=_FORM)
    def change_own_password(request: Request, visitor: Asking, fields: Fields) -> Response:
        person, address = _signed_in(visitor), caller_of(request)
        say = account_words_of(person.language)

        def ask_again(status: HTTPStatus, problem: str) -> Response:
            return show(visitor, status, problem, up="../")

        wait_s = desk.pace.wait_before_try(person.id, address, lambda: True)
        if wait_s:
            return ask_again(HTTPStatus.TOO_MANY_REQUESTS, say_too_often(wait_s, say))
        with desk.store.snapshot() as tx:
            kept = tx.sign_ins.password_of(person.id)
        try:
            if not desk.passwords.is_password(kept.hash if kept else None, fields.get("old", "")):
                return ask_again(HTTPStatus.FORBIDDEN, say.wrong_old)
            hashed = desk.hash_new_password(fields.get("password", ""), person)
            with desk.store.transaction() as tx:
                session = change_password(tx, person.id, hashed, desk.clock.now(), address)
        except UnfitPasswordError as error:
            return ask_again(HTTPStatus.UNPROCESSABLE_ENTITY, say_unfit(error, say))
        except PasswordsBusyError:
            return ask_again(HTTPStatus.SERVICE_UNAVAILABLE, say.busy)
        except StoreError as error:
            return ask_again(HTTPStatus.SERVICE_UNAVAILABLE, say_not_kept(error, say))
        return desk.let_in(request, session, "../account")

    @routes.post("/sign-out", dependencies=_FORM)
    def sign_out(request: Request, visitor: Asking) -> Response:
        return end_sessions(request, visitor, "", everywhere=False)

    @routes.post("/sign-out/everywhere", dependencies=_FORM)
    def sign_out_everywhere(request: Request, visitor: Asking) -> Response:
        return end_sessions(request, visitor, "../", everywhere=True)

    def end_sessions(request: Request, visitor: Visitor, up: str, *, everywhere: bool) -> Response:
        person = _signed_in(visitor)
        kind = DeedKind.SIGNED_OUT_EVERYWHERE if everywhere else DeedKind.SIGNED_OUT
        deed = PageDeed(at=desk.clock.now(), who=person.id, kind=kind, address=caller_of(request))
        try:
            with desk.store.transaction() as tx:
                if everywhere:
                    tx.sign_ins.end_sessions_of(person.id)
                else:
                    tx.sign_ins.end_session(digest_of_secret(desk.session_of(request)))
                tx.page_deeds.add(deed)
        except StoreError as error:
            # Whoever leaves a shared screen must not believe that they are out.
            say = account_words_of(person.language)
            problem = f"{say.still_in} {say_not_kept(error, say)}"
            return show(visitor, HTTPStatus.SERVICE_UNAVAILABLE, problem, up)
        answer = RedirectResponse(f"{up}sign-in", status_code=HTTPStatus.SEE_OTHER)
        take_cookie(answer, secure=desk.access.is_secure(request))
        return answer

    return routes


def _signed_in(visitor: Visitor) -> Person:
    if visitor.person is None:
        raise ActError("nobody is signed in")
    return visitor.person


def _wording_for(desk: SignInDesk, person: Person | None) -> Wording:
    """How times are written for whoever is signed in: an owner's in the own language."""
    now = desk.clock.now()
    if person is not None and not person.roles & STAFF:
        return owner_words_for(desk.yard, now, person)
    return words_for(desk.yard, now, person)


def _own_craft(desk: SignInDesk, visitor: Visitor) -> list[tuple[str, str]]:
    """Id and name of an owner's craft."""
    if visitor.craft is None:
        return []
    return [(one.id, one.name) for one in desk.access.craft_seen_by(visitor)]
