"""The routes of the yard's own pages: what it is made of, changed by its people, and taken back."""

from collections.abc import Callable, Mapping
from datetime import timedelta
from typing import Annotated, Any

from fastapi import APIRouter, Depends, HTTPException, Response

from monitor.alarms.letters.rehearsal import rehearse
from monitor.errors import ActError, as_sentence
from monitor.phrases.names import plain
from monitor.web.access.visitor import Visitor, form_of, require_form_token, visitor_of
from monitor.web.pages.yard_craft_list import craft_choices
from monitor.web.pages.yard_craft_routes import add_craft_routes, redirect_to_page
from monitor.web.pages.yard_desk import YardDesk, person_who_changes
from monitor.web.pages.yard_forms import edits_of
from monitor.web.pages.yard_told import changes_told, limit_lines, people_rows, sensor_rows
from monitor.yard.message import is_text_channel
from monitor.yard.people import id_from, names_by_id
from monitor.yard.readers import words_for
from monitor.yard.space import STAFF, SpaceKind
from monitor.yard.yard_change import YardPart

_Asks = Annotated[Visitor, Depends(visitor_of)]
_Form = Annotated[Mapping[str, str], Depends(form_of)]
_TOKEN = [Depends(require_form_token)]
# Where each part is changed.
PAGE_OF = {
    YardPart.YARD: "place",
    YardPart.SPACES: "spaces",
    YardPart.SENSORS: "sensors",
    YardPart.PEOPLE: "people",
    YardPart.HELPERS: "people",
    YardPart.SHELF: "shelf",
    YardPart.DUTY: "people",
}


def _answer_with(show_page: Callable[..., Response]) -> Callable[[Visitor], Response]:
    def show_to(visitor: _Asks) -> Response:
        return show_page(visitor)

    return show_to


def yard_routes(desk: YardDesk) -> APIRouter:
    """Make the routes."""
    routes = APIRouter(prefix="/yard", include_in_schema=False)
    show: dict[str, Callable[..., Response]] = {
        "place": lambda visitor, **said: _show_place(desk, visitor, **said),
        "spaces": lambda visitor, **said: _show_spaces(desk, visitor, **said),
        "sensors": lambda visitor, **said: _show_sensors(desk, visitor, **said),
        "people": lambda visitor, **said: _show_people(desk, visitor, **said),
        "shelf": lambda visitor, **said: _show_shelf(desk, visitor, **said),
        "limits": lambda visitor, **said: _show_limits(desk, visitor, **said),
        "changes": lambda visitor, **said: _show_changes(desk, visitor, **said),
    }

    @routes.get("")
    def show_yard(visitor: _Asks) -> Response:
        return _show_yard(desk, visitor)

    for page, show_page in show.items():
        routes.add_api_route(f"/{page}", _answer_with(show_page), methods=["GET"])

    @routes.post("/items", dependencies=_TOKEN)
    def change_item(visitor: _Asks, form: _Form) -> Response:
        by = person_who_changes(visitor)
        try:
            part = YardPart(form.get("part", ""))
        except ValueError as error:
            raise HTTPException(422, "there is no such part of the yard") from error
        words = words_for(desk.yard, desk.clock.now(), visitor.person)
        try:
            edits = edits_of(part, form, desk.book.read_items(), words, id_from)
            made = desk.book.make_changes(edits, by)
        except ActError as error:
            return show[PAGE_OF[part]](visitor, refused=as_sentence(str(error)), form=form)
        return redirect_to_page(PAGE_OF[part], made[-1].number if made else 0)

    @routes.post("/undo", dependencies=_TOKEN)
    def undo_change(visitor: _Asks, form: _Form) -> Response:
        by, number = person_who_changes(visitor), form.get("number", "")
        try:
            if not (number.isascii() and number.isdigit() and len(number) < 10):
                raise ActError("there is no such change")
            back = desk.book.undo_change(int(number), by)
        except ActError as error:
            return _show_changes(desk, visitor, refused=as_sentence(str(error)))
        return redirect_to_page(PAGE_OF[back.part], 0)

    @routes.post("/rehearsal", dependencies=_TOKEN)
    def send_rehearsal(visitor: _Asks) -> Response:
        try:
            sent = rehearse(desk.store, desk.yard, desk.clock, person_who_changes(visitor))
        except ActError as error:
            return _show_yard(desk, visitor, refused=as_sentence(str(error)))
        return _show_yard(desk, visitor, rehearsed=[one.channel for one in sent])

    add_craft_routes(routes, desk)
    return routes


