"""The routes of the evening page: the page itself, and the acts that its buttons send."""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from http import HTTPStatus
from typing import Annotated

from fastapi import APIRouter, Depends, HTTPException, Request, Response
from fastapi import Path as PathParameter
from fastapi.responses import RedirectResponse
from jinja2 import Environment

from monitor.alarms.acts.alarm_acts import GIVE_BACK_WITHIN, AlarmActs
from monitor.clock import Clock
from monitor.craft.stored import StoredCraft
from monitor.errors import ActError
from monitor.store.store import Store
from monitor.web.access.roles import Right
from monitor.web.access.visitor import Visitor, VisitorKind, form_of, require_form_token, visitor_of
from monitor.web.kept_pages import KeptPages, YardChanges
from monitor.web.pages.alarm_rows import shelf_end
from monitor.web.pages.evening import read_evening_page
from monitor.web.pages.space_rows import SHOWN_SPACES
from monitor.yard.people import display_name
from monitor.yard.readers import words_for
from monitor.yard.space import Yard

_Asks = Annotated[Visitor, Depends(visitor_of)]
_Form = Annotated[Mapping[str, str], Depends(form_of)]
AlarmId = Annotated[str, PathParameter(pattern=r"^[A-Za-z0-9-]{1,64}$")]
_ALARM_IDS = re.compile(r"[A-Za-z0-9-]{1,64}(?: [A-Za-z0-9-]{1,64}){0,199}")
_BY_TAP = "by a tap on the page"


@dataclass(frozen=True, slots=True, kw_only=True)
class EveningView:
    """All that the page depends on beside the yard: two with the same view read the same page."""

    person: str
    form_token: str
    may_act: bool
    may_enter: bool
    may_admit: bool
    is_open: bool
    is_signed_in: bool
    renews: bool


def evening_routes(
    store: Store,
    yard: Yard,
    clock: Clock,
    craft: Callable[[], Sequence[StoredCraft]],
    templates: Environment,
    changes: YardChanges,
    *,
    renew_s: float,
    old_after: timedelta,
) -> APIRouter:
    """Make the routes of the page and of its acts.

    Parameters
    ----------
    store : Store
    yard : Yard
    clock : Clock
    craft : callable
        Tells the craft in the yard's care now.
    templates : Environment
    changes : YardChanges
    renew_s : float
        How often an open page asks whether it is still true [s].
    old_after : timedelta
        A judgement older than this, by the clock, gets a warning.
    """
    routes = APIRouter(include_in_schema=False)
    kept = KeptPages(changes, "text/html; charset=utf-8")
    acts = AlarmActs(store, clock)

    def make_page(view: EveningView, visitor: Visitor) -> bytes:
        now = clock.now()
        page = read_evening_page(store, yard, craft(), now, old_after, visitor.person)
        html = templates.get_template("evening.html").render(
            page=page,
            SHOWN_SPACES=SHOWN_SPACES,
            renew_s=renew_s if view.renews else 0,
            may_act=view.may_act,
            may_enter=view.may_enter,
            may_admit=view.may_admit,
            acting=view.person,
            signed_in_as=display_name(yard, view.person) if view.is_signed_in else "",
            acting_name=display_name(yard, view.person) if view.is_open and view.may_act else "",
            form_token=view.form_token,
            give_back_since=now - GIVE_BACK_WITHIN,
        )
        return html.encode()

    @routes.get("/")
    async def show_evening(request: Request, renew: str = "") -> Response:
        visitor = visitor_of(request)  # here, for as a dependency it would be asked in a thread
        view = _view_of(visitor, renews=renew != "off")
        return await kept.answer_request(request, view, lambda: make_page(view, visitor))

    @routes.post("/alarms/{alarm}/acts", dependencies=[Depends(require_form_token)])
    def act_on_alarms(alarm: AlarmId, visitor: _Asks, form: _Form) -> Response:
        person = visitor.person
        if person is None:
            raise HTTPException(403, "only a person of the yard acts on its alarms")
        alarms = _alarms_in(form, alarm)
        try:
            match form.get("act", ""):
                case "acknowledge":
                    acts.acknowledge_each(alarms, person.id, f"taken on {_BY_TAP}")
                case "give-back":
                    acts.give_back(alarms, person.id, f"given back {_BY_TAP}")
                case "shelve":
                    until = shelf_end(words_for(yard, clock.now()))
                    acts.shelve(alarm, person.id, f"shelved {_BY_TAP}", until)
                case "unshelve":
                    acts.unshelve(alarm, person.id, f"taken off the shelf {_BY_TAP}")
                case _:
                    raise HTTPException(400, "act: one of acknowledge, give-back, shelve, unshelve")
        except ActError as error:
            html = templates.get_template("not_done.html").render(up="../../", why=str(error))
            return Response(html, HTTPStatus.CONFLICT, media_type="text/html")
        # Relative: a proxy may have put all of this below a path.
        return RedirectResponse("../../", status_code=HTTPStatus.SEE_OTHER)

    return routes


def _view_of(visitor: Visitor, *, renews: bool) -> EveningView:
    person = visitor.person
    return EveningView(
        person="" if person is None else person.id,
        form_token=visitor.form_token,
        may_act=person is not None and visitor.may(Right.ACT_ON_ALARMS),
        may_enter=person is not None and visitor.may(Right.ENTER_WORK),
        may_admit=visitor.may(Right.ADMIT_OTHERS),
        is_open=visitor.kind is VisitorKind.OPEN,
        is_signed_in=visitor.kind is VisitorKind.PERSON,
        renews=renews,
    )


def _alarms_in(form: Mapping[str, str], alarm: str) -> list[str]:
    """The alarms that a button acts on: those that its row showed, that of the path among them."""
    said = form.get("alarms", alarm)
    if not _ALARM_IDS.fullmatch(said):
        raise HTTPException(
            400, "alarms: ids of alarms with one space between; open the page again"
        )
    return list(dict.fromkeys([alarm, *said.split(" ")]))
