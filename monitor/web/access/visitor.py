"""Who asks for a page, and what routes need of them: the visitor, and the token of their forms."""

import hmac
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from urllib.parse import parse_qsl

from fastapi import HTTPException, Request
from starlette.datastructures import FormData
from starlette.exceptions import HTTPException as StarletteHTTPException
from starlette.requests import ClientDisconnect

from monitor.web.access.roles import RIGHTS, SIGNED_IN_ONLY, AccessRole, Right
from monitor.yard.space import Person, Role, Yard

FORM_TOKEN = "form_token"  # noqa: S105 - a field's name
FORM_TOKEN_HEADER = "X-Form-Token"  # noqa: S105 - a header's name
_MOST_FIELDS = 200
_MOST_FILES = 4
_LINK_LOST = "the link was lost before the whole form came; send it again"  # an everyday thing


class VisitorKind(StrEnum):
    """How we know who asks."""

    PERSON = "person"  # somebody of the yard's file, signed in
    OWNER = "owner"  # by the link that an owner has
    THIRD_PARTY = "third-party"  # by a link to one craft, for a time
    KEY = "key"  # a program with a key
    OPEN = "open"  # anybody: nobody is asked who they are, on this machine alone
    STRANGER = "stranger"


@dataclass(frozen=True, slots=True, kw_only=True)
class Visitor:
    """Who asks, as what, and for which craft."""

    kind: VisitorKind
    role: AccessRole
    person: Person | None = None  # in whose name this visitor acts
    craft: frozenset[str] | None = frozenset()  # None: all of the yard
    name: str = ""  # of a key or of a third party
    form_token: str = field(default="", repr=False)  # stands in each form that this visitor gets

    def may(self, right: Right) -> bool:
        """Whether this visitor has a right."""
        if right in SIGNED_IN_ONLY and self.kind is not VisitorKind.PERSON:
            return False
        return right in RIGHTS[self.role]

    def may_see_craft(self, craft: str) -> bool:
        """Whether this visitor may see anything of a craft."""
        return self.may(Right.READ_CRAFT) and (self.craft is None or craft in self.craft)


STRANGER = Visitor(kind=VisitorKind.STRANGER, role=AccessRole.STRANGER)


def open_visitor(yard: Yard, form_token: str, *, may_act: bool) -> Visitor:
    """Anybody, where nobody is asked who they are; what they do counts as the first operator's."""
    first = next((one for one in yard.people if Role.OPERATOR in one.roles), None)
    acts = may_act and first is not None
    return Visitor(
        kind=VisitorKind.OPEN,
        role=AccessRole.OPERATOR if acts else AccessRole.READER,
        person=first if acts else None,
        craft=None,
        form_token=form_token,
    )


def visitor_of(request: Request) -> Visitor:
    """Who asks, as the guard before all routes has found out: a dependency of routes."""
    visitor: Visitor = request.scope["visitor"]
    return visitor


async def form_of(request: Request) -> Mapping[str, str]:
    """The fields of a form as it was sent; of a field that comes twice, the last: a dependency."""
    kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if kind == "multipart/form-data":
        sent = await multipart_form_of(request)
        return {name: text for name, text in sent.multi_items() if isinstance(text, str)}
    if kind != "application/x-www-form-urlencoded":
        return {}
    try:
        body = (await request.body()).decode("utf-8")
        return dict(parse_qsl(body, keep_blank_values=True, max_num_fields=_MOST_FIELDS))
    except ClientDisconnect as error:
        raise HTTPException(400, _LINK_LOST) from error
    except ValueError as error:
        raise HTTPException(400, "this form cannot be read; open the page again") from error


async def multipart_form_of(request: Request) -> FormData:
    """A form that may bring files along (RFC 7578), read once a request."""
    try:
        return await request.form(max_files=_MOST_FILES, max_fields=_MOST_FIELDS)
    except ClientDisconnect as error:
        raise HTTPException(400, _LINK_LOST) from error
    except StarletteHTTPException as error:
        if "Too many files" not in error.detail:
            raise
        problem = f"a form may bring {_MOST_FILES} photos; go back and send the others later"
        raise HTTPException(413, problem) from error
    except ValueError as error:
        raise HTTPException(400, "this form cannot be read; open the page again") from error


async def require_form_token(request: Request) -> None:
    """Refuse a form that did not come from a page made for this visitor: a dependency.

    A key is shown in a header, which no browser sends by itself, so it needs none.
    """
    visitor = visitor_of(request)
    if visitor.kind is VisitorKind.KEY:
        return
    shown = request.headers.get(FORM_TOKEN_HEADER) or (await form_of(request)).get(FORM_TOKEN, "")
    if not visitor.form_token or not hmac.compare_digest(
        shown.encode("utf-8", "replace"), visitor.form_token.encode()
    ):
        raise HTTPException(403, "this form is out of date; open the page again and send it anew")
