"""The page behind a link to set a password: looking uses nothing up, one form sets it, once."""

from http import HTTPStatus

from fastapi import APIRouter, Request, Response

from monitor.errors import ActError, StoreError
from monitor.phrases.account_words import account_words_of
from monitor.web.access.invitations import find_invitation, has_run_out, set_password_by_link
from monitor.web.access.passwords import PasswordsBusyError, UnfitPasswordError
from monitor.web.access.sign_in_desk import (
    Fields,
    SignInDesk,
    caller_of,
    say_not_kept,
    say_unfit,
)
from monitor.yard.space import Person


def password_link_routes(desk: SignInDesk) -> APIRouter:
    """Make the routes."""
    routes = APIRouter(include_in_schema=False)

    def person_of(secret: str) -> Person | None:
        """Whose link it is; None where it opens nothing, or nothing any more."""
        now = desk.clock.now()
        with desk.store.snapshot() as tx:
            found = find_invitation(tx, secret, now)
            over = found is None and has_run_out(tx, secret, now)
        if over:
            desk.access.end_expired()
        return desk.person_named(found.person) if found else None

    def show_form(secret: str, status: HTTPStatus, problem: str = "") -> Response:
        person = person_of(secret)
        if person is None:
            status = HTTPStatus.NOT_FOUND
        language = person.language if person else "en"
        return desk.show_page(
            "set_password.html", "../", status,
            name=person.name if person else "", id=person.id if person else "", problem=problem,
            say=account_words_of(language), lang=language,
        )  # fmt: skip

    # A mail program that looks at the link uses nothing up.
    @routes.head("/password/{secret}")
    @routes.get("/password/{secret}")
    def show_password_form(secret: str) -> Response:
        return show_form(secret, HTTPStatus.OK)

    @routes.post("/password/{secret}")
    def set_password(request: Request, secret: str, fields: Fields) -> Response:
        person = person_of(secret)
        if person is None:
            return show_form(secret, HTTPStatus.NOT_FOUND)
        say = account_words_of(person.language)
        try:
            hashed = desk.hash_new_password(fields.get("password", ""), person)
            with desk.store.transaction() as tx:
                _, session = set_password_by_link(
                    tx, secret, hashed, desk.clock.now(), caller_of(request)
                )
        except UnfitPasswordError as error:
            return show_form(secret, HTTPStatus.UNPROCESSABLE_ENTITY, say_unfit(error, say))
        except PasswordsBusyError:
            return show_form(secret, HTTPStatus.SERVICE_UNAVAILABLE, say.busy)
        except StoreError as error:
            return show_form(secret, HTTPStatus.SERVICE_UNAVAILABLE, say_not_kept(error, say))
        except ActError:
            return show_form(secret, HTTPStatus.NOT_FOUND)
        return desk.let_in(request, session, "../")

    return routes
