"""The routes of spring: the list with its ticks, and the case of what is found broken then."""

from collections.abc import Mapping
from http import HTTPStatus
from secrets import token_hex
from typing import Annotated
from urllib.parse import quote

from fastapi import APIRouter, Depends, HTTPException, Query, Request, Response
from fastapi import Path as PathParameter
from fastapi.responses import HTMLResponse, RedirectResponse

from monitor.errors import ActError, RecordError
from monitor.phrases.complaints import ID
from monitor.phrases.names import plain
from monitor.phrases.owner_words import owner_words_for
from monitor.phrases.spring_progress import NOTHING_LEFT, done_words, state_words
from monitor.store.store import Transaction
from monitor.web.access.roles import Right
from monitor.web.access.visitor import Visitor, form_of, require_form_token, visitor_of
from monitor.web.page_templates import craft_path
from monitor.web.pages.bench_desk import BenchDesk, person_who_enters
from monitor.web.pages.claim import read_claim_page
from monitor.web.pages.spring import SpringPage, read_spring_page, take_tick_back, tick_step
from monitor.yard.readers import words_for

_Id = Annotated[str, PathParameter(pattern=ID)]
_Asked = Annotated[str, Query(max_length=80)]
_PRIVATE = {"X-Robots-Tag": "noindex, nofollow"}
_Asks = Annotated[Visitor, Depends(visitor_of)]
_Form = Annotated[Mapping[str, str], Depends(form_of)]


def spring_routes(desk: BenchDesk) -> APIRouter:
    """Make the routes; what they work with is the bench's."""
    routes = APIRouter(include_in_schema=False)

    def read_page(tx: Transaction, craft: str, visitor: Visitor) -> SpringPage:
        words = words_for(desk.yard, desk.clock.now(), visitor.person)
        page = read_spring_page(tx, desk.yard, desk.profiles, craft, words)
        if page is None:
            raise HTTPException(404, "there is no such craft in the yard now")
        return page

    def show(
        page: SpringPage,
        visitor: Visitor,
        *,
        open_step: str = "",
        filled: Mapping[str, str] | None = None,
        wrong: Mapping[str, str] | None = None,
        refused: str = "",
    ) -> HTMLResponse:
        html = desk.templates.get_template("spring.html").render(
            up="../../",
            page=page,
            name=plain(page.record.craft.name),
            path=craft_path(page.record.craft.id),
            state=state_words(page.progress),
            done=done_words(page.progress),
            nothing_left=NOTHING_LEFT,
            enters_work=visitor.may(Right.ENTER_WORK) and visitor.person is not None,
            open_step=open_step or page.next_step,
            filled=filled or {},
            wrong=wrong or {},
            refused=refused,
            by=visitor.person.id if visitor.person else "",
            new_draft=lambda: f"s-{token_hex(8)}",
            form_token=visitor.form_token,
        )
        status = HTTPStatus.UNPROCESSABLE_ENTITY if wrong or refused else HTTPStatus.OK
        return HTMLResponse(html, status)

    @routes.get("/craft/{craft}/spring")
    def show_list(craft: _Id, visitor: _Asks, step: str = "") -> Response:
        with desk.store.snapshot() as tx:
            page = read_page(tx, craft, visitor)
        return show(page, visitor, open_step=step)

    @routes.post("/craft/{craft}/spring", dependencies=[Depends(require_form_token)])
    def tick_off(craft: _Id, visitor: _Asks, form: _Form) -> Response:
        by = person_who_enters(visitor).id
        try:
            with desk.store.transaction() as tx:
                page = read_page(tx, craft, visitor)
                if form.get("undo"):
                    take_tick_back(tx, page, form["undo"], by)
                    return RedirectResponse("spring", HTTPStatus.SEE_OTHER)
                key, wrong = tick_step(tx, page, form, by)
        except (ActError, RecordError) as error:
            with desk.store.snapshot() as tx:
                return show(read_page(tx, craft, visitor), visitor, refused=str(error))
        if wrong:
            return show(page, visitor, open_step=key, filled=form, wrong=wrong)
        # To the list anew, so that a page that is loaded again sends nothing again.
        entered = quote(form.get("draft", ""), safe="")
        return RedirectResponse(f"spring?entered={entered}#next", HTTPStatus.SEE_OTHER)

    @routes.get("/craft/{craft}/claim")
    @routes.get("/owner/{token}/claim/{craft}")
    def show_case(
        request: Request, craft: _Id, visitor: _Asks, finding: _Asked = "", circuit: _Asked = ""
    ) -> HTMLResponse:
        token = request.path_params.get("token")
        if not visitor.may_see_craft(craft):
            raise HTTPException(404, "there is no such craft")
        words = words_for(desk.yard, desk.clock.now(), visitor.person)
        if visitor.person is not None and not visitor.may(Right.READ_YARD):
            words = owner_words_for(desk.yard, desk.clock.now(), visitor.person)
        page = read_claim_page(
            desk.store,
            desk.yard,
            desk.profiles,
            craft,
            words,
            finding=finding,
            circuit=circuit,
            with_subjects=visitor.may(Right.READ_YARD),
        )
        if page is None:
            raise HTTPException(404, "there is no such case")
        up = "../../../" if token else "../../"
        html = desk.templates.get_template("claim.html").render(
            up=up,
            page=page,
            back=f"{up}owner/{quote(token, safe='')}" if token else f"{up}{craft_path(craft)}",
            here=quote(craft, safe="") if token else "claim",
            lang=words.language,
        )
        return HTMLResponse(html, headers=_PRIVATE)

    return routes
