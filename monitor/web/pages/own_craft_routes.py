"""An owner's routes, by link or signed in: the own craft, and what they tell the yard of them."""

import logging
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from http import HTTPStatus
from math import ceil
from typing import Annotated, NamedTuple
from urllib.parse import quote

from fastapi import APIRouter, Depends, Request, Response
from fastapi.responses import HTMLResponse, RedirectResponse
from jinja2 import Environment
from starlette.exceptions import HTTPException

from monitor.clock import Clock
from monitor.craft.profile import Profile
from monitor.errors import RecordError, StoreError
from monitor.phrases.owner_page_words import page_words_of
from monitor.store.store import Store
from monitor.web.access.callers import Allowance
from monitor.web.access.roles import Right
from monitor.web.access.visitor import Visitor, form_of, require_form_token, visitor_of
from monitor.web.pages.own_craft import night_line, read_owner_page
from monitor.web.pages.owner_telling import (
    NotTaken,
    NotTakenError,
    tell_collection,
    tell_run,
)
from monitor.yard.space import Person, Yard

_log = logging.getLogger(__name__)

_PRIVATE = {"X-Robots-Tag": "noindex, nofollow"}
_Asks = Annotated[Visitor, Depends(visitor_of)]
_Form = Annotated[Mapping[str, str], Depends(form_of)]
OWN_CRAFT = "own-craft"
_STORE_AGAIN_AFTER_S = 30


def _link_of(request: Request) -> str | None:
    """The secret in the path; None where there is none, whatever a query says."""
    token: str | None = request.path_params.get("token")
    return token


_Token = Annotated[str | None, Depends(_link_of)]


class _Refused(NamedTuple):
    """What an owner told and is not taken, and why."""

    form: Mapping[str, str]
    why: str
    status: HTTPStatus = HTTPStatus.UNPROCESSABLE_ENTITY
    again_after_s: int = 0


