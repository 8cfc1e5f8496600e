"""The quality of storage of a season: its page, and the same figures as PDF, CSV and JSON."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from importlib.metadata import version
from typing import Annotated

from fastapi import APIRouter, Depends, Query, Response
from fastapi.responses import HTMLResponse
from jinja2 import Environment
from starlette.exceptions import HTTPException

from monitor.clock import Clock
from monitor.craft.profile import Profile
from monitor.reports.season.making import usual_paper
from monitor.reports.season.read_season import season_of
from monitor.reports.storage.figures import StorageFigures
from monitor.reports.storage.read_storage import read_storage_seasons
from monitor.reports.storage.storage_files import FORMS, storage_file, storage_name
from monitor.reports.storage.storage_rows import storage_json
from monitor.reports.storage.storage_words import (
    HOW_COUNTED,
    NIGHT_HEADS,
    SEASON_HEADS,
    SPACE_HEADS,
    compared_bodies,
    storage_words,
)
from monitor.store.store import Store
from monitor.web.access.visitor import Visitor, visitor_of
from monitor.wording import Wording
from monitor.yard.readers import words_for
from monitor.yard.space import Yard

_Year = Annotated[int | None, Query(ge=1971, le=2199)]
_Asks = Annotated[Visitor, Depends(visitor_of)]


@dataclass(frozen=True, slots=True, kw_only=True)
class StorageDesk:
    """What the routes of the quality of storage work with."""

    store: Store
    yard: Yard
    clock: Clock
    profiles: Mapping[str, Profile]
    templates: Environment

    def read_seasons(self, year: int | None) -> list[StorageFigures]:
        """A season and those before it; 404 of one that has not begun."""
        now = self.clock.now()
        this = season_of(now, self.yard)
        season = this if year is None else year
        if season > this:
            raise HTTPException(404, f"the season {season} has not begun yet")
        with self.store.snapshot() as tx:
            return read_storage_seasons(
                tx, self.yard, self.profiles, season, now, version("laidup")
            )

    def words_of(self, visitor: Visitor) -> Wording:
        """The reader's units; without a present, so that every time has its date."""
        words = words_for(self.yard, self.clock.now(), visitor.person)
        return replace(words, now=Wording().now)

    def give_file(self, visitor: Visitor, form: str, year: int | None) -> Response:
        """The figures as a file to take away."""
        seasons, words = self.read_seasons(year), self.words_of(visitor)
        return Response(
            storage_file(seasons, form, words, usual_paper(words)),
            media_type=FORMS[form],
            headers={
                "Content-Disposition": f'attachment; filename="{storage_name(seasons[0], form)}"'
            },
        )


def storage_routes(desk: StorageDesk) -> APIRouter:
    """Make the routes."""
    routes = APIRouter(include_in_schema=False)

    @routes.get("/storage")
    def show_storage(visitor: _Asks, season: _Year = None) -> HTMLResponse:
        figures, *earlier = desk.read_seasons(season)
        bodies = compared_bodies(storage_json(figures, earlier), ())
        html = desk.templates.get_template("storage.html").render(
            up="",
            yard=desk.yard,
            said=storage_words(figures, bodies, desk.words_of(visitor)),
            season=figures.season,
            years=[one.season for one in earlier],
            SPACE_HEADS=SPACE_HEADS,
            NIGHT_HEADS=NIGHT_HEADS,
            SEASON_HEADS=SEASON_HEADS,
            HOW_COUNTED=HOW_COUNTED,
        )
        return HTMLResponse(html)

    @routes.get("/storage.pdf")
    def give_pdf(visitor: _Asks, season: _Year = None) -> Response:
        return desk.give_file(visitor, "pdf", season)

    @routes.get("/storage.csv")
    def give_csv(visitor: _Asks, season: _Year = None) -> Response:
        return desk.give_file(visitor, "csv", season)

    @routes.get("/storage.json")
    def give_json(visitor: _Asks, season: _Year = None) -> Response:
        return desk.give_file(visitor, "json", season)

    return routes
