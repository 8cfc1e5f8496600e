"""The routes of "Done": a craft's job step by step, and the entry that each form makes."""

from collections.abc import Callable, Mapping, Sequence
from http import HTTPStatus
from typing import Annotated

from fastapi import APIRouter, Depends, HTTPException, Response
from fastapi import Path as PathParameter
from fastapi.responses import HTMLResponse
from jinja2 import Environment

from monitor.clock import Clock
from monitor.craft.stored import StoredCraft
from monitor.errors import ActError, RecordError, problem_and_remedy
from monitor.phrases.complaints import ID
from monitor.phrases.names import plain
from monitor.store.store import Store
from monitor.web.access.visitor import Visitor, form_of, require_form_token, visitor_of
from monitor.web.page_templates import craft_path
from monitor.web.pages.work_done import (
    EnteredStep,
    enter_step,
    read_job,
    steps_to_prove,
    take_entry_back,
    what_was_proven,
)
from monitor.yard.readers import words_for
from monitor.yard.space import Person, Yard

_Id = Annotated[str, PathParameter(pattern=ID)]
_Asks = Annotated[Visitor, Depends(visitor_of)]
_Form = Annotated[Mapping[str, str], Depends(form_of)]


def work_done_routes(
    store: Store,
    yard: Yard,
    clock: Clock,
    read_craft: Callable[[], Sequence[StoredCraft]],
    templates: Environment,
) -> APIRouter:
    """Make the routes."""
    routes = APIRouter(prefix="/craft/{craft}/done", include_in_schema=False)

    def find_craft(craft: str) -> StoredCraft:
        found = next((one for one in read_craft() if one.id == craft), None)
        if found is None:
            raise HTTPException(404, "there is no such craft")
        return found

    def page_of(
        which: StoredCraft,
        visitor: Visitor,
        *,
        entered: EnteredStep | None = None,
        undone: bool = False,
        refused: str = "",
    ) -> HTMLResponse:
        words = words_for(yard, clock.now(), visitor.person)
        html = templates.get_template("work_done.html").render(
            up="../../",
            name=plain(which.name),
            path=craft_path(which.id),
            steps=steps_to_prove(read_job(store, yard, which), which, words),
            words=words,
            entered=entered,
            undone=undone,
            refused=refused,
            form_token=visitor.form_token,
        )
        status = HTTPStatus.UNPROCESSABLE_ENTITY if refused else HTTPStatus.OK
        return HTMLResponse(html, status)

    @routes.get("")
    def show_steps(craft: _Id, visitor: _Asks) -> Response:
        return page_of(find_craft(craft), visitor)

    @routes.post("", dependencies=[Depends(require_form_token)])
    def enter_work(craft: _Id, visitor: _Asks, form: _Form) -> Response:
        which, person = find_craft(craft), _person_of(visitor)
        words = words_for(yard, clock.now(), person)
        undo = form.get("undo", "")
        try:
            if undo:
                with store.transaction() as tx:
                    take_entry_back(tx, yard, which, undo, person.id, words)
                return page_of(find_craft(craft), visitor, undone=True)
            steps = read_job(store, yard, which)
            shown = {one.key: one.number for one in steps_to_prove(steps, which, words)}
            number = shown.get(form.get("step", ""))
            if number is None:
                raise ActError("the job has changed since this page was opened; look at it anew")
            with store.transaction() as tx:
                entry = enter_step(tx, yard, which, steps[number - 1], form, person.id, words)
        except RecordError as error:
            return page_of(which, visitor, refused=" ".join(str(one) for one in error.faults))
        except ActError as error:
            return page_of(which, visitor, refused=str(error))
        except ValueError as error:
            problem, remedy = problem_and_remedy(error)
            return page_of(which, visitor, refused=f"{problem}; {remedy}" if remedy else problem)
        after = find_craft(craft)
        return page_of(after, visitor, entered=what_was_proven(after, entry, person.id, words.now))

    return routes


def _person_of(visitor: Visitor) -> Person:
    if visitor.person is None:
        raise HTTPException(403, "only a person of the yard enters work")
    return visitor.person