def _show_yard(
    desk: YardDesk,
    visitor: Visitor,
    refused: str = "",
    rehearsed: Any = None,  # noqa: ANN401
) -> Response:
    steps = desk.set_up_steps(len(desk.book.heard_unknown()))
    posted = rehearsed is not None or bool(refused)
    return desk.page_of(
        "yard.html", visitor, up="../" if posted else "", refused=refused, steps=steps,
        is_new=not (desk.yard.sensors and desk.read_craft()),
        open=[one for one in steps if not one.is_done], rehearsed=rehearsed,
        latest=changes_told(desk.book.read_changes()[-3:], desk.yard, visitor, desk.clock.now()),
    )  # fmt: skip


def _show_place(desk: YardDesk, visitor: Visitor, refused: str = "", **_: Any) -> Response:  # noqa: ANN401
    return desk.page_of("yard_place.html", visitor, refused=refused)


def _show_spaces(desk: YardDesk, visitor: Visitor, refused: str = "", **_: Any) -> Response:  # noqa: ANN401
    used = {one.space for one in desk.read_craft()} | {one.space for one in desk.yard.sensors}
    return desk.page_of(
        "yard_spaces.html", visitor, refused=refused, kinds=list(SpaceKind), used=used
    )


def _show_sensors(desk: YardDesk, visitor: Visitor, refused: str = "", **_: Any) -> Response:  # noqa: ANN401
    words = words_for(desk.yard, desk.clock.now(), visitor.person)
    return desk.page_of(
        "yard_sensors.html", visitor, refused=refused,
        heard=desk.book.heard_unknown(),
        an_hour=timedelta(hours=1),
        sensors=sensor_rows(desk.store, desk.yard, words),
        craft_choices=craft_choices(desk.yard, desk.read_craft()),
    )  # fmt: skip


def _show_people(desk: YardDesk, visitor: Visitor, refused: str = "", **_: Any) -> Response:  # noqa: ANN401
    staff = [one for one in desk.yard.people if one.roles & STAFF]
    return desk.page_of(
        "yard_people.html", visitor, refused=refused, people=people_rows(desk.yard), staff=staff,
        staff_options=[(one.id, plain(one.name)) for one in staff], names=names_by_id(desk.yard),
        texts=sorted({one for each in desk.yard.people for one in each.channels
                      if is_text_channel(one)}),
        owners_of={one.owner: one.name for one in desk.read_craft() if one.owner},
    )  # fmt: skip


def _show_shelf(desk: YardDesk, visitor: Visitor, refused: str = "", **_: Any) -> Response:  # noqa: ANN401
    return desk.page_of("yard_shelf.html", visitor, refused=refused)


def _show_limits(desk: YardDesk, visitor: Visitor, refused: str = "", **_: Any) -> Response:  # noqa: ANN401
    words = words_for(desk.yard, desk.clock.now(), visitor.person)
    lines = limit_lines(desk.book.read_definitions().values(), words)
    return desk.page_of("yard_limits.html", visitor, refused=refused, lines=lines)


def _show_changes(desk: YardDesk, visitor: Visitor, refused: str = "", **_: Any) -> Response:  # noqa: ANN401
    told = changes_told(desk.book.read_changes(), desk.yard, visitor, desk.clock.now())
    return desk.page_of("yard_changes.html", visitor, refused=refused, changes=told)
