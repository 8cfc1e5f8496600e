"""The quality of storage of a season: its page, and the same figures as PDF, CSV and JSON."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from importlib.metadata import version
from typing import Annotated

from fastapi import APIRouter, Query, Request, Response
from fastapi.responses import HTMLResponse
from jinja2 import Environment
from starlette.concurrency import run_in_threadpool
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
from monitor.web.kept_pages import KeptResults
from monitor.wording import Wording
from monitor.yard.readers import words_for
from monitor.yard.space import Yard

_Year = Annotated[int | None, Query(ge=1971, le=2199)]

SEASONS_KEPT = 4  # asked for since the yard's mark moved; each holds every space's worst nights


@dataclass(frozen=True, slots=True, kw_only=True)
class StorageDesk:
    """What the routes of the quality of storage work with."""

    store: Store
    yard: Yard
    clock: Clock
    profiles: Mapping[str, Profile]
    templates: Environment
    kept: KeptResults[list[StorageFigures]]

    async def read_seasons(self, year: int | None) -> list[StorageFigures]:
        """A season and those before it, reckoned once for page and files; 404 before it begins."""
        this = season_of(self.clock.now(), self.yard)
        season = this if year is None else year
        if season > this:
            raise HTTPException(404, f"the season {season} has not begun yet")
        return await self.kept.read_result(season, lambda: self._reckon_seasons(season))

    def _reckon_seasons(self, season: int) -> list[StorageFigures]:
        now = self.clock.now()
        with self.store.snapshot() as tx:
            return read_storage_seasons(
                tx, self.yard, self.profiles, season, now, version("laidup")
            )

    def words_of(self, visitor: Visitor) -> Wording:
        """The reader's units; without a present, so that every time has its date."""
        words = words_for(self.yard, self.clock.now(), visitor.person)
        return replace(words, now=Wording().now)

    async def give_file(self, visitor: Visitor, form: str, year: int | None) -> Response:
        """The figures as a file to take away."""
        seasons, words = await self.read_seasons(year), self.words_of(visitor)
        paper = usual_paper(words)
        content = await run_in_threadpool(storage_file, seasons, form, words, paper)
        return Response(
            content,
            media_type=FORMS[form],
            headers={
                "Content-Disposition": f'attachment; filename="{storage_name(seasons[0], form)}"'
            },
        )

    def write_page(self, visitor: Visitor, seasons: Sequence[StorageFigures]) -> str:
        """The figures as a page."""
        figures, *earlier = seasons
        bodies = compared_bodies(storage_json(figures, earlier), ())
        return self.templates.get_template("storage.html").render(
            up="",
            yard=self.yard,
            said=storage_words(figures, bodies, self.words_of(visitor)),
            season=figures.season,
            years=[one.season for one in earlier],
            SPACE_HEADS=SPACE_HEADS,
            NIGHT_HEADS=NIGHT_HEADS,
            SEASON_HEADS=SEASON_HEADS,
            HOW_COUNTED=HOW_COUNTED,
        )


def storage_routes(desk: StorageDesk) -> APIRouter:
    """Make the routes."""
    routes = APIRouter(include_in_schema=False)

    @routes.get("/storage")
    async def show_storage(request: Request, season: _Year = None) -> HTMLResponse:
        seasons = await desk.read_seasons(season)
        html = await run_in_threadpool(desk.write_page, visitor_of(request), seasons)
        return HTMLResponse(html)

    @routes.get("/storage.pdf")
    async def give_pdf(request: Request, season: _Year = None) -> Response:
        return await desk.give_file(visitor_of(request), "pdf", season)

    @routes.get("/storage.csv")
    async def give_csv(request: Request, season: _Year = None) -> Response:
        return await desk.give_file(visitor_of(request), "csv", season)

    @routes.get("/storage.json")
    async def give_json(request: Request, season: _Year = None) -> Response:
        return await desk.give_file(visitor_of(request), "json", season)

    return routes
