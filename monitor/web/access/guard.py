"""Stands before all routes: who asks, and who is let through."""

import secrets
from collections.abc import Collection, Mapping, Sequence
from http import HTTPStatus
from typing import Protocol
from urllib.parse import quote, urlsplit

from fastapi import Response
from fastapi.responses import RedirectResponse
from starlette.requests import HTTPConnection
from starlette.types import ASGIApp, Receive, Scope, Send

from monitor.errors import StoreError, WebError
from monitor.web.access.callers import is_loopback
from monitor.web.access.roles import Right
from monitor.web.access.route_rights import ROUTE_RIGHTS, RouteRight
from monitor.web.access.visitor import STRANGER, Visitor, VisitorKind, open_visitor
from monitor.web.http_layers import HttpLayer
from monitor.web.problems import problem_response, store_problem
from monitor.yard.space import Yard

_LOOKS = frozenset({"GET", "HEAD"})
_NO_SUCH_LINK = "this link opens nothing, or nothing any more; ask the yard for a new one"


class Access(Protocol):
    """Knows who asks."""

    async def find_visitor(self, asking: HTTPConnection, link: str | None) -> Visitor:
        """Who asks, by what they show; a stranger where they show nothing that holds.

        ``link`` is the secret in the path of a route that has one: it alone counts then.
        """
        ...

    def take_yard(self, yard: Yard) -> None:
        """Go from now on by the people that the yard has now."""
        ...


class OpenAccess:
    """Asks nobody who they are: on the machine itself alone."""

    def __init__(
        self, yard: Yard, *, may_act: bool = True, hosts: Collection[str] | None = None
    ) -> None:
        """Make it.

        Parameters
        ----------
        yard : Yard
        may_act : bool
            Whoever asks acts as the yard's first operator; else they only look.
        hosts : collection of str, optional
            Names besides those of the machine itself under which the page is asked for. A page of
            another site that has its own name lead to this machine is refused by its name, or it
            would read all that the browser's user may. Without it, any name will do.
        """
        self._hosts = hosts
        # Of this process: a form that another site made does not know it.
        self._form_token, self._may_act = secrets.token_urlsafe(32), may_act
        self.take_yard(yard)

    def take_yard(self, yard: Yard) -> None:
        """Let whoever asks be the first operator that the yard has now."""
        self._visitor = open_visitor(yard, self._form_token, may_act=self._may_act)

    async def find_visitor(
        self,
        asking: HTTPConnection,
        link: str | None,
    ) -> Visitor:
        """Anybody who asks by a name of this page; a link opens nothing, for none was ever made."""
        name = asking.url.hostname or ""
        if self._hosts is not None and not is_loopback(name) and name not in self._hosts:
            raise UnknownHostError(
                f"this page is not {name[:80]!r}: ask for 127.0.0.1, or set [web] address"
            )
        return self._visitor if link is None else STRANGER


class UnknownHostError(WebError):
    """The page was asked for by a name that is not its own."""


class AccessGuard(HttpLayer):
    """Lets a request through to its route, with who asks, or refuses it before its body is read.

    A path without a row in the table is not there, whatever route may stand behind it.
    """

    def __init__(
        self, app: ASGIApp, access: Access, rows: Sequence[RouteRight] = ROUTE_RIGHTS
    ) -> None:
        super().__init__(app)
        self._access, self._rows = access, tuple(rows)

    async def answer_http(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, or refuse it."""
        refusal = await self._refuse_request(scope)
        await (refusal or self.app)(scope, receive, send)

    async def _refuse_request(self, scope: Scope) -> Response | None:
        """The answer to a request that is not let through; None where it is, with its visitor."""
        path, asking = scope["path"], HTTPConnection(scope)
        here = [(row, found) for row in self._rows if (found := row.matches_path(path))]
        asked = next(((r, f) for r, f in here if scope["method"] in r.methods), None)
        if asked is None:
            return _no_such_route(path, [row for row, _ in here])
        row, parts = asked[0], asked[1].groupdict()
        try:
            visitor = await self._access.find_visitor(asking, parts.get("token"))
        except UnknownHostError as error:
            if row.needs is not None:
                # RFC 9110, 15.5.20: this server does not answer for that name.
                return problem_response(path, HTTPStatus.MISDIRECTED_REQUEST, str(error))
            visitor = STRANGER
        except StoreError as error:
            if row.needs is not None:
                return store_problem(path, error)
            visitor = STRANGER
        scope["visitor"] = visitor
        # A secret in the path is known to no other site; a key is sent by no browser by itself.
        borrowed = visitor.kind is not VisitorKind.KEY and "secret" not in parts
        if scope["method"] not in _LOOKS and borrowed and is_foreign(asking):
            return problem_response(path, 403, "this was sent by a page that is not this yard's")
        return None if row.needs is None else _refuse_visitor(scope, visitor, row.needs, parts)


def _no_such_route(path: str, others: Sequence[RouteRight]) -> Response:
    """The answer where no row names the path, or none of those that do the method."""
    if not others:
        return problem_response(path, 404, "Not Found")
    allowed = sorted({method for row in others for method in row.methods})
    return problem_response(path, 405, "Method Not Allowed", {"Allow": ", ".join(allowed)})


def _refuse_visitor(
    scope: Scope, visitor: Visitor, needs: Right, parts: Mapping[str, str]
) -> Response | None:
    """The answer to a visitor without the right that a route needs; None where they have it."""
    path, craft = scope["path"], parts.get("craft")
    if visitor.kind is VisitorKind.STRANGER:
        if "token" in parts:
            return problem_response(path, 404, _NO_SUCH_LINK)
        return ask_to_sign_in(scope)
    if visitor.may(needs):
        if craft is None or visitor.may_see_craft(craft):
            return None
        # As of a craft that is not there: whose craft the yard has is nobody's business.
        return problem_response(path, 404, f"no craft {craft!r} is on record")
    if path == "/" and visitor.kind is VisitorKind.PERSON:  # an owner who signed in
        return RedirectResponse("own-craft", status_code=HTTPStatus.SEE_OTHER)
    return problem_response(path, 403, "you may not do this here; ask an operator of the yard")


def is_foreign(asking: HTTPConnection) -> bool:
    """Whether a browser says that a page of another site sent this.

    `Origin` alone would not do: by our own `Referrer-Policy` it is null on our own forms.
    """
    site = asking.headers.get("Sec-Fetch-Site")
    if site is not None:
        return site not in {"same-origin", "none"}
    origin = asking.headers.get("Origin", "null")
    try:
        # Without the port, which a proxy may leave out of what it passes on.
        return origin != "null" and urlsplit(origin).hostname != asking.url.hostname
    except ValueError:
        return True  # no address at all


def ask_to_sign_in(scope: Scope) -> Response:
    """The answer to a stranger: to a program that it shows a key, to a person where to sign in.

    It is the same whatever stands behind the path, and whether anything does.
    """
    path: str = scope["path"]
    if path.startswith("/api/"):
        return problem_response(
            path,
            401,
            "show a key: Authorization: Bearer laidup-key-...; `laidup access key` makes one",
            {"WWW-Authenticate": "Bearer"},
        )
    up = "../" * (path.count("/") - 1) or "./"
    back = f"?next={quote(path, safe='/')}" if scope["method"] in _LOOKS and path != "/" else ""
    return RedirectResponse(f"{up}sign-in{back}", status_code=HTTPStatus.SEE_OTHER)
