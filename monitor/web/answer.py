"""The page behind the link in a message: looking changes nothing, one button acknowledges, once.

Mail scanners and previews fetch links with GET and HEAD, so only a POST counts. The secret in the
path is the whole credential: there is no cookie or session that another site could borrow, and
whoever can forge the form must hold the secret already.
"""

from datetime import datetime
from http import HTTPStatus
from urllib.parse import quote

from fastapi import APIRouter, Response
from fastapi.responses import HTMLResponse, RedirectResponse
from jinja2 import Environment

from monitor.alarms.acts.answers import Answerable, Answers
from monitor.clock import Clock
from monitor.errors import ActError
from monitor.yard.people import display_name
from monitor.yard.readers import words_for
from monitor.yard.space import Person, Yard

PATH = "/answer"
_SHOWN = 12  # headlines; a cold night over 300 craft has hundreds
_PRIVATE = {"X-Robots-Tag": "noindex, nofollow"}


def answer_routes(answers: Answers, yard: Yard, clock: Clock, templates: Environment) -> APIRouter:
    """Make the two routes of the link."""
    routes = APIRouter(prefix=PATH, include_in_schema=False)

    def answer_page(link: Answerable | None, status: HTTPStatus, failed: str = "") -> HTMLResponse:
        html = templates.get_template("answer.html").render(
            yard=yard,
            up="../",
            link=link,
            name=_reader_name(yard, link),
            failed=failed,
            shown=link.asks[:_SHOWN] if link else (),
            more=max(0, len(link.asks) - _SHOWN) if link else 0,
            taken=link.taken[:_SHOWN] if link else (),
            more_taken=max(0, len(link.taken) - _SHOWN) if link else 0,
            wording=words_for(yard, clock.now(), _reader_of(yard, link)),
            now=clock.now(),
        )
        return HTMLResponse(html, status_code=status, headers=_PRIVATE)

    @routes.head("/{secret}")
    @routes.get("/{secret}")
    def show_answer_page(secret: str) -> Response:
        link = answers.find_answerable(secret)
        return answer_page(link, _status_of(link, clock.now()))

    @routes.post("/{secret}")
    def take_answer(secret: str) -> Response:
        try:
            answers.answer(secret)
        except ActError as error:
            link = answers.find_answerable(secret)
            status = HTTPStatus.NOT_FOUND if link is None else HTTPStatus.CONFLICT
            return answer_page(link, status, failed=str(error))
        # A reload of what follows asks for the page again, and not for another answer.
        # Relative: a proxy may have put all of this below a path.
        return RedirectResponse(f"./{quote(secret)}", status_code=HTTPStatus.SEE_OTHER)

    return routes


def _status_of(link: Answerable | None, now: datetime) -> HTTPStatus:
    if link is None:
        return HTTPStatus.NOT_FOUND
    ran_out = link.used_at is None and now >= link.expires_at
    return HTTPStatus.GONE if ran_out else HTTPStatus.OK


def _reader_of(yard: Yard, link: Answerable | None) -> Person | None:
    """Whose link it is; None where there is none, or its reader has left the yard's list."""
    return next((one for one in yard.people if link and one.id == link.person), None)


def _reader_name(yard: Yard, link: Answerable | None) -> str:
    return display_name(yard, link.person) if link else ""
