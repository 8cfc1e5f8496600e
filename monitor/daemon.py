"""The daemon: wires intake, judgement, alarms, delivery and the page, and starts and stops them.

Threads hand over by row or event, never by shared object: intake writes readings and says so,
the watch judges and writes alarms and messages, and one courier a channel empties the outbox.
Service manager, lamp and outside world are shown by a thread each whether the others turn: none of
the three waits for another.
"""

import logging
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from queue import SimpleQueue

from fastapi import APIRouter

from monitor.alarms.acts.answers import Answers
from monitor.alarms.round import AlarmRound
from monitor.alarms.telling.all_well import AllWell
from monitor.clock import Clock, SystemClock, correctable_clock, from_ms
from monitor.delivery.annunciator import Annunciator
from monitor.delivery.channels import channels
from monitor.delivery.couriers import Couriers, courier_name
from monitor.delivery.post import Post
from monitor.delivery.pulse import Pulse
from monitor.delivery.signs import SignsOfLife
from monitor.delivery.store_notice import StoreNotice
from monitor.delivery.turning import Turning
from monitor.errors import StoreError
from monitor.health.account import HealthFacts
from monitor.health.store_probe import StoreProbe
from monitor.health.telling import AccountSocket, account_socket
from monitor.health.watch import HealthWatch
from monitor.intake.batch import BatchSummary
from monitor.intake.broker import BrokerSettings
from monitor.intake.client import Intake
from monitor.intake.forecast.fetch import ForecastFetch
from monitor.judgement.craft_in_care import CraftInCare
from monitor.judgement.round import Round
from monitor.reports.weekly import WeeklySchedule
from monitor.settings.load import Settings, origin_of
from monitor.store.copy_age import CopySettings, why_overdue
from monitor.store.entering import CRAFT_FILES, take_in_each
from monitor.store.mark import StoreMark
from monitor.store.record_upkeep import RecordUpkeep
from monitor.store.store import REVISION, Store, revision
from monitor.store.upkeep import StoreUpkeep
from monitor.web.access import bearer_of, guarded_route
from monitor.web.answer import PATH as ANSWER_PATH
from monitor.web.api_layup import layup_router
from monitor.web.app import create_app
from monitor.web.server import PageServer
from monitor.wording import SI, Wording
from monitor.yard.health import StoreCondition
from monitor.yard.people import names_by_id
from monitor.yard.space import STAFF, shelters

log = logging.getLogger("laidup")

_STOP_WITHIN_S = 20.0
# How long a part may go without a turn [s]. A round over a large yard and a week's drawing take
# minutes; so may a weather service. How long the couriers may take, they know themselves.
_TURNS_WITHIN_S = {"intake": 600.0, "watch": 600.0, "reports": 1800.0}
_UPKEEP_WITHIN_S = 1800.0  # the check of a large store's file takes minutes on a slow disk
_FORECASTS_WITHIN_S = {"forecasts": 1800.0}
_COPIES_EVERY_S = 10.0
_PAGE_CONNECTIONS = 10  # a few more than answers it works out at once


@dataclass(frozen=True, slots=True, kw_only=True)
class Schedule:
    """How often the parts turn, by the machine's clock. The demo's hurried clock wants more."""

    round_every_s: float = 60.0  # judge at least this often: silence is judged too
    round_gap_s: float = 5.0  # and no more often than this, however fast readings come
    settle_s: float = 1.0  # readings seldom come alone: judge when the others are there too
    post_every_s: float = 5.0
    first_retry_s: float = 30.0  # between the first try of a message and its second
    report_every_s: float = 60.0
    signs_every_s: float = 3.0
    upkeep_every_s: float = 20.0  # how often to look whether the store's file is due for a check
    probe_every_s: float = 2.0  # how often to ask the store whether it takes and gives
    forecast_every_s: float = 60.0  # how often to see whether the agency may be asked again
    page_renew_s: int = 60
    page_old_after: timedelta = timedelta(minutes=15)  # by the daemon's clock