def _usual_pace() -> Allowance:
    """What one link may tell: an owner of several craft in one go, and no flood of the record."""
    return Allowance(12, 60.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnCraftDesk:
    """What an owner's routes work with."""

    store: Store
    yard: Yard
    profiles: Mapping[str, Profile]
    clock: Clock
    templates: Environment
    pace: Allowance = field(default_factory=_usual_pace)

    def show_page(
        self,
        visitor: Visitor,
        token: str | None,
        night: date | None,
        refused: _Refused | None = None,
    ) -> Response:
        """The page for an owner, or whoever has the link.

        Parameters
        ----------
        visitor : Visitor
        token : str or None
            Of the link; None: the owner has signed in.
        night : date or None
            Evening of the night that is to be opened.
        refused : _Refused, optional
            What was told and is not taken, which then stands above all else.
        """
        if visitor.craft is None:
            raise HTTPException(404, "this page is for the owners of craft")
        now = self.clock.now()
        owner = visitor.person if visitor.may(Right.TELL_YARD) else None
        page = read_owner_page(
            self.store, self.yard, self.profiles, visitor.craft, now, owner, night
        )
        local = now.astimezone(self.yard.zone)
        # What was told and refused is answered one step below the page itself.
        up = "../" * ((token is not None) + bool(refused)) or "./"
        here = f"{'..' if refused else '.'}/{_last_part(token)}"
        html = self.templates.get_template("own_craft.html").render(
            page=page,
            up=up,
            here=here,
            craft_base=f"{up}craft" if token is None else f"{here}/craft",
            signed_in_as=visitor.name if token is None else "",
            told=refused.why if refused else "",
            said=refused.form if refused else {},
            may_tell=owner is not None,
            form_token=visitor.form_token,
            today=local.date().isoformat(),
            now_local=f"{local:%Y-%m-%dT%H:%M}",
            night_line=night_line,
            lang=page.wording.language,
        )
        headers = dict(_PRIVATE)
        if refused and refused.again_after_s:
            headers["Retry-After"] = str(refused.again_after_s)
        status = refused.status if refused else HTTPStatus.OK
        return HTMLResponse(html, status_code=status, headers=headers)

    def take_answer(
        self,
        visitor: Visitor,
        token: str | None,
        form: Mapping[str, str],
        tell: Callable[[Person, str], None],
    ) -> Response:
        """Take what an owner tells of one of the own craft, and show the page again.

        What cannot be taken stays in the form: who has told something does not write it twice.
        """
        owner, craft = visitor.person, form.get("craft", "")
        if owner is None:
            raise HTTPException(403, "only an owner can tell the yard this")
        if visitor.craft is None or craft not in visitor.craft:
            raise HTTPException(404, f"no craft {craft!r} is on record")
        words = page_words_of(owner.language)
        # A link for itself, so that one that went astray holds up no owner who signs in.
        wait_s = self.pace.take_try(owner.id if token is None else visitor.form_token)
        if wait_s:
            why = words.too_often.format(minutes=ceil(wait_s / 60.0))
            status, again_s = HTTPStatus.TOO_MANY_REQUESTS, ceil(wait_s)
            return self.show_page(visitor, token, None, _Refused(form, why, status, again_s))
        try:
            tell(owner, craft)
        except (NotTakenError, RecordError) as error:
            which = error.why if isinstance(error, NotTakenError) else NotTaken.HOUR_OUT_OF_REACH
            why = words.not_taken.format(why=getattr(words, which))
            return self.show_page(visitor, token, None, _Refused(form, why))
        except StoreError as error:
            _log.warning("What an owner told could not be kept: %s", error)
            status = HTTPStatus.SERVICE_UNAVAILABLE
            refused = _Refused(form, words.not_kept, status, _STORE_AGAIN_AFTER_S)
            return self.show_page(visitor, token, None, refused)
        # A reload of what follows asks for the page again, and tells nothing twice.
        return RedirectResponse(f"../{_last_part(token)}", status_code=HTTPStatus.SEE_OTHER)


def own_craft_routes(desk: OwnCraftDesk) -> APIRouter:
    """Make the routes, each once by link and once for an owner who has signed in."""
    routes = APIRouter(include_in_schema=False)
    form_needs_token = [Depends(require_form_token)]

    @routes.get(f"/{OWN_CRAFT}")
    @routes.get("/owner/{token}")
    def show_own_craft(visitor: _Asks, link: _Token, night: date | None = None) -> Response:
        return desk.show_page(visitor, link, night)

    @routes.post(f"/{OWN_CRAFT}/collect", dependencies=form_needs_token)
    @routes.post("/owner/{token}/collect", dependencies=form_needs_token)
    def take_collection(visitor: _Asks, form: _Form, link: _Token) -> Response:
        def tell(owner: Person, craft: str) -> None:
            on = _day_of(form.get("on", ""))
            tell_collection(
                desk.store, desk.yard, desk.profiles, owner, craft, on, desk.clock.now()
            )

        return desk.take_answer(visitor, link, form, tell)

    @routes.post(f"/{OWN_CRAFT}/ran", dependencies=form_needs_token)
    @routes.post("/owner/{token}/ran", dependencies=form_needs_token)
    def take_run(visitor: _Asks, form: _Form, link: _Token) -> Response:
        def tell(owner: Person, craft: str) -> None:
            at = _hour_of(form.get("at", ""), desk.yard)
            tell_run(desk.store, desk.yard, desk.profiles, owner, craft, at, desk.clock.now())

        return desk.take_answer(visitor, link, form, tell)

    return routes


def _last_part(token: str | None) -> str:
    return OWN_CRAFT if token is None else quote(token, safe="")


def _day_of(said: str) -> date:
    try:
        return date.fromisoformat(said)
    except ValueError as error:
        raise NotTakenError(NotTaken.NO_SUCH_DAY) from error


def _hour_of(said: str, yard: Yard) -> datetime:
    try:
        return datetime.fromisoformat(said).replace(tzinfo=yard.zone)
    except ValueError as error:
        raise NotTakenError(NotTaken.NO_SUCH_HOUR) from error
