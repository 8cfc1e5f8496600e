"""What the pages of signing in share: people, passwords, the pace of tries, and a patient store."""

import contextlib
import logging
from http import HTTPStatus
from typing import Annotated

from fastapi import Depends, Request, Response
from fastapi.responses import HTMLResponse, RedirectResponse
from jinja2 import Environment

from monitor.clock import Clock
from monitor.errors import StoreBusyError, StoreError, StoreFullError
from monitor.phrases.account_words import AccountWords, account_words_of
from monitor.phrases.owner_languages import LANGUAGES
from monitor.store.page_deeds import DeedKind, PageDeed
from monitor.store.store import Store
from monitor.web.access.callers import SignInPace
from monitor.web.access.invitations import (
    ASKED_GOOD_FOR,
    PASSWORD_PATH,
    invitation_message,
    invite_person,
)
from monitor.web.access.passwords import (
    LEAST_LENGTH,
    MOST_LENGTH,
    PasswordFlaw,
    Passwords,
    UnfitPasswordError,
    fit_password,
)
from monitor.web.access.people_access import PeopleAccess
from monitor.web.access.sessions import cookie_name, give_cookie, is_secret
from monitor.web.access.visitor import Visitor, form_of, visitor_of
from monitor.yard.readers import words_for
from monitor.yard.space import Person, Yard

_log = logging.getLogger(__name__)

Fields = Annotated[dict[str, str], Depends(form_of)]
Asking = Annotated[Visitor, Depends(visitor_of)]
# Who signs in stands before the page and waits: rather told soon than let in late.
_WAITS_FOR_LOCK_S = 3.0
_CONNECTIONS = 4  # as many as may sign in at once
_STORE_AGAIN_AFTER_S = 30


class SignInDesk:
    """What signing in takes, for the routes of its pages."""

    def __init__(
        self,
        store: Store,
        yard: Yard,
        clock: Clock,
        access: PeopleAccess,
        templates: Environment,
        address: str | None,
    ) -> None:
        self.store = store.beside(_CONNECTIONS, busy_s=_WAITS_FOR_LOCK_S)
        self.yard, self.clock, self.access = yard, clock, access
        self.passwords, self.pace = Passwords(), SignInPace()
        # Anybody may ask in anybody's name: that fills no mailbox, and the last letter still holds.
        self.asked_pace = SignInPace(of_person=(3, 600.0))
        self.address = address
        self._templates = templates
        self.passwords.prepare_for_nobody()

    def person_named(self, written: str) -> Person | None:
        """Whoever signs in by this id or mail address."""
        sought = written.strip().casefold()
        if not sought:
            return None
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
        headers = (
            {"Retry-After": str(_STORE_AGAIN_AFTER_S)}
            if status is HTTPStatus.SERVICE_UNAVAILABLE
            else None
        )
        return HTMLResponse(html, status_code=status, headers=headers)

    def session_of(self, request: Request) -> str:
        """The session's id that a browser shows; empty where it shows none."""
        shown = request.cookies.get(cookie_name(secure=self.access.is_secure(request)), "")
        return shown if is_secret(shown) else ""

    def let_in(self, request: Request, session: str, to: str) -> Response:
        """Send a browser on with its new session."""
        answer = RedirectResponse(to, status_code=HTTPStatus.SEE_OTHER)
        give_cookie(answer, session, secure=self.access.is_secure(request))
        return answer

    def hash_new_password(self, written: str, person: Person) -> str:
        """What is kept of a person's new password.

        Raises
        ------
        UnfitPasswordError
            If it will not do: why, and what would.
        PasswordsBusyError
            If too many are worked out at once.
        """
        names = (person.id, person.name, person.mail, self.yard.id, self.yard.name)
        return self.passwords.hash_password(fit_password(written, names))

    def keep_refusal(self, person: Person | None, address: str) -> None:
        """Write down that a password was wrong; a store that takes nothing refuses all the same."""
        who = person.id if person else "nobody"  # what was written may be a password
        deed = PageDeed(at=self.clock.now(), who=who, kind=DeedKind.REFUSED, address=address)
        try:
            # No room that a warning needs is given to whoever guesses.
            with self.store.transaction(can_wait=True) as tx:
                tx.page_deeds.add(deed)
        except StoreError as error:
            _log.warning("A refused sign-in could not be written down: %s", error)

    def send_link_later(self, person: Person, address: str) -> None:
        """Send it after the answer has left; a store that takes nothing gets a line in the log."""
        try:
            self.send_link(person, address)
        except StoreError as error:
            _log.warning("A link to set a password could not be sent: %s", error)

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


def caller_of(request: Request) -> str:
    """The address that a request came from, as the server or a trusted proxy says."""
    return request.client.host if request.client else ""


def words_asked_for(request: Request) -> AccountWords:
    """The words of the language that a stranger's browser asks for (RFC 9110, 12.5.4)."""
    asked = []
    for number, one in enumerate(request.headers.get("accept-language", "")[:200].split(",")):
        language, _, quality = one.strip().partition(";q=")
        with contextlib.suppress(ValueError):
            weight = float(quality or 1.0)
            asked.append((-weight, number, language.partition("-")[0].casefold()))
    known = (one for weight, _, one in sorted(asked) if weight < 0.0 and one in LANGUAGES)
    return account_words_of(next(known, "en"))


def say_too_often(wait_s: float, say: AccountWords) -> str:
    """What somebody reads who tries too often."""
    return say.too_often.format(wait=int(wait_s) + 1)


def say_unfit(error: UnfitPasswordError, say: AccountWords) -> str:
    """Why a new password will not do, and what would."""
    told = {
        PasswordFlaw.SHORT: say.too_short,
        PasswordFlaw.LONG: say.too_long,
        PasswordFlaw.GUESSED: say.guessed,
    }[error.flaw]
    return told.format(length=error.length, least=LEAST_LENGTH, most=MOST_LENGTH)


def say_not_kept(error: StoreError, say: AccountWords) -> str:
    """What somebody reads of whose sign-in or password the store kept nothing, and what to do."""
    if isinstance(error, StoreBusyError):
        return say.store_held
    return say.disk_full if isinstance(error, StoreFullError) else say.store_fails
