"""The season record to take away, as PDF or JSON: at the page, by an owner's link, for programs."""

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from importlib.metadata import version
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Query, Request, Response
from fastapi import Path as PathParameter
from pydantic import AwareDatetime, BaseModel
from starlette.exceptions import HTTPException

from monitor.clock import Clock
from monitor.craft.canonical import canonical_bytes
from monitor.craft.pdf_identity import PdfIdentity
from monitor.craft.sealing import YardKey
from monitor.phrases.complaints import ID
from monitor.reports.season.figures import SeasonFigures
from monitor.reports.season.making import FORMS, RecordMaker, reader_words, record_name
from monitor.reports.season.read_season import read_season_figures, season_of
from monitor.reports.season.record_sealer import RecordSealer
from monitor.reports.season.season_json import season_json
from monitor.store.store import Store, Transaction
from monitor.web.access.visitor import Visitor, VisitorKind, visitor_of
from monitor.web.entity_tags import digest_of_answer, names_tag
from monitor.web.problems import unusable_parameter
from monitor.yard.space import Yard

_Id = Annotated[str, PathParameter(pattern=ID)]
_Year = Annotated[
    int | None,
    Query(
        ge=1971, le=2199, description="in whose July the season began; left out: the present one"
    ),
]
_Asks = Annotated[Visitor, Depends(visitor_of)]
# An owner's may be kept by nobody on the way.
_PRIVATE = {"Cache-Control": "no-store", "X-Robots-Tag": "noindex, nofollow"}


class SeasonOut(BaseModel):
    """Which season, and the time in the yard within it."""

    year: int
    from_: AwareDatetime
    to: AwareDatetime

    model_config = {"alias_generator": lambda name: name.rstrip("_")}


class SeasonRecordOut(BaseModel):
    """A season record's file: its first keys. docs/season-record.md has every key.

    ``proof`` and ``seal`` are there where the yard's key can be used; docs/record-file.md tells a
    stranger how both are checked.
    """

    laidup_record: int
    made_at: AwareDatetime
    program: str
    season: SeasonOut
    yard: dict[str, str]
    craft: dict[str, Any]
    kept: list[dict[str, Any]]
    work: list[dict[str, Any]]
    nights: list[dict[str, Any]]
    alarms: list[dict[str, Any]]
    not_proved: list[str]
    photos: list[dict[str, Any]] | None = None
    digests: dict[str, Any] | None = None
    proof: dict[str, Any] | None = None
    seal: dict[str, Any] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordDesk:
    """What the routes of season records work with."""

    store: Store
    yard: Yard
    clock: Clock
    maker: RecordMaker
    yard_key: Callable[[], YardKey | None] = lambda: None  # as it is now; it may be rotated
    pdf_identity: Callable[[], PdfIdentity | None] = lambda: None

    def give_record(self, visitor: Visitor, craft: str, form: str, year: int | None) -> Response:
        """One craft's record as a file; 404 where the craft did not stand in the yard then."""
        with self._figures_of(craft, year) as (tx, figures):
            lent = visitor.kind is VisitorKind.THIRD_PARTY
            figures = replace(figures, tells_page_opening=not lent)
            maker = self._maker_in(tx, figures)
            content = maker.make_json(figures)
        words = reader_words(self.yard, figures, visitor.person)
        if form != "json":  # the pages are set when the snapshot is over
            content = maker.make_pdf(figures, words, attached=content)
        name = record_name({"season": {"year": figures.season}, "craft": {"id": craft}}, form)
        return Response(
            content,
            media_type=FORMS[form],
            headers=_PRIVATE | {"Content-Disposition": f'attachment; filename="{name}"'},
        )

    def answer_program(self, craft: str, year: int | None, known_tags: str) -> Response:
        """The record for machines, or 304 to whoever has the same figures.

        Its tag is weak: the same figures are told anew with another time and a newer head.
        """
        this = season_of(self.clock.now(), self.yard)
        if year is not None and year > this:
            raise unusable_parameter(
                "query.season",
                str(year),
                "it has not begun yet",
                f"the season that goes on: {this}",
            )
        with self._figures_of(craft, year) as (tx, figures):
            key = self.yard_key()
            tag = _tag_of(season_json(figures, self.yard), "" if key is None else key.key.public)
            headers = {"ETag": f"W/{tag}", "Cache-Control": "no-store"}
            if names_tag(known_tags, tag):
                return Response(status_code=304, headers=headers)
            content = self._maker_in(tx, figures).make_json(figures)
        return Response(content, media_type="application/json", headers=headers)

    @contextmanager
    def _figures_of(
        self, craft: str, year: int | None
    ) -> Iterator[tuple[Transaction, SeasonFigures]]:
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
            yield tx, found[0]

    def _maker_in(self, tx: Transaction, figures: SeasonFigures) -> RecordMaker:
        key = self.yard_key()
        if key is None:  # it says itself that it is not sealed
            return self.maker
        sealer = RecordSealer(tx, self.yard, key, figures.season, figures.made_at)
        return replace(self.maker, sealer=sealer, pdf_identity=self.pdf_identity())


def season_record_routes(desk: RecordDesk) -> APIRouter:
    """Make the routes: for who signs in, for an owner's link, and for programs."""
    routes = APIRouter()

    @routes.get("/craft/{craft}/season-record.pdf", include_in_schema=False)
    @routes.get("/owner/{token}/craft/{craft}/season-record.pdf", include_in_schema=False)
    def give_pdf(craft: _Id, visitor: _Asks, season: _Year = None) -> Response:
        return desk.give_record(visitor, craft, "pdf", season)

    @routes.get("/craft/{craft}/season-record.json", include_in_schema=False)
    @routes.get("/owner/{token}/craft/{craft}/season-record.json", include_in_schema=False)
    def give_json(craft: _Id, visitor: _Asks, season: _Year = None) -> Response:
        return desk.give_record(visitor, craft, "json", season)

    @routes.get(
        "/api/craft/{craft}/season-record", response_model=SeasonRecordOut, tags=["reports"]
    )
    def read_season_record(request: Request, craft: _Id, season: _Year = None) -> Response:
        """Tell one craft's winter with its proof, sealed with the yard's key.

        The bytes are those of the file that `laidup verify` checks: keep them as they came.
        """
        return desk.answer_program(craft, season, request.headers.get("If-None-Match", ""))

    return routes


def _tag_of(body: Mapping[str, Any], sealed_by: str) -> str:
    figures = {name: one for name, one in body.items() if name != "made_at"}
    return f'"{digest_of_answer(canonical_bytes(figures) + sealed_by.encode())}"'
