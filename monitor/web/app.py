"""The web: pages about a yard, the same as JSON, a health check, and the links of messages.

Who may take which route stands in one table (``access/route_rights.py``), which is asked before
any of them.
"""

import json
from collections.abc import Callable, Mapping, Sequence
from datetime import timedelta
from pathlib import Path

from fastapi import APIRouter, FastAPI, Request, Response
from fastapi.responses import FileResponse
from pydantic import TypeAdapter
from starlette.middleware.gzip import GZipMiddleware
from starlette.staticfiles import StaticFiles

from monitor.alarms.acts.answers import Answers
from monitor.clock import Clock
from monitor.craft.pdf_identity import PdfIdentity
from monitor.craft.profile import Profile
from monitor.craft.sealing import YardKey
from monitor.craft.stored import StoredCraft
from monitor.errors import WebError
from monitor.health.watch import account_of_store
from monitor.reports.season.making import RecordMaker
from monitor.reports.sentences import OLD_AFTER
from monitor.store.store import Store
from monitor.web.access.account import account_routes
from monitor.web.access.guard import Access, AccessGuard, OpenAccess
from monitor.web.access.password_link import password_link_routes
from monitor.web.access.people_access import PeopleAccess
from monitor.web.access.people_page import people_routes
from monitor.web.access.roles import Right
from monitor.web.access.route_rights import missing_rights
from monitor.web.access.sign_in import sign_in_routes
from monitor.web.access.sign_in_desk import SignInDesk
from monitor.web.access.visitor import visitor_of
from monitor.web.answer import answer_routes
from monitor.web.api.alarm_acts import alarm_act_routes
from monitor.web.api.alarms import alarm_routes
from monitor.web.api.description import API_VERSION, describe_api
from monitor.web.api.desk import ApiDesk
from monitor.web.api.judgements import judgement_routes
from monitor.web.api.readings import reading_routes
from monitor.web.api.reports import report_routes
from monitor.web.api.season_work import season_work_routes
from monitor.web.api.series import series_routes
from monitor.web.api.yard import yard_change_routes
from monitor.web.entity_tags import EntityTags
from monitor.web.health import Health, HealthReport, report_of
from monitor.web.http_layers import CarefulHeaders
from monitor.web.kept_pages import KeptResults, SeasonChanges, YardChanges
from monitor.web.limits import LimitedBodies, LimitedCrowd
from monitor.web.page_templates import STYLE_SOURCES, make_page_templates
from monitor.web.pages.backlog import BacklogDesk, backlog_routes
from monitor.web.pages.bench_desk import BenchDesk
from monitor.web.pages.bench_routes import bench_routes
from monitor.web.pages.evening_routes import evening_routes
from monitor.web.pages.own_craft_routes import OwnCraftDesk, own_craft_routes
from monitor.web.pages.photo_routes import photo_routes
from monitor.web.pages.routes import detail_routes
from monitor.web.pages.spring_routes import spring_routes
from monitor.web.pages.storage_routes import SEASONS_KEPT, StorageDesk, storage_routes
from monitor.web.pages.yard_desk import ChangeableYard, YardDesk
from monitor.web.pages.yard_routes import yard_routes
from monitor.web.problems import handle_problems
from monitor.web.season_records import RecordDesk, season_record_routes
from monitor.yard.health import HealthAccount
from monitor.yard.space import Yard

_HERE = Path(__file__).parent
RENEW_S = 1.5  # within which an open page may show what holds no more
_COMPRESSED_FROM_BYTES = 1000
NO_PROFILES: Mapping[str, Profile] = {}
_HEALTH_JSON = TypeAdapter(HealthReport)


