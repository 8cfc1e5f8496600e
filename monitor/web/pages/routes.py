"""The routes of the pages behind the evening's: a craft, a space, a past night."""

from collections.abc import Callable, Mapping, Sequence
from datetime import date, timedelta
from http import HTTPStatus
from typing import Annotated

from fastapi import APIRouter, Depends, Query, Response
from fastapi import Path as PathParameter
from fastapi.responses import HTMLResponse, RedirectResponse
from jinja2 import Environment
from starlette.exceptions import HTTPException

from monitor.clock import Clock
from monitor.craft.profile import Profile
from monitor.craft.stored import StoredCraft
from monitor.phrases import past_night
from monitor.phrases.complaints import ID
from monitor.store.store import Store
from monitor.web.access.roles import Right
from monitor.web.access.visitor import Visitor, visitor_of
from monitor.web.pages.craft import read_craft_page
from monitor.web.pages.history import read_history_page
from monitor.web.pages.past_night_reading import NightScope
from monitor.web.pages.space import read_space_page
from monitor.yard.space import Yard

_Id = Annotated[str, PathParameter(pattern=ID)]
_Asked = Annotated[str, Query(pattern=f"^$|{ID}")]
_Asks = Annotated[Visitor, Depends(visitor_of)]


def detail_routes(
    store: Store,
    yard: Yard,
    profiles: Mapping[str, Profile],
    craft_now: Callable[[], Sequence[StoredCraft]],
    clock: Clock,
    templates: Environment,
    old_after: timedelta,
) -> APIRouter:
    """Make the routes.

    Parameters
    ----------
    store : Store
        Read only, one snapshot for each request.
    yard : Yard
    profiles : mapping of str to Profile
        The library: a craft of another type is shown, and nothing of it counts.
    craft_now : callable
        Tells the craft in the yard's care now.
    clock : Clock
    templates : Environment
    old_after : timedelta
        A judgement older than this gets a warning.
    """
    routes = APIRouter(include_in_schema=False)

    @routes.get("/craft/{craft}")
    def show_craft(craft: _Id, visitor: _Asks) -> Response:
        if visitor.may(Right.TELL_YARD) and not visitor.may(Right.READ_YARD):
            # An owner who scans the label gets the own page, in the language they are written to.
            return RedirectResponse(f"../own-craft#craft-{craft}", HTTPStatus.SEE_OTHER)
        page = read_craft_page(store, yard, profiles, craft, clock.now(), visitor.person, old_after)
        if page is None:
            raise HTTPException(404, "there is no such craft")
        html = templates.get_template("craft.html").render(
            page=page,
            up="../",
            visitor=visitor,
            sees_yard=visitor.may(Right.READ_YARD),
            enters_work=visitor.may(Right.ENTER_WORK),
        )
        return HTMLResponse(html)

    @routes.get("/spaces/{space}")
    def show_space(space: _Id, visitor: _Asks) -> HTMLResponse:
        page = read_space_page(
            store, yard, craft_now(), space, clock.now(), visitor.person, old_after
        )
        if page is None:
            raise HTTPException(404, "there is no such space")
        html = templates.get_template("space.html").render(page=page, up="../", visitor=visitor)
        return HTMLResponse(html)

    @routes.get("/history/{evening}")
    def show_history(
        evening: date, visitor: _Asks, craft: _Asked = "", space: _Asked = ""
    ) -> HTMLResponse:
        scope = NightScope(craft=craft, space=space)
        page = read_history_page(store, yard, profiles, evening, clock.now(), visitor.person, scope)
        if page is None:
            raise HTTPException(404, "there is nothing to show of that night")
        html = templates.get_template("history.html").render(
            page=page, up="../", visitor=visitor, past_night=past_night
        )
        return HTMLResponse(html)

    return routes
