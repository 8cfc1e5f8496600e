"""The yard itself as JSON: what it is made of, and what people change of it and take back."""

from typing import Annotated, Any

from fastapi import APIRouter, Depends, HTTPException, Response
from fastapi import Path as PathParameter
from pydantic import AfterValidator, AwareDatetime, BaseModel, ConfigDict, Field, TypeAdapter

from monitor.craft.fields import in_our_time
from monitor.errors import ActError
from monitor.phrases.complaints import ID
from monitor.web.access.visitor import Visitor, visitor_of
from monitor.web.api.desk import ApiDesk, person_acting, utc_text
from monitor.web.api.repeats import IdempotencyKey, do_once
from monitor.web.pages.yard_desk import ChangeableYard
from monitor.yard.yard_change import ItemEdit, YardChange, YardPart

_MOST_EDITS = 500
_Number = Annotated[int, PathParameter(ge=1, le=2**31)]


class YardItem(BaseModel):
    """One item of the yard, as a block of its file would say it."""

    part: YardPart
    key: str
    said: dict[str, Any]


class YardMadeOf(BaseModel):
    """All that the page and this API may change of the yard."""

    items: list[YardItem]
    last_change: int = Field(description="number of the newest change; 0: there is none")


class ChangeInFull(BaseModel):
    """One change of one item."""

    number: int
    at: str
    since: str = Field(description="from when it holds")
    by: str
    part: YardPart
    key: str
    before: dict[str, Any] | None
    after: dict[str, Any] | None = Field(description="null: taken out")
    undoes: int | None


class EditBody(BaseModel):
    """What one item is to be."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    part: YardPart
    key: Annotated[str, Field(min_length=1, max_length=200)]
    after: dict[str, Any] | None = Field(
        description="as the yard's file says it; null takes it out"
    )
    since: Annotated[AwareDatetime, AfterValidator(in_our_time)] | None = Field(
        default=None, description="of a sensor: from when it hangs there; now"
    )


class ChangesBody(BaseModel):
    """Changes of one person, all of them or none."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    by: Annotated[str, Field(pattern=ID)] | None = Field(
        default=None,
        description="id of the person of the yard who does it; a program with a key must say it",
    )
    edits: Annotated[list[EditBody], Field(min_length=1, max_length=_MOST_EDITS)]


class UndoBody(BaseModel):
    """Who takes a change back."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    by: Annotated[str, Field(pattern=ID)] | None = None


_CHANGES = TypeAdapter(list[ChangeInFull])


def yard_change_routes(desk: ApiDesk, book: ChangeableYard) -> APIRouter:
    """Make the routes."""
    routes = APIRouter(prefix="/api/yard", tags=["yard"])

    @routes.get("", response_model=YardMadeOf)
    def tell_yard() -> Response:
        """Tell every item of the yard that people may change."""
        changes = book.read_changes()
        told = YardMadeOf(
            items=[
                YardItem(part=part, key=key, said=dict(said))
                for (part, key), said in book.read_items().items()
            ],
            last_change=changes[-1].number if changes else 0,
        )
        return Response(told.model_dump_json(), media_type="application/json")

    @routes.get("/changes", response_model=list[ChangeInFull])
    def tell_changes() -> Response:
        """Tell every change so far, in the order of writing."""
        return _json([_in_full(one) for one in book.read_changes()])

    @routes.post(
        "/changes",
        response_model=list[ChangeInFull],
        responses={409: {"description": "the yard cannot be so; nothing was changed"}},
    )
    def change_yard(
        body: ChangesBody,
        visitor: Annotated[Visitor, Depends(visitor_of)],
        key: IdempotencyKey = None,
    ) -> Response:
        """Change items, all of them or none; what changes nothing is left out."""
        by = person_acting(desk, body.by, visitor)
        edits = [
            ItemEdit(part=one.part, key=one.key, after=one.after, since=one.since)
            for one in body.edits
        ]
        with desk.store.transaction() as tx:

            def act() -> Response:
                try:
                    made = book.change_within(tx, edits, by)
                except ActError as error:
                    raise HTTPException(409, str(error)) from error
                return _json([_in_full(one) for one in made])

            request = f"POST yard {by} {body.model_dump_json()}"
            answer = do_once(tx, visitor, key, request, desk.clock.now(), act)
        book.tell_changed()
        return answer

    @routes.post(
        "/changes/{number}/undo",
        response_model=list[ChangeInFull],
        responses={409: {"description": "its item was changed again since"}},
    )
    def undo_change(
        number: _Number,
        body: UndoBody,
        visitor: Annotated[Visitor, Depends(visitor_of)],
        key: IdempotencyKey = None,
    ) -> Response:
        """Take one change back; what stood before it stands again."""
        by = person_acting(desk, body.by, visitor)
        with desk.store.transaction() as tx:

            def act() -> Response:
                try:
                    made = book.undo_within(tx, number, by)
                except ActError as error:
                    raise HTTPException(409, str(error)) from error
                return _json([_in_full(made)])

            request = f"POST yard undo {number} {by}"
            answer = do_once(tx, visitor, key, request, desk.clock.now(), act)
        book.tell_changed()
        return answer

    return routes


def _json(told: list[ChangeInFull]) -> Response:
    return Response(_CHANGES.dump_json(told), media_type="application/json")


def _in_full(one: YardChange) -> ChangeInFull:
    return ChangeInFull(
        number=one.number,
        at=utc_text(one.at),
        since=utc_text(one.since),
        by=one.by,
        part=one.part,
        key=one.key,
        before=None if one.before is None else dict(one.before),
        after=None if one.after is None else dict(one.after),
        undoes=one.undoes,
    )
