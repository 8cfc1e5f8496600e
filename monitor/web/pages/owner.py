"""The page behind a link: the craft that it is for and no other, and whether they hold tonight."""

from typing import Annotated

from fastapi import APIRouter, Depends, Response
from fastapi.responses import HTMLResponse
from jinja2 import Environment

from monitor.clock import Clock
from monitor.phrases.standings import is_well
from monitor.reports.picture import CraftPicture, read_picture
from monitor.store.store import Store
from monitor.web.access.people_access import PeopleAccess
from monitor.web.access.visitor import Visitor, visitor_of
from monitor.yard.readers import words_for
from monitor.yard.space import Yard

_PRIVATE = {"X-Robots-Tag": "noindex, nofollow"}


def owner_routes(
    store: Store, yard: Yard, clock: Clock, access: PeopleAccess, templates: Environment
) -> APIRouter:
    """Make the route of the link."""
    routes = APIRouter(include_in_schema=False)

    @routes.get("/owner/{token}")
    def show_own_craft(visitor: Annotated[Visitor, Depends(visitor_of)]) -> Response:
        now = clock.now()
        # Cut down before any word is made: nothing of another owner's craft is even read.
        own = access.craft_seen_by(visitor)
        with store.snapshot() as tx:
            picture = read_picture(tx, yard, own, now)
        html = templates.get_template("owner.html").render(
            yard=yard,
            up="../",
            visitor=visitor,
            craft=[(one.craft.name, _holds_tonight(one)) for one in picture.craft],
            judged_at=picture.judged_at,
            wording=words_for(yard, now, visitor.person),
        )
        return HTMLResponse(html, headers=_PRIVATE)

    return routes


def _holds_tonight(one: CraftPicture) -> bool | None:
    """Whether every part that was judged is well; None where none was judged."""
    judged = [*one.circuits, *([one.battery] if one.battery else [])]
    return all(is_well(part) for part in judged) if judged else None
