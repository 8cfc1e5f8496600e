"""The routes of the bench: the craft to choose from, one step of a craft, and its entry."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from http import HTTPStatus
from pathlib import Path
from typing import Annotated
from urllib.parse import quote

from fastapi import APIRouter, Depends, HTTPException, Response
from fastapi import Path as PathParameter
from fastapi.responses import FileResponse, RedirectResponse

from monitor.craft.stored import StoredCraft
from monitor.errors import ActError, RecordError
from monitor.phrases.bench import NOTHING_TONIGHT
from monitor.phrases.complaints import ID
from monitor.phrases.names import plain
from monitor.web.access.visitor import Visitor, form_of, require_form_token, visitor_of
from monitor.web.pages.bench import BenchCraft
from monitor.web.pages.bench_desk import BenchDesk, person_who_enters
from monitor.web.pages.bench_entry import SentPhotos, enter_form, take_entry_back
from monitor.web.pages.photo_routes import sent_photos_of
from monitor.web.pages.yard_craft_list import (
    MOST_LISTED,
    CraftAsked,
    StartAsked,
    TextAsked,
    count_by_space,
)
from monitor.yard.space import Yard

_Id = Annotated[str, PathParameter(pattern=ID)]
_Asks = Annotated[Visitor, Depends(visitor_of)]
_Form = Annotated[Mapping[str, str], Depends(form_of)]
_Photos = Annotated[SentPhotos, Depends(sent_photos_of)]
_WORKER = Path(__file__).parent.parent / "static" / "bench-worker.js"
TONIGHT = "tonight"  # the job of that name: what keeps out the coming frost


@dataclass(frozen=True, slots=True, kw_only=True)
class CraftToPick:
    """The craft that can be chosen on a page, by their spaces, and how many it leaves out."""

    asked: CraftAsked
    here: int  # craft in the yard's care
    found: int  # of them what was asked for
    craft: Sequence[tuple[str, Sequence[StoredCraft]]]  # by the names of their spaces
    spaces: Sequence[tuple[str, str, int]]  # id, name, craft there; empty: all craft are listed
    next: CraftAsked | None  # what shows those behind; None: these are the last


def craft_to_pick(craft: Sequence[StoredCraft], yard: Yard, asked: CraftAsked) -> CraftToPick:
    """All craft of a small yard; of a large one those asked for, `MOST_LISTED` at most.

    A large yard of which nothing is asked has its spaces alone. They come in the yard's order,
    in each the craft by name.
    """
    names = {one.id: plain(one.name) for one in yard.spaces}
    order = {key: number for number, key in enumerate(names)}
    here = [one for one in craft if one.space in names]
    found = sorted(
        (one for one in here if asked.takes_in(one.space, one.name)),
        key=lambda one: (order[one.space], plain(one.name).casefold()),
    )
    is_large = len(here) > MOST_LISTED
    is_folded = is_large and asked.is_whole
    shown = [] if is_folded else found[asked.start : asked.start + MOST_LISTED]
    return CraftToPick(
        asked=asked,
        here=len(here),
        found=len(found),
        craft=[
            (name, [one for one in shown if one.space == key])
            for key, name in names.items()
            if any(one.space == key for one in shown)
        ],
        spaces=count_by_space((one.space for one in here), names) if is_large else [],
        next=asked.asked_behind(len(shown), len(found)) if shown else None,
    )


def bench_routes(desk: BenchDesk) -> APIRouter:
    """Make the routes."""
    routes = APIRouter(include_in_schema=False)

    @routes.get("/bench")
    def choose_craft(
        visitor: _Asks, find: TextAsked = "", space: TextAsked = "", start: StartAsked = 0
    ) -> Response:
        asked = CraftAsked(find=find, space=space, start=start)
        return desk.page_of(
            "bench_craft.html",
            up="",
            by=person_who_enters(visitor).id,
            pick=craft_to_pick(desk.read_craft(), desk.yard, asked),
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
