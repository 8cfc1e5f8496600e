"""The routes of the bench: the craft to choose from, one step of a craft, and its entry."""

from collections.abc import Mapping
from http import HTTPStatus
from typing import Annotated
from urllib.parse import quote

from fastapi import APIRouter, Depends, HTTPException, Response
from fastapi import Path as PathParameter
from fastapi.responses import RedirectResponse

from monitor.errors import ActError, RecordError
from monitor.phrases.complaints import ID
from monitor.phrases.names import plain
from monitor.web.access.visitor import Visitor, form_of, require_form_token, visitor_of
from monitor.web.pages.bench_desk import BenchDesk, person_who_enters
from monitor.web.pages.bench_entry import enter_form
from monitor.web.pages.work_done import take_entry_back
from monitor.yard.readers import words_for
from monitor.yard.space import Person

_Id = Annotated[str, PathParameter(pattern=ID)]
_Asks = Annotated[Visitor, Depends(visitor_of)]
_Form = Annotated[Mapping[str, str], Depends(form_of)]


def bench_routes(desk: BenchDesk) -> APIRouter:
    """Make the routes."""
    routes = APIRouter(include_in_schema=False)

    @routes.get("/bench")
    def choose_craft(visitor: _Asks) -> Response:
        craft = sorted(desk.read_craft(), key=lambda one: (one.space, plain(one.name).casefold()))
        spaces = {space.id: plain(space.name) for space in desk.yard.spaces}
        return desk.page_of(
            "bench_craft.html",
            up="",
            by=person_who_enters(visitor).id,
            spaces=[
                (name, [(plain(one.name), one.id, one.berth) for one in craft if one.space == key])
                for key, name in spaces.items()
                if any(one.space == key for one in craft)
            ],
        )

    @routes.get("/craft/{craft}/bench")
    def show_bench(
        craft: _Id,
        visitor: _Asks,
        step: str = "",
        same: str = "",
        entered: str = "",
        found: str = "",
        undone: str = "",
    ) -> Response:
        person = person_who_enters(visitor)
        with desk.store.snapshot() as tx:
            bench = desk.read_one(tx, craft, person)
        if found:
            return desk.show_finding(bench, visitor, {}, {})
        shown = bench.steps_by_key.get(step) or next(iter(bench.plan.steps), None)
        told = desk.what_was_entered(bench, entered, person.id) if entered else {}
        if undone:
            told = {"note": "Taken back. The record says so."}
        elif step and step not in bench.steps_by_key:
            told = {"note": "That step is no longer in the plan: it is done, or the plan changed."}
        filled, offer = desk.fill_step(bench, shown, as_before=bool(same))
        return desk.show_step(bench, visitor, shown, filled=filled, told={**told, "same": offer})

    @routes.post("/craft/{craft}/bench", dependencies=[Depends(require_form_token)])
    def enter_work(craft: _Id, visitor: _Asks, form: _Form) -> Response:
        person = person_who_enters(visitor)
        if form.get("undo"):
            return _take_back(desk, craft, form["undo"], person)
        with desk.store.transaction() as tx:
            bench = desk.read_one(tx, craft, person)
            found = enter_form(tx, bench, form, person.id)
        draft = form.get("draft", "")
        if form.get("found") and found.wrong:
            return desk.show_finding(bench, visitor, form, found.wrong, draft)
        if found.against:
            return desk.show_step(
                bench, visitor, found.step, filled=form, draft=draft, objections=found.against
            )
        return _see_entered(draft)

    return routes


def _take_back(desk: BenchDesk, craft: str, entry: str, person: Person) -> Response:
    words = words_for(desk.yard, desk.clock.now(), person)
    which = next((one for one in desk.read_craft() if one.id == craft), None)
    if which is None:
        raise HTTPException(404, "there is no such craft in the yard now")
    try:
        with desk.store.transaction() as tx:
            take_entry_back(tx, desk.yard, which, entry, person.id, words)
    except (ActError, RecordError) as error:
        raise HTTPException(422, str(error)) from error
    return RedirectResponse("bench?undone=yes", HTTPStatus.SEE_OTHER)


def _see_entered(draft: str) -> Response:
    """To the next step, so that a page that is loaded again sends nothing again."""
    return RedirectResponse(f"bench?entered={quote(draft)}", HTTPStatus.SEE_OTHER)