def create_app(
    store: Store,
    yard: Yard,
    clock: Clock,
    craft: Callable[[], Sequence[StoredCraft]],
    renew_s: float = RENEW_S,
    old_after: timedelta = OLD_AFTER,
    *,
    answers: Answers | None = None,
    health: Callable[[], HealthAccount] | None = None,
    layup: APIRouter | None = None,
    metrics: APIRouter | None = None,
    access: Access | None = None,
    profiles: Mapping[str, Profile] = NO_PROFILES,
    address: str | None = None,
    book: ChangeableYard | None = None,
    yard_key: Callable[[], YardKey | None] = lambda: None,
    pdf_identity: Callable[[], PdfIdentity | None] = lambda: None,
) -> FastAPI:
    """Build the web of one yard.

    Parameters
    ----------
    store : Store
        Read in snapshots; what people do on the page is written in transactions of its own.
    yard : Yard
        Whose pages these are.
    clock : Clock
        The machine's, or the readings' in demo and replay.
    craft : callable
        Tells the craft in the yard's care now.
    renew_s : float
        How often an open page asks whether it is still true [s].
    old_after : timedelta
        A judgement older than this, by the clock, gets a warning; a clock that hurries needs more.
    answers : Answers, optional
        Takes the answers of people who follow the link in a message.
    health : callable, optional
        Tells how the watch stands, from memory; without it, what the store alone tells.
    layup : APIRouter, optional
        The JSON API of the lay-up record.
    metrics : APIRouter, optional
        The yard's figures as OpenMetrics.
    access : Access, optional
        Knows who asks; without it nobody is asked: for this machine alone.
    profiles : mapping of str to Profile, optional
        The library, for the pages of single craft.
    address : str, optional
        Of the page as its readers know it, for links in mails.
    book : ChangeableYard, optional
        Where people change the yard itself; without it they cannot.
    yard_key : callable, optional
        Tells what season records are sealed with now; without a key they say that they are not.
    pdf_identity : callable, optional
        What PDFs of season records are signed with now; without one they are not.

    Raises
    ------
    WebError
        If a route has no row in the table of rights.
    """
    app = FastAPI(title="laidup", version=API_VERSION, docs_url=None, redoc_url=None)
    templates = make_page_templates()
    app.mount("/static", StaticFiles(directory=_HERE / "static"), name="static")
    # Of these two the last is asked first: tags are of what is not compressed yet.
    app.add_middleware(EntityTags, compressed_from_bytes=_COMPRESSED_FROM_BYTES)
    app.add_middleware(GZipMiddleware, minimum_size=_COMPRESSED_FROM_BYTES)

    changes = YardChanges(store, clock)
    app.include_router(
        evening_routes(
            store, yard, clock, craft, templates, changes, renew_s=renew_s, old_after=old_after
        )
    )
    bench = BenchDesk(
        store=store, yard=yard, profiles=profiles, clock=clock, read_craft=craft,
        templates=templates,
    )  # fmt: skip
    app.include_router(bench_routes(bench))
    app.include_router(photo_routes(store, profiles, clock))
    app.include_router(spring_routes(bench))
    if answers is not None:
        app.include_router(answer_routes(answers, yard, clock, templates))
    desk = ApiDesk(store=store, yard=yard, clock=clock, profiles=profiles, craft_now=craft)
    app.include_router(judgement_routes(desk, changes))
    app.include_router(series_routes(desk))
    app.include_router(reading_routes(desk))
    app.include_router(alarm_routes(desk))
    app.include_router(alarm_act_routes(desk))
    app.include_router(report_routes(desk))
    app.include_router(season_work_routes(desk))
    describe_api(app)
    if layup is not None:
        app.include_router(layup)
    if metrics is not None:
        app.include_router(metrics)

    records = RecordDesk(
        store=store, yard=yard, clock=clock,
        maker=RecordMaker(yard=yard, profiles=profiles), yard_key=yard_key,
        pdf_identity=pdf_identity,
    )  # fmt: skip
    app.include_router(season_record_routes(records))
    storage = StorageDesk(
        store=store, yard=yard, clock=clock, profiles=profiles, templates=templates,
        kept=KeptResults(SeasonChanges(store, clock, yard), SEASONS_KEPT),
    )  # fmt: skip
    app.include_router(storage_routes(storage))
    app.include_router(detail_routes(store, yard, profiles, craft, clock, templates, old_after))
    backlog = BacklogDesk(store, yard, craft, clock, templates)
    app.include_router(backlog_routes(backlog, changes))
    if book is not None:
        templates.globals["has_yard_pages"] = True
        app.include_router(
            yard_routes(
                YardDesk(
                    store=store,
                    yard=yard,
                    clock=clock,
                    read_craft=craft,
                    profiles=profiles,
                    templates=templates,
                    book=book,
                )
            )
        )
        app.include_router(yard_change_routes(desk, book))
    if isinstance(access, PeopleAccess):
        door = SignInDesk(store, yard, clock, access, templates, address)
        app.include_router(sign_in_routes(door))
        app.include_router(password_link_routes(door))
        app.include_router(account_routes(door))
        app.include_router(people_routes(door))
        own = OwnCraftDesk(
            store=store, yard=yard, profiles=profiles, clock=clock, templates=templates
        )
        app.include_router(own_craft_routes(own))

    handle_problems(app)
    app.add_middleware(AccessGuard, access=access or OpenAccess(yard))
    app.add_middleware(LimitedBodies)
    app.add_middleware(LimitedCrowd)
    app.add_middleware(CarefulHeaders, style_sources=STYLE_SOURCES)  # the last is asked first

    @app.head("/health", include_in_schema=False)
    @app.get("/health", response_model=HealthReport)
    async def tell_health(request: Request) -> Response:
        """Tell whether laidup judges on fresh readings: 200 for pass and warn, 503 for fail.

        A stranger hears that alone: what is wrong may name the yard's sensors and craft.
        """
        # In the loop itself: it waits for no place among those that read the store.
        account = health() if health else account_of_store(store, yard, clock, old_after)
        found = report_of(account)
        in_full = visitor_of(request).may(Right.READ_YARD)
        return Response(
            _HEALTH_JSON.dump_json(found)
            if in_full
            else json.dumps({"status": found.status}).encode(),
            status_code=503 if found.status is Health.FAIL else 200,
            media_type="application/json",
        )

    @app.get("/favicon.ico", include_in_schema=False)
    def favicon() -> FileResponse:
        return FileResponse(_HERE / "static" / "favicon.svg", media_type="image/svg+xml")

    if missing := missing_rights(app):
        raise WebError(f"no row of monitor/web/access/route_rights.py names {', '.join(missing)}")
    return app
