"""The routes of the bench: the craft to choose from, one step of a craft, and its entry."""

from collections.abc import Mapping
from http import HTTPStatus
from pathlib import Path
from typing import Annotated
from urllib.parse import quote

from fastapi import APIRouter, Depends, HTTPException, Response
from fastapi import Path as PathParameter
from fastapi.responses import FileResponse, RedirectResponse

from monitor.errors import ActError, RecordError
from monitor.phrases.bench import NOTHING_TONIGHT
from monitor.phrases.complaints import ID
from monitor.phrases.names import plain
from monitor.web.access.visitor import Visitor, form_of, require_form_token, visitor_of
from monitor.web.pages.bench import BenchCraft
from monitor.web.pages.bench_desk import BenchDesk, person_who_enters
from monitor.web.pages.bench_entry import SentPhotos, enter_form, take_entry_back
from monitor.web.pages.photo_routes import sent_photos_of

_Id = Annotated[str, PathParameter(pattern=ID)]
_Asks = Annotated[Visitor, Depends(visitor_of)]
_Form = Annotated[Mapping[str, str], Depends(form_of)]
_Photos = Annotated[SentPhotos, Depends(sent_photos_of)]
_WORKER = Path(__file__).parent.parent / "static" / "bench-worker.js"
TONIGHT = "tonight"  # the job of that name: what keeps out the coming frost


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

    @routes.get("/craft/{craft}/done")
    def show_tonights_job(craft: _Id) -> Response:
        # Where "Done" led before: letters and bookmarks still lead there.
        here = f"../{quote(craft, safe='')}/bench?job={TONIGHT}"
        return RedirectResponse(here, HTTPStatus.PERMANENT_REDIRECT)

    @routes.get("/craft/bench-worker.js")
    def send_worker() -> FileResponse:
        return FileResponse(_WORKER, media_type="text/javascript")

    @routes.get("/craft/{craft}/bench")
    def show_bench(
        craft: _Id,
        visitor: _Asks,
        job: str = "",
        step: str = "",
        same: str = "",
        entered: str = "",
        found: str = "",
        undone: str = "",
    ) -> Response:
        person = person_who_enters(visitor)
        with desk.store.snapshot() as tx:
            bench = desk.read_one(tx, craft, person, only_tonight=job == TONIGHT)
        if found:
            return desk.show_finding(bench, visitor, {}, {})
        shown = bench.steps_by_key.get(step) or next(iter(bench.plan.steps), None)
        told = desk.what_was_entered(bench, entered, person.id) if entered else {}
        if not entered:
            tonight = job == TONIGHT
            note = _told_first(bench, step, asked_tonight=tonight, undone=bool(undone))
            told = {"note": note}
        return desk.show_step(bench, visitor, shown, as_before=bool(same), told=told)

    @routes.post("/craft/{craft}/bench", dependencies=[Depends(require_form_token)])
    def enter_work(craft: _Id, visitor: _Asks, form: _Form, sent: _Photos) -> Response:
        person = person_who_enters(visitor)
        tonight = form.get("job") == TONIGHT
        try:
            with desk.store.transaction() as tx:
                bench = desk.read_one(tx, craft, person, only_tonight=tonight)
                if form.get("undo"):
                    take_entry_back(tx, bench, form["undo"], person.id)
                    return _see_bench("undone=yes", tonight=tonight)
                found = enter_form(tx, bench, form, person.id, sent)
        except (ActError, RecordError) as error:
            raise HTTPException(422, str(error)) from error
        if form.get("found") and found.wrong:
            return desk.show_finding(bench, visitor, form, found.wrong, found.photos)
        if found.against:
            return desk.show_step(
                bench, visitor, found.step, sent=form, photos=found.photos, objections=found.against
            )
        return _see_bench(f"entered={quote(form.get('draft', ''))}", tonight=tonight)

    return routes


def _told_first(bench: BenchCraft, step: str, *, asked_tonight: bool, undone: bool) -> str:
    """What is said above the step; empty where it is the one that was asked for."""
    if undone:
        return "Taken back. The record says so."
    if step and step not in bench.steps_by_key:
        return "That step is no longer in the plan: it is done, or the plan changed."
    return NOTHING_TONIGHT if asked_tonight and bench.tonight is None else ""


def _see_bench(told: str, *, tonight: bool) -> Response:
    """To the next step, so that a page that is loaded again sends nothing again."""
    job = f"&job={TONIGHT}" if tonight else ""
    return RedirectResponse(f"bench?{told}{job}", HTTPStatus.SEE_OTHER)
