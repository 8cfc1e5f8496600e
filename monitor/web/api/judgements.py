"""Judgements as JSON: the whole yard at once, the craft in its care, one craft, one space."""

from typing import Annotated

from fastapi import APIRouter, Depends, HTTPException, Path, Query, Request, Response
from pydantic import AwareDatetime, BaseModel

from monitor.craft.record import stored_craft
from monitor.phrases.complaints import ID
from monitor.phrases.names import Names
from monitor.reports.account import (
    CraftAccount,
    SpaceAccount,
    YardAccount,
    account_of_craft,
    account_of_space,
    craft_account_json,
    space_account_json,
)
from monitor.reports.account_writer import AccountWriter
from monitor.reports.picture import (
    compose_craft_picture,
    compose_space_picture,
    read_judged_picture,
)
from monitor.web.access.visitor import Visitor, visitor_of
from monitor.web.api.desk import ApiDesk, link_next_page
from monitor.web.kept_pages import KeptPages, YardChanges
from monitor.yard.readers import wording_for_store
from monitor.yard.space import shelters


class CraftInCareOut(BaseModel):
    """One craft in the yard's care."""

    craft: str
    name: str
    type: str
    owner: str | None
    space: str
    berth: str
    since: AwareDatetime | None


class CraftPageOut(BaseModel):
    """Craft in order of their ids."""

    craft: list[CraftInCareOut]


def judgement_routes(desk: ApiDesk, changes: YardChanges) -> APIRouter:
    """Make the routes of judgements."""
    routes = APIRouter(prefix="/api", tags=["judgements"])
    kept, writer = KeptPages(changes, "application/json"), AccountWriter()

    def make_account() -> bytes:
        with desk.store.snapshot() as tx:
            picture = read_judged_picture(tx, desk.yard, desk.craft_now(), desk.clock.now())
        return writer.write_account(picture)

    @routes.get("/assess", response_model=YardAccount)
    async def assess(request: Request) -> Response:
        """Tell the latest judgement of every space, circuit, surface, battery and sensor."""
        return await kept.answer_request(request, "", make_account)

    @routes.get("/craft", response_model=CraftPageOut)
    def list_craft(
        request: Request,
        response: Response,
        visitor: Annotated[Visitor, Depends(visitor_of)],
        limit: Annotated[int, Query(ge=1, le=1000)] = 200,
        cursor: Annotated[
            str | None, Query(pattern=ID, description="from the Link to the next page")
        ] = None,
    ) -> CraftPageOut:
        """Tell which craft are in the yard's care; an owner hears of the own ones alone."""
        found = sorted(
            (
                one
                for one in desk.craft_now()
                if visitor.may_see_craft(one.id) and one.id > (cursor or "")
            ),
            key=lambda one: one.id,
        )
        if len(found) > limit:
            link_next_page(response, request, cursor=found[limit - 1].id)
        return CraftPageOut(
            craft=[
                CraftInCareOut(
                    craft=one.id,
                    name=one.name,
                    type=one.profile,
                    owner=one.owner or None,
                    space=one.space,
                    berth=one.berth,
                    since=one.since,
                )
                for one in found[:limit]
            ]
        )

    @routes.get("/craft/{craft}/assess", response_model=CraftAccount)
    def assess_craft(craft: Annotated[str, Path(pattern=ID)]) -> Response:
        """Tell the latest judgement of one craft, its worst circuit first."""
        yard, now = desk.yard, desk.clock.now()
        with desk.store.snapshot() as tx:
            record = tx.layup.record_of(craft, desk.profiles)
            judged = tx.assessments.latest_in([space.id for space in yard.spaces], craft)
        if record is None:
            raise HTTPException(404, f"no craft {craft!r} is on record")
        here = stored_craft(record, shelters(yard), now, wording_for_store(yard, now))
        if here is None:
            raise HTTPException(404, f"craft {craft!r} is not in the yard now")
        picture = compose_craft_picture(here, judged, now)
        told = account_of_craft(picture, Names.of(yard, [here]), desk.si_words())
        return Response(craft_account_json(told), media_type="application/json")

    @routes.get("/spaces/{space}/assess", response_model=SpaceAccount)
    def assess_space(space: Annotated[str, Path(pattern=ID)]) -> Response:
        """Tell the latest judgement of one space's air, now and in the coming night."""
        place = next((one for one in desk.yard.spaces if one.id == space), None)
        if place is None:
            raise HTTPException(404, f"the yard has no space {space!r}; /api/assess lists them")
        with desk.store.snapshot() as tx:
            judged = tx.assessments.latest_in([space], "")
        picture = compose_space_picture(place, judged, desk.clock.now())
        told = account_of_space(picture, Names.of(desk.yard, ()), desk.si_words())
        return Response(space_account_json(told), media_type="application/json")

    return routes
