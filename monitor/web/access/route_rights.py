"""The right that each route needs: one row for each route and method, and none goes without."""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cache
from typing import Any

from starlette.routing import compile_path

from monitor.web.access.roles import Right


@dataclass(frozen=True, slots=True, kw_only=True)
class RouteRight:
    """What one route needs by one or more methods.

    Where the path names a ``{craft}``, the visitor must be one who may see that craft, besides.
    Where it holds a ``{token}``, that of a link alone says who asks, whatever else they show.
    """

    methods: tuple[str, ...]
    path: str
    needs: Right | None  # None: anybody may ask, strangers too

    def matches_path(self, path: str) -> "re.Match[str] | None":
        """The match of a path that was asked for, with its parts by name."""
        return _pattern_of(self.path).match(path)


@cache
def _pattern_of(path: str) -> "re.Pattern[str]":
    return compile_path(path)[0]


def _row(methods: str, path: str, needs: Right | None) -> RouteRight:
    return RouteRight(methods=tuple(methods.split()), path=path, needs=needs)


ANYBODY = None
ROUTE_RIGHTS: tuple[RouteRight, ...] = (
    _row("GET", "/", Right.READ_YARD),
    _row("GET", "/craft/bench-worker.js", ANYBODY),  # before crafts: its folder is its scope
    _row("GET", "/craft/{craft}", Right.READ_CRAFT),
    _row("GET", "/craft/{craft}/season-record.pdf", Right.READ_CRAFT),
    _row("GET", "/craft/{craft}/season-record.json", Right.READ_CRAFT),
    _row("GET", "/spaces/{space}", Right.READ_YARD),
    _row("POST", "/alarms/{alarm}/acts", Right.ACT_ON_ALARMS),
    _row("GET", "/craft/{craft}/done", Right.ENTER_WORK),  # old letters lead there
    _row("GET", "/craft/{craft}/photos/{photo}", Right.READ_CRAFT),  # owners: of work they are told
    _row("GET", "/history/{evening}", Right.READ_YARD),
    _row("GET", "/backlog", Right.READ_YARD),
    _row("GET", "/storage", Right.READ_YARD),
    _row("GET", "/storage.pdf", Right.READ_YARD),
    _row("GET", "/storage.csv", Right.READ_YARD),
    _row("GET", "/storage.json", Right.READ_YARD),
    _row("GET", "/craft/{craft}/claim", Right.READ_CRAFT),
    _row("GET", "/owner/{token}/claim/{craft}", Right.READ_CRAFT),
    _row("GET", "/craft/{craft}/spring", Right.READ_YARD),
    _row("POST", "/craft/{craft}/spring", Right.ENTER_WORK),
    _row("GET", "/bench", Right.ENTER_WORK),
    _row("GET POST", "/craft/{craft}/bench", Right.ENTER_WORK),
    _row("GET", "/yard", Right.READ_YARD),
    _row("GET", "/yard/people", Right.CHANGE_YARD),  # addresses and numbers stand there
    _row("GET", "/yard/changes", Right.CHANGE_YARD),  # likewise
    _row("GET", "/yard/place", Right.READ_YARD),
    _row("GET", "/yard/spaces", Right.READ_YARD),
    _row("GET", "/yard/sensors", Right.READ_YARD),
    _row("GET", "/yard/shelf", Right.READ_YARD),
    _row("GET", "/yard/craft", Right.READ_YARD),
    _row("GET", "/yard/craft/{craft}", Right.READ_YARD),
    _row("GET", "/yard/limits", Right.READ_YARD),
    _row("POST", "/yard/items", Right.CHANGE_YARD),
    _row("POST", "/yard/undo", Right.CHANGE_YARD),
    _row("POST", "/yard/rehearsal", Right.CHANGE_YARD),
    _row("POST", "/yard/craft/list", Right.CHANGE_YARD),
    _row("POST", "/yard/craft/mend", Right.CHANGE_YARD),
    _row("POST", "/yard/craft/move", Right.ENTER_WORK),
    _row("POST", "/yard/craft/turn", Right.ENTER_WORK),
    _row("GET HEAD", "/health", ANYBODY),
    _row("GET HEAD", "/openapi.json", ANYBODY),
    _row("GET HEAD", "/static/{path:path}", ANYBODY),
    _row("GET", "/favicon.ico", ANYBODY),
    _row("GET HEAD POST", "/answer/{secret}", ANYBODY),  # the secret is what lets in
    _row("GET POST", "/sign-in", ANYBODY),
    _row("POST", "/sign-in/letter", ANYBODY),
    _row("GET HEAD POST", "/password/{secret}", ANYBODY),  # likewise
    _row("GET", "/account", Right.KEEP_OWN_ACCOUNT),
    _row("POST", "/account/password", Right.KEEP_OWN_ACCOUNT),
    _row("GET", "/people", Right.ADMIT_OTHERS),
    _row("POST", "/people/invite", Right.ADMIT_OTHERS),
    _row("POST", "/people/keys", Right.ADMIT_OTHERS),
    _row("POST", "/people/links", Right.ADMIT_OTHERS),
    _row("POST", "/people/withdraw", Right.ADMIT_OTHERS),
    _row("POST", "/sign-out", Right.KEEP_OWN_ACCOUNT),
    _row("POST", "/sign-out/everywhere", Right.KEEP_OWN_ACCOUNT),
    _row("GET", "/own-craft", Right.TELL_YARD),  # an owner's own, signed in
    _row("POST", "/own-craft/collect", Right.TELL_YARD),
    _row("POST", "/own-craft/ran", Right.TELL_YARD),
    _row("GET", "/owner/{token}", Right.READ_CRAFT),  # of those that the link is for
    _row("GET", "/owner/{token}/craft/{craft}/photos/{photo}", Right.READ_CRAFT),
    _row("GET", "/owner/{token}/craft/{craft}/season-record.pdf", Right.READ_CRAFT),
    _row("GET", "/owner/{token}/craft/{craft}/season-record.json", Right.READ_CRAFT),
    _row("POST", "/owner/{token}/collect", Right.TELL_YARD),
    _row("POST", "/owner/{token}/ran", Right.TELL_YARD),
    _row("GET", "/api/yard", Right.CHANGE_YARD),  # addresses and numbers stand there
    _row("GET", "/api/yard/changes", Right.CHANGE_YARD),
    _row("POST", "/api/yard/changes", Right.CHANGE_YARD),
    _row("POST", "/api/yard/changes/{number}/undo", Right.CHANGE_YARD),
    _row("GET", "/api/assess", Right.READ_YARD),
    _row("GET", "/api/series", Right.READ_YARD),
    _row("GET", "/api/readings", Right.READ_YARD),
    _row("GET", "/api/rollups", Right.READ_YARD),
    _row("GET", "/api/alarms", Right.READ_YARD),
    _row("GET", "/api/alarms/{alarm}", Right.READ_YARD),
    _row("GET", "/api/alarms/{alarm}/cap", Right.READ_YARD),
    _row("POST", "/api/alarms/{alarm}/acts", Right.ACT_ON_ALARMS),
    _row("GET", "/api/reports/weeks/{week}", Right.READ_YARD),
    _row("GET", "/api/craft", Right.READ_CRAFT),  # of those that the visitor may see
    _row("GET", "/api/craft/{craft}/assess", Right.READ_CRAFT),
    _row("GET", "/api/craft/{craft}/season-record", Right.READ_CRAFT),
    _row("GET", "/api/craft/{craft}/claim", Right.READ_YARD),
    _row("GET", "/api/craft/{craft}/spring", Right.READ_YARD),
    _row("GET", "/api/backlog", Right.READ_YARD),
    _row("GET", "/api/spaces/{space}/assess", Right.READ_YARD),
    _row("GET", "/api/craft/{craft}/alarms", Right.READ_CRAFT),
    _row("GET", "/api/metrics", Right.READ_YARD),
    _row("GET", "/api/craft/{craft}/layup", Right.READ_CRAFT),
    _row("GET", "/api/craft/{craft}/protection", Right.READ_CRAFT),
    _row("GET", "/api/craft/{craft}/plan", Right.READ_CRAFT),
    _row("POST", "/api/craft/{craft}/layup", Right.ENTER_WORK),
)


def routes_of(app_or_router: Any) -> Iterator[tuple[str, str]]:  # noqa: ANN401 - of two libraries
    """Method and path of each route that an app answers, those of routers in it too."""
    for route in app_or_router.routes:
        # Newer FastAPI keeps an included router as one route; older copies its routes.
        inner = getattr(route, "effective_route_contexts", None)
        for one in inner() if inner else (route,):
            methods = getattr(one, "methods", None)
            path = one.path if methods else f"{one.path}/{{path:path}}"  # a mounted folder
            for method in sorted(methods or ("GET", "HEAD")):
                yield method, path


def missing_rights(
    app_or_router: Any,  # noqa: ANN401 - of two libraries
    rows: Iterable[RouteRight] = ROUTE_RIGHTS,
) -> list[str]:
    """Routes of an app that no row names, each as method and path."""
    named = {(method, row.path) for row in rows for method in row.methods}
    return sorted(f"{m} {path}" for m, path in routes_of(app_or_router) if (m, path) not in named)
