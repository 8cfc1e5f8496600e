"""The routes of a yard's craft: listed, taken in, moved, put right, gone and come back."""

from collections.abc import Callable, Mapping
from http import HTTPStatus
from types import MappingProxyType
from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Depends, HTTPException, Response
from fastapi.responses import RedirectResponse

from monitor.errors import ActError, as_sentence
from monitor.web.access.visitor import Visitor, form_of, require_form_token, visitor_of
from monitor.web.pages.craft_mend import NEW_OWNER, mend_craft, read_mend_page
from monitor.web.pages.yard_craft import enter_move, enter_turn
from monitor.web.pages.yard_craft_list import CraftAsked, StartAsked, TextAsked, list_craft
from monitor.web.pages.yard_desk import YardDesk, person_who_changes
from monitor.yard.readers import words_for

_Asks = Annotated[Visitor, Depends(visitor_of)]
_Form = Annotated[Mapping[str, str], Depends(form_of)]
_TOKEN = [Depends(require_form_token)]
_LONGEST_LIST = 40_000  # letters
_ALL = CraftAsked()


def add_craft_routes(routes: APIRouter, desk: YardDesk) -> None:
    """Add them to the yard's own routes."""

    @routes.get("/craft")
    def show_craft(
        visitor: _Asks, find: TextAsked = "", space: TextAsked = "", start: StartAsked = 0
    ) -> Response:
        asked = CraftAsked(find=find, space=space, start=start)
        return _show_craft(desk, visitor, asked=asked)

    @routes.post("/craft/list", dependencies=_TOKEN)
    def take_list(visitor: _Asks, form: _Form) -> Response:
        by, text = person_who_changes(visitor), form.get("list", "")[:_LONGEST_LIST]
        try:
            if form.get("take"):
                desk.book.take_in_craft(text, by)
                return redirect_to_page("craft", 0, up="../")
            listed = desk.book.read_craft_list(text)
            if not listed:
                raise ActError("the list is empty; write one craft a line")
        except ActError as error:
            return _show_craft(desk, visitor, refused=as_sentence(str(error)), text=text,
                               up="../../")  # fmt: skip
        return _show_craft(desk, visitor, text=text, listed=listed, up="../../")

    def put_on_record(
        visitor: Visitor, form: Mapping[str, str], enter: Callable[..., None]
    ) -> Response:
        by = person_who_changes(visitor)
        try:
            with desk.store.transaction() as tx:
                enter(tx, desk, form, by)
        except ActError as error:
            return _show_craft(desk, visitor, refused=as_sentence(str(error)), up="../../",
                               asked=CraftAsked.of_form(form))  # fmt: skip
        return redirect_to_page(f"craft{CraftAsked.of_form(form).query}", 0, up="../")

    @routes.post("/craft/move", dependencies=_TOKEN)
    def move_craft(visitor: _Asks, form: _Form) -> Response:
        return put_on_record(visitor, form, enter_move)

    @routes.get("/craft/{craft}")
    def show_one_craft(visitor: _Asks, craft: str) -> Response:
        return _show_mending(desk, visitor, craft)

    @routes.post("/craft/mend", dependencies=_TOKEN)
    def take_mending(visitor: _Asks, form: _Form) -> Response:
        by, craft = person_who_changes(visitor), form.get("craft", "")
        words = words_for(desk.yard, desk.clock.now(), visitor.person)
        try:
            with desk.store.transaction() as tx:
                yard_too = mend_craft(tx, desk, form, by, words)
        except ActError as error:
            return _show_mending(desk, visitor, craft, as_sentence(str(error)), form)
        if yard_too:
            desk.book.tell_changed()
        return redirect_to_page(quote(craft, safe=""), 0)

    @routes.post("/craft/turn", dependencies=_TOKEN)
    def turn_craft(visitor: _Asks, form: _Form) -> Response:
        return put_on_record(visitor, form, enter_turn)


def redirect_to_page(page: str, number: int, up: str = "") -> Response:
    """Redirect to a page of the yard, so that one that is loaded again sends nothing again."""
    here = f"{up}{page}" + (f"?changed={number}" if number else "")
    return RedirectResponse(here, HTTPStatus.SEE_OTHER)


def _show_craft(
    desk: YardDesk,
    visitor: Visitor,
    refused: str = "",
    text: str = "",
    listed: Any = None,  # noqa: ANN401
    up: str = "../",
    asked: CraftAsked = _ALL,
) -> Response:
    return desk.page_of(
        "yard_craft.html", visitor, up=up, refused=refused, text=text, listed=listed,
        here=list_craft(desk, desk.read_craft(), asked),
        kinds=sorted(one.name for one in desk.profiles.values()),
    )  # fmt: skip


def _show_mending(
    desk: YardDesk,
    visitor: Visitor,
    craft: str,
    refused: str = "",
    form: Mapping[str, str] = MappingProxyType({}),
) -> Response:
    known = read_mend_page(desk, craft, form)
    if known is None:
        raise HTTPException(404, f"no craft {craft[:80]!r} is on record")
    return desk.page_of(
        "yard_craft_mend.html", visitor, up="../../", refused=refused, known=known,
        new_owner=NEW_OWNER,
    )  # fmt: skip
