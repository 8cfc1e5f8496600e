"""The route of the backlog: what is left of autumn, done by when, and what it takes."""

from collections.abc import Callable, Sequence
from typing import Annotated

from fastapi import APIRouter, Depends
from fastapi.responses import HTMLResponse
from jinja2 import Environment

from monitor.clock import Clock
from monitor.craft.stored import StoredCraft
from monitor.reports.backlog import read_backlog
from monitor.reports.backlog_lines import backlog_lines
from monitor.store.store import Store
from monitor.web.access.visitor import Visitor, visitor_of
from monitor.yard.readers import words_for
from monitor.yard.space import Yard

_Asks = Annotated[Visitor, Depends(visitor_of)]


def backlog_routes(
    store: Store,
    yard: Yard,
    clock: Clock,
    read_craft: Callable[[], Sequence[StoredCraft]],
    templates: Environment,
) -> APIRouter:
    """Make the route."""
    routes = APIRouter(include_in_schema=False)

    @routes.get("/backlog")
    def show_backlog(visitor: _Asks) -> HTMLResponse:
        now = clock.now()
        craft = read_craft()
        with store.snapshot() as tx:
            backlog = read_backlog(tx, yard, craft, now)
        said = backlog_lines(backlog, yard, words_for(yard, now, visitor.person))
        html = templates.get_template("backlog.html").render(up="", said=said, yard=yard)
        return HTMLResponse(html)

    return routes
