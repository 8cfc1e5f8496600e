"""The routes of a claim's case: for the yard by craft, for an owner by link or signed in."""

from typing import Annotated
from urllib.parse import quote

from fastapi import APIRouter, Depends, HTTPException, Query, Request
from fastapi import Path as PathParameter
from fastapi.responses import HTMLResponse

from monitor.phrases.complaints import ID
from monitor.reports.case_lines import NO_JUDGEMENT
from monitor.web.access.visitor import Visitor, visitor_of
from monitor.web.page_templates import craft_path
from monitor.web.pages.bench_desk import BenchDesk
from monitor.web.pages.claim import read_claim_page
from monitor.yard.readers import words_for

_Id = Annotated[str, PathParameter(pattern=ID)]
_Asked = Annotated[str, Query(max_length=80)]
_Asks = Annotated[Visitor, Depends(visitor_of)]
_PRIVATE = {"X-Robots-Tag": "noindex, nofollow"}


def claim_routes(desk: BenchDesk) -> APIRouter:
    """Make the routes."""
    routes = APIRouter(include_in_schema=False)

    @routes.get("/craft/{craft}/claim")
    @routes.get("/owner/{token}/claim/{craft}")
    def show_case(
        request: Request, craft: _Id, visitor: _Asks, finding: _Asked = "", circuit: _Asked = ""
    ) -> HTMLResponse:
        token = request.path_params.get("token")
        if not visitor.may_see_craft(craft):
            raise HTTPException(404, "there is no such craft")
        words = words_for(desk.yard, desk.clock.now(), visitor.person)
        page = read_claim_page(
            desk.store, desk.yard, desk.profiles, craft, words, finding=finding, circuit=circuit
        )
        if page is None:
            raise HTTPException(404, "there is no such case")
        up = "../../../" if token else "../../"
        html = desk.templates.get_template("claim.html").render(
            up=up,
            page=page,
            back=f"{up}owner/{quote(token, safe='')}" if token else f"{up}{craft_path(craft)}",
            here=quote(craft, safe="") if token else "claim",
            no_judgement=NO_JUDGEMENT,
        )
        return HTMLResponse(html, headers=_PRIVATE)

    return routes
