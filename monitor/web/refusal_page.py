"""The page that a person sees instead of the one that was asked for: what is wrong, where to go."""

import re
from collections.abc import Mapping
from functools import cache
from http import HTTPStatus

from fastapi.responses import HTMLResponse
from jinja2 import Environment

from monitor.phrases.owner_page_words import PAGE_WORDS_OF
from monitor.web.page_templates import make_page_templates

# What programs ask for; all else is opened by a person with a browser, mistyped or not.
_OF_PROGRAMS = re.compile(
    r"/(api|static)(/.*)?|/(health|openapi\.json|favicon\.ico|storage\.(csv|json))", re.DOTALL
)
_OF_OWNERS = ("/own-craft", "/owner/")
_HEADINGS: Mapping[int, str] = {
    HTTPStatus.FORBIDDEN: "Not for you to do here",
    HTTPStatus.NOT_FOUND: "There is nothing here",
    HTTPStatus.UNPROCESSABLE_ENTITY: "There is nothing here",
    HTTPStatus.TOO_MANY_REQUESTS: "Too many at once",
    HTTPStatus.SERVICE_UNAVAILABLE: "No answer just now",
}
_NO_SUCH_PAGE = "no page has this address: is a letter of it missing, or typed wrong?"
_OTHER = "That did not work"


def is_page(path: str) -> bool:
    """Whether a path is none of those that programs ask for."""
    return _OF_PROGRAMS.fullmatch(path) is None


def refusal_page(
    path: str, status: int, why: str, headers: Mapping[str, str] | None = None
) -> HTMLResponse:
    """A refusal as a page; of an owner's link in each language that owners are written to.

    Parameters
    ----------
    path : str
        That was asked for, from the root.
    status : int
        Of HTTP.
    why : str
        A clause without its stop.
    headers : mapping of str, optional

    Notes
    -----
    A link that opens nothing names nobody, so nobody knows in which language its reader reads.
    """
    dead_link = status == HTTPStatus.NOT_FOUND and path.startswith(_OF_OWNERS)
    if status == HTTPStatus.NOT_FOUND and why == HTTPStatus.NOT_FOUND.phrase:
        why = _NO_SUCH_PAGE
    others = [
        (language, words.dead_link)
        for language, words in PAGE_WORDS_OF.items()
        if dead_link and language != "en"
    ]
    html = (
        _templates()
        .get_template("refusal.html")
        .render(
            heading=_HEADINGS.get(status, _OTHER),
            why=f"{why[:1].upper()}{why[1:]}{'' if why.endswith('?') else '.'}",
            others=others,
            up="../" * (path.count("/") - 1) or "./",
            leads_on=not path.startswith(_OF_OWNERS),
        )
    )
    return HTMLResponse(html, status_code=status, headers=dict(headers or {}))


@cache
def _templates() -> Environment:
    return make_page_templates()
