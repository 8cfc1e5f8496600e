"""The season record to take away, as PDF or JSON: the yard's way, and an owner's by their link."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from importlib.metadata import version
from typing import Annotated

from fastapi import APIRouter, Depends, Query, Response
from fastapi import Path as PathParameter
from starlette.exceptions import HTTPException

from monitor.clock import Clock
from monitor.craft.sealing import YardKey
from monitor.phrases.complaints import ID
from monitor.reports.season.making import FORMS, RecordMaker, record_name
from monitor.reports.season.read_season import read_season_figures, season_of
from monitor.reports.season.record_sealer import RecordSealer
from monitor.store.store import Store
from monitor.web.access.visitor import Visitor, visitor_of
from monitor.wording import Wording
from monitor.yard.readers import words_for
from monitor.yard.space import Yard

_Id = Annotated[str, PathParameter(pattern=ID)]
_Year = Annotated[int | None, Query(ge=1971, le=2199)]
_Asks = Annotated[Visitor, Depends(visitor_of)]
# An owner's may be kept by nobody on the way.
_PRIVATE = {"Cache-Control": "no-store", "X-Robots-Tag": "noindex, nofollow"}


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordDesk:
    """What the routes of season records work with."""

    store: Store
    yard: Yard
    clock: Clock
    maker: RecordMaker
    yard_key: Callable[[], YardKey | None] = lambda: None  # as it is now; it may be rotated

    def give_record(self, visitor: Visitor, craft: str, form: str, year: int | None) -> Response:
        """One craft's record as a file; 404 where the craft did not stand in the yard then."""
        now = self.clock.now()
        season = season_of(now, self.yard) if year is None else year
        with self.store.snapshot() as tx:
            found = list(
                read_season_figures(
                    tx, self.yard, self.maker.profiles, [craft], season, now, version("laidup")
                )
            )
            if not found:
                raise HTTPException(404, f"no record of the season {season} is there of this craft")
            [figures] = found
            key = self.yard_key()
            if key is None:  # it says itself that it is not sealed
                maker = self.maker
            else:
                sealer = RecordSealer(tx, self.yard, key, season, now)
                maker = replace(self.maker, sealer=sealer)
            content = maker.make_json(figures)
        # Without a present every time has its date: it is read years later.
        words = replace(words_for(self.yard, now, visitor.person), now=Wording().now)
        if form != "json":  # the pages are set when the snapshot is over
            content = maker.make_pdf(figures, words, attached=content)
        name = record_name({"season": {"year": season}, "craft": {"id": craft}}, form)
        return Response(
            content,
            media_type=FORMS[form],
            headers=_PRIVATE | {"Content-Disposition": f'attachment; filename="{name}"'},
        )


def season_record_routes(desk: RecordDesk) -> APIRouter:
    """Make the routes, once for who signs in or has a key, and once for an owner's link."""
    routes = APIRouter(include_in_schema=False)

    @routes.get("/craft/{craft}/season-record.pdf")
    @routes.get("/owner/{token}/craft/{craft}/season-record.pdf")
    def give_pdf(craft: _Id, visitor: _Asks, season: _Year = None) -> Response:
        return desk.give_record(visitor, craft, "pdf", season)

    @routes.get("/craft/{craft}/season-record.json")
    @routes.get("/owner/{token}/craft/{craft}/season-record.json")
    def give_json(craft: _Id, visitor: _Asks, season: _Year = None) -> Response:
        return desk.give_record(visitor, craft, "json", season)

    return routes