def open_store(url: str, yard: str) -> Store:
    """Open the yard's store, bringing its tables up to date first where they are not."""
    if revision(url) != REVISION:
        # Imported here: alembic is needed at the first start and after an update, never else.
        from monitor.store.migrate import migrate

        log.info("Bringing the tables of the store up to date (revision %s).", REVISION)
        migrate(url)
    return Store(url, yard)


class Daemon:
    """One yard's watch, from the broker to the mail server."""

    def __init__(
        self,
        settings: Settings,
        store: Store,
        clock: Clock,
        *,
        pace: Schedule = Schedule(),
        on_batch: Callable[[BatchSummary], None] | None = None,
    ) -> None:
        """Wire the parts; nothing starts yet.

        Parameters
        ----------
        settings : Settings
            What the yard's file says.
        store : Store
            The yard's store; the daemon closes it when it stops.
        clock : Clock
            The machine's clock, or the readings' clock in the demo.
        pace : Schedule
            How often the parts turn.
        on_batch : callable, optional
            Told of each committed batch before the watch is; the demo moves its clock with it.
        """
        # Intake puts it right where the sensors agree on another time.
        clock = correctable_clock(clock)
        self._store = store
        self._clock = clock
        self._pace = pace
        self._on_batch = on_batch
        self._touched = threading.Event()
        self._news: SimpleQueue[int] = SimpleQueue()  # oldest reading of each stored batch
        self._stopping = threading.Event()
        yard = settings.yard
        self._record_upkeep = RecordUpkeep(store, clock)
        self._record_upkeep.run_once()  # before anything is entered behind a break
        refused = self._take_in_craft(settings)
        self._craft = CraftInCare(store, settings.profiles, yard, clock)
        agency = None if settings.forecast is None else str(settings.forecast.agency)
        self._judgement = Round(store, yard, clock, forecast=agency, origin=origin_of(settings))
        # Readers of the page take no connection that watch, intake and post need.
        page_store = store.beside(_PAGE_CONNECTIONS) if settings.web.enabled else store
        answers = _answers_of(settings, page_store, clock)
        self._upkeep = StoreUpkeep(store, clock)
        self._alarms = AlarmRound(
            store,
            yard,
            clock,
            definitions=settings.definitions,
            answers=answers,
            condition=self._store_condition,
            refused=refused,
        )
        self._all_well = AllWell(store, yard, clock)
        self._turning = Turning(
            _TURNS_WITHIN_S | (_FORECASTS_WITHIN_S if settings.forecast is not None else {})
        )
        self._weekly = WeeklySchedule(
            store, yard, clock, weekday=settings.report_weekday, at=settings.report_at
        )
        post = Post(
            store,
            channels(settings.mail, settings.folder, settings.webhook),
            clock,
            first_wait=timedelta(seconds=pace.first_retry_s),
            staff=[one.id for one in yard.people if one.roles & STAFF],
            on_try=lambda channel: self._turning.going_on(courier_name(channel)),
        )
        self._store_failure = ""  # why the last rounds could not use the store
        self._notice = StoreNotice(
            channels(settings.mail, settings.folder, settings.webhook),
            yard,
            clock,
            lambda: self._store_failure if "watch" in self._turning.unwell_parts() else "",
        )
        self._couriers = Couriers(post, self._turning, pace.post_every_s)
        lamp = Annunciator(store, settings.annunciator, clock) if settings.annunciator else None
        self._post = post
        self._probe = StoreProbe(store, yard, clock, agency)
        self._health = HealthWatch(yard, clock, self._health_facts, pace.page_old_after)
        self._told_at = AccountSocket(
            account_socket(settings.store_url, settings.file), self._health.make_account
        )
        self._signs = SignsOfLife(
            self._turning,
            account=self._health.make_account,
            lamp=lamp,
            pulse=Pulse(settings.ping, clock) if settings.ping else None,
            every_s=pace.signs_every_s,
        )
        self._intake = Intake(
            _with_earlier_session(settings.broker, store),
            store,
            yard.sensors,
            clock,
            self._batch_taken,
            mappings=settings.mappings,
            own_topic=settings.annunciator.topic if settings.annunciator else "",
        )
        self.judged_at: datetime | None = None  # by the daemon's clock, when the last round ended
        self._page: PageServer | None = None
        if settings.web.enabled:
            app = create_app(
                page_store,
                yard,
                clock,
                CraftInCare(page_store, settings.profiles, yard, clock).read_now,
                pace.page_renew_s,
                pace.page_old_after,
                answers=answers,
                health=self._health.make_account,
                layup=_layup_api(settings, page_store, clock),
            )
            self._page = PageServer(app, settings.web.host, settings.web.port)
        self._threads: tuple[threading.Thread, ...] = (
            threading.Thread(target=self._judge_repeatedly, name="watch"),
            threading.Thread(target=self._write_reports, name="reports"),
            threading.Thread(target=self._look_after_store, name="upkeep"),
            threading.Thread(target=self._check_record, name="record"),
            # Its question may be open for as long as a disk hangs.
            threading.Thread(target=self._ask_store, name="health", daemon=True),
            # What it has in hand may take a mail server's patience, and nothing waits for it.
            threading.Thread(target=self._give_notice, name="notice", daemon=True),
        )
        self._turning.expect_part("upkeep", _UPKEEP_WITHIN_S)
        self._turning.expect_part("record", _UPKEEP_WITHIN_S)
        if settings.forecast is not None:
            fetch = ForecastFetch(store, settings.forecast, clock)
            forecasts = threading.Thread(
                target=self._fetch_forecasts, args=(fetch,), name="forecasts"
            )
            self._threads = (*self._threads, forecasts)
        self._overdue = ""  # why a copy of the store is
        if settings.backup is not None:
            self._threads = (
                *self._threads,
                # Its folder may be on another machine, which may hang.
                threading.Thread(
                    target=self._watch_copies, args=(settings.backup,), name="copies", daemon=True
                ),
            )
        self._name, self._yard_id = yard.name, yard.id

    @classmethod
    def from_settings(cls, settings: Settings, *, new_store: bool = False) -> "Daemon":
        """The daemon on the machine's own clock, with its store opened.

        Raises
        ------
        StoreError
            If the store cannot be opened, or the one that was there is gone and no new one is
            asked for.
        """
        url, yard, clock = settings.store_url, settings.yard.id, SystemClock()
        mark = StoreMark(settings.file)
        if new_store:
            mark.lift()
        mark.refuse_another(url, yard)
        store = open_store(url, yard)
        mark.set(url, yard, clock.now())
        return cls(settings, store, clock)

    @property
    def page_address(self) -> str | None:
        """Address of the page once the daemon has started; None where it has none."""
        return self._page.address if self._page else None

    @property
    def is_connected(self) -> bool:
        """Whether what the sensors send reaches us now."""
        return self._intake.intake_health().connected

    def start(self) -> None:
        """Start every part: first what may refuse, then what reads, then what takes readings in.

        Raises
        ------
        WebError
            If the page cannot be served where it should be. Then nothing runs.
        """
        if self._page:
            self._page.start()
            log.info("The page is at %s", self._page.address)
        for thread in self._threads:
            thread.start()
        self._couriers.start()
        self._intake.start()
        self._told_at.start()
        self._signs.start()
        log.info("Watching %s.", self._name)

    def stop(self) -> None:
        """Stop every part in order: take no more in, finish what is under way, close the store."""
        log.info("Told to stop: finishing what is under way.")
        self._signs.say_stopping()
        self._told_at.stop()
        self._intake.stop(timeout=_STOP_WITHIN_S)
        self._stopping.set()
        self._touched.set()
        end = time.monotonic() + _STOP_WITHIN_S
        self._couriers.stop(timeout=_STOP_WITHIN_S)
        for thread in self._threads:
            if thread.is_alive():  # none is where the page refused to start
                thread.join(timeout=max(end - time.monotonic(), 0.0))
        self._signs.stop(timeout=max(end - time.monotonic(), 0.0))
        if self._page:
            self._page.stop()
        self._store.close()
        log.info("Stopped. %s is no longer watched.", self._name)

    def _take_in_craft(self, settings: Settings) -> dict[str, str]:
        """Enter what the craft files say, and give why a craft was refused, by its id.

        What is on record already adds nothing.
        """
        taken = take_in_each(
            self._store,
            settings.craft,
            settings.profiles,
            self._clock.now(),
            CRAFT_FILES,
            names_by_id(settings.yard),
        )
        for error in taken.refused:
            log.error("Not taken in, and as it was before: %s", error)
        for change in taken.changes:
            log.info("By the craft files: %s.", change)
        for one in taken.marked:
            log.error("The record of craft %s does not hold: %s", one.craft, one)
        log.info(
            "%d craft are in the craft files, %d of them new; %d lay-up entries were new.",
            taken.craft,
            taken.new_craft,
            taken.new_entries,
        )
        return taken.refused_craft

    def _batch_taken(self, batch: BatchSummary) -> None:
        if self._on_batch:
            self._on_batch(batch)
        if batch.oldest_ms is not None:
            self._news.put(batch.oldest_ms)
        self._touched.set()

    def _judge_repeatedly(self) -> None:
        """Judge, raise and clear alarms; whatever fails is tried again next time."""
        while not self._stopping.is_set():
            self._touched.wait(timeout=self._pace.round_every_s)
            if self._stopping.wait(self._pace.settle_s):
                return
            self._touched.clear()
            self._run_guarded("watch", "The round of judgement", self._run_round)
            if self._turning.is_failing("watch"):
                self._touched.set()  # soon again: whether it is an accident must be known
            self._stopping.wait(self._pace.round_gap_s)

    def _run_round(self) -> None:
        try:
            self._judge_and_tell()
        except StoreError as error:
            self._store_failure = str(error)
            raise
        self._store_failure = ""

    def _judge_and_tell(self) -> None:
        started, at = time.monotonic(), self._clock.now()
        craft = self._craft.read_now()
        try:
            judged = self._judgement.run(craft, self._oldest_news())
            self.judged_at = at
        finally:  # what cannot be judged keeps nobody from being told why, and of all else
            alarms = self._alarms.run({one.id: one for one in craft})
            if alarms.messages + self._all_well.run():
                self._couriers.wake_all()
        log.debug("Judged %d subjects in %.2f s.", judged.count, time.monotonic() - started)

    def _oldest_news(self) -> datetime | None:
        """Time of the oldest reading that was stored since the last round."""
        news = []
        while not self._news.empty():
            news.append(self._news.get())
        return from_ms(min(news)) if news else None

    def _write_reports(self) -> None:
        """Write reports when they are due. Drawing takes seconds, and no round waits for it."""
        while not self._stopping.wait(self._pace.report_every_s):
            self._run_guarded(
                "reports", "The weekly report", lambda: self._weekly.run(self._craft.read_now())
            )

    def _fetch_forecasts(self, fetch: ForecastFetch) -> None:
        """Ask for the public forecast when it may be asked for; nothing waits for an answer."""
        while not self._stopping.is_set():
            self._run_guarded("forecasts", "Fetching the public forecast", fetch.run_once)
            self._stopping.wait(self._pace.forecast_every_s)

    def _look_after_store(self) -> None:
        """Measure the store's room and check its file; a check of a large one takes a while."""
        before = (False, False, False)
        while not self._stopping.is_set():
            self._run_guarded("upkeep", "Looking after the store", self._upkeep.run_once)
            found = self._upkeep.condition
            wrong = (found.little_room, found.full, bool(found.damage))
            if wrong != before:
                self._touched.set()  # to tell of it, or that it is over
            before = wrong
            self._stopping.wait(self._pace.upkeep_every_s)

    def _check_record(self) -> None:
        """Compare the lay-up record with what was written; of what is broken, nothing counts."""
        while not self._stopping.is_set():
            self._run_guarded("record", "The check of the record", self._check_record_once)
            self._stopping.wait(self._pace.probe_every_s)

    def _check_record_once(self) -> None:
        if self._record_upkeep.run_once():
            self._touched.set()  # to judge by what still holds, and to tell of it

    def _store_condition(self) -> StoreCondition:
        return replace(self._upkeep.condition, rewritten=self._record_upkeep.rewritten)

    def _give_notice(self) -> None:
        """Tell the operators where the store fails, for then no alarm can."""
        while not self._stopping.wait(self._pace.signs_every_s):
            try:
                self._notice.run_once()
            except Exception:
                log.exception("The notice that the store fails will be tried again.")

    def _ask_store(self) -> None:
        """Ask the store again and again how it is, so that nobody else has to wait for it."""
        while not self._stopping.is_set():
            try:
                self._upkeep.measure_room()
                self._probe.run_once()
                if self._probe.latest_answer().refusal is not None:
                    self._touched.set()  # a round tells whether the watch cannot use it either
            except Exception:
                log.exception("The store could not be asked how it is; it will be asked again.")
            self._stopping.wait(self._pace.probe_every_s)

    def _watch_copies(self, kept: CopySettings) -> None:
        """See how old the newest copy of the store is."""
        while not self._stopping.is_set():
            self._overdue = why_overdue(kept, self._yard_id, self._clock.now())
            self._stopping.wait(_COPIES_EVERY_S)

    def unwell_parts(self) -> dict[str, str]:
        """Parts that do not turn or do nothing but fail, each with the reason."""
        unwell = self._turning.unwell_parts()
        if self._page and not self._page.is_serving:
            unwell["page"] = "is no longer served"
        return unwell

    def _health_facts(self) -> HealthFacts:
        """What the parts know of themselves now; nobody is waited for."""
        intake = self._intake.intake_health()
        if intake.connected and not intake.store:
            self._turning.note_turn("intake")
        unwell = self.unwell_parts()
        if not intake.connected or intake.store:
            unwell.pop("intake", None)  # told of by what keeps it
        return HealthFacts(
            now=self._clock.now(),
            probe=self._probe.latest_answer(),
            condition=self._store_condition(),
            parts=unwell,
            away="" if intake.connected else intake.broker,
            away_remedy=intake.broker_remedy,
            not_stored=intake.store,
            catching_up=intake.catching_up,
            channels=self._post.channel_troubles(),
            jobs={"nightly copy of the store": self._overdue} if self._overdue else {},
        )

    def _run_guarded(self, part: str, what: str, work: Callable[[], object]) -> None:
        """Run one piece of work; a thread that died would be a silence nobody hears."""
        try:
            work()
        except Exception as error:
            log.exception("%s failed and will be tried again.", what)
            self._turning.note_failure(part, error)
        else:
            self._turning.note_turn(part)


def _with_earlier_session(broker: BrokerSettings, store: Store) -> BrokerSettings:
    """The broker's settings, with the session that a yard had before the default had its id."""
    if broker.is_client_id_given:
        return broker
    with store.snapshot() as tx:
        earlier = tx.session_names.earlier_client_id()
    return broker if earlier is None else replace(broker, client_id=earlier)


def _answers_of(settings: Settings, store: Store, clock: Clock) -> Answers | None:
    """Links in messages need a page that answers them, and its address as the readers know it."""
    if not settings.web.enabled or settings.web.address is None:
        return None
    return Answers(store, clock, f"{settings.web.address.rstrip('/')}{ANSWER_PATH}/")


def _layup_api(settings: Settings, store: Store, clock: Clock) -> APIRouter | None:
    """The lay-up record as JSON, for whoever shows the yard's token; without one for nobody."""
    if settings.web_token is None:
        return None
    yard = settings.yard
    return layup_router(
        store,
        settings.profiles,
        shelters(yard),
        clock,
        Wording(zone=yard.zone, units=SI, people=names_by_id(yard)),
        yard,
        guards=[bearer_of(settings.web_token)],
        route=guarded_route(settings.web_token),
    )
