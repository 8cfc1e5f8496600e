"""One yard's watch: wires intake, judgement, alarms, delivery and the page, starts and stops them.

Threads hand over by row or event, never by shared object: intake writes readings and says so,
the watch judges and writes alarms and messages, and one courier a channel empties the outbox.
Service manager, lamp and outside world are shown by a thread each whether the others turn: none of
the three waits for another. Jobs that rest at fixed hours (`housework.py`) have a scheduler, where
the clock is the machine's.
"""

import logging
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, datetime

from monitor.alarms.telling.all_well import AllWell
from monitor.clock import Clock, SystemClock, correctable_clock
from monitor.daemon.housework import job_problems, make_housekeeping, weekly_report
from monitor.daemon.opening import (
    answers_of,
    end_old_access,
    open_store,
    take_in_craft,
    with_earlier_session,
)
from monitor.daemon.pace import TURNS_WITHIN_S, USUAL_PACE, Schedule, take_turn
from monitor.daemon.parts import (
    agency_of,
    make_alarm_round,
    make_page,
    make_post,
    make_round,
    staff_ids,
)
from monitor.daemon.store_care import StoreCare
from monitor.daemon.watching import WatchLoop
from monitor.daemon.yard_keeper import YardKeeper, of_yard
from monitor.delivery.annunciator import Annunciator
from monitor.delivery.channels import channels
from monitor.delivery.couriers import Couriers
from monitor.delivery.life_signals import LifeSignals
from monitor.delivery.part_turns import PartTurns
from monitor.delivery.pulse import Pulse
from monitor.delivery.store_notice import StoreNotice
from monitor.health.store_faults import HealthFacts
from monitor.health.telling import AccountSocket, account_socket
from monitor.health.watch import HealthWatch
from monitor.intake.batch import BatchSummary
from monitor.intake.client import Intake
from monitor.judgement.inputs import CraftInCare
from monitor.reports.arrivals import ArrivalList
from monitor.reports.weekly import WeeklySchedule
from monitor.settings.load import Settings, origin_of
from monitor.store.mark import StoreMark
from monitor.store.store import Store

log = logging.getLogger("laidup")

_STOP_WITHIN_S = 20.0
_PAGE_CONNECTIONS = 10  # a few more than answers it works out at once


class Daemon:
    """One yard's watch, from the broker to the mail server."""

    def __init__(
        self,
        settings: Settings,
        store: Store,
        clock: Clock,
        *,
        pace: Schedule = USUAL_PACE,
        on_batch: Callable[[BatchSummary], None] | None = None,
        housekeeping: bool = False,
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
        housekeeping : bool
            Do the jobs that rest at hours of the machine's clock. Without it, as where readings
            move the clock, the weekly report alone is looked after.
        """
        # Intake puts it right where the sensors agree on another time.
        clock = correctable_clock(clock)
        self._settings, self._store, self._clock, self._pace = settings, store, clock, pace
        self._on_batch = on_batch
        self._stopping = threading.Event()
        yard = settings.yard
        self._yards = keeper = YardKeeper(settings, store)
        self._turning = PartTurns(
            {part: s for part, s in TURNS_WITHIN_S.items() if part != "reports" or not housekeeping}
        )
        self._care = StoreCare(
            store,
            yard,
            clock,
            agency=agency_of(settings),
            backup=settings.backup,
            pace=pace,
            turning=self._turning,
            hasten_round=lambda: self._watch.hasten_round(),
        )
        refused = take_in_craft(settings, store, clock)
        end_old_access(settings, store, clock)
        # From now on the store has them; a large yard's files would be in memory twice.
        settings = self._settings = replace(settings, craft=())
        self._craft = CraftInCare(store, settings.profiles, yard, clock)
        # Readers of the page take no connection that watch, intake and post need.
        page_store = store.beside(_PAGE_CONNECTIONS) if settings.web.enabled else store
        answers = answers_of(settings, page_store, clock)
        self._post = make_post(settings, store, clock, pace, self._turning)
        self._couriers = Couriers(self._post, self._turning, pace.post_every_s)
        judgement = make_round(settings, store, clock)
        alarms = make_alarm_round(
            settings, store, clock, answers, self._care.store_condition, refused, self._craft
        )
        all_well, arrivals = AllWell(store, yard, clock), ArrivalList(store, yard, clock)
        self._watch = WatchLoop(
            judgement=judgement,
            alarms=alarms,
            all_well=all_well,
            arrivals=arrivals,
            craft=self._craft,
            clock=clock,
            pace=pace,
            turning=self._turning,
            wake_couriers=self._couriers.wake_all,
            before_round=keeper.take_before_round,
        )
        self._notice = StoreNotice(
            channels(settings.mail, settings.folder, settings.channels),
            yard,
            clock,
            lambda: self._watch.store_failure if "watch" in self._turning.unwell_parts() else "",
        )
        self._housekeeping = (
            make_housekeeping(
                settings,
                store,
                clock,
                found_broken=self._care.have_record_checked,
                goes_by_yard=lambda part: keeper.tell_at_once(of_yard(part)),
            )
            if housekeeping
            else None
        )
        self._health = HealthWatch(yard, clock, self._health_facts, pace.page_old_after)
        self._told_at = AccountSocket(
            account_socket(settings.store_url, settings.file), self._health.make_account
        )
        self._signs = LifeSignals(
            self._turning,
            account=self._health.make_account,
            lamp=Annunciator(store, settings.annunciator, clock) if settings.annunciator else None,
            pulse=Pulse(settings.ping, clock) if settings.ping else None,
            every_s=pace.signs_every_s,
        )
        self._intake = Intake(
            with_earlier_session(settings.broker, store),
            store,
            yard.sensors,
            clock,
            self._batch_taken,
            mappings=settings.read_mappings(),
            own_topic=settings.annunciator.topic if settings.annunciator else "",
        )
        self._page = (
            make_page(
                keeper,
                page_store,
                clock,
                pace,
                answers,
                self._health.make_account,
                self._watch.hasten_round,
            )
            if settings.web.enabled
            else None
        )
        keeper.tell_at_once(
            of_yard(self._care, self._notice, self._health),
            lambda now: self._post.take_staff(staff_ids(now)),
            lambda now: self._intake.take_sensors(now.yard.sensors),
        )
        keeper.tell_at_round(
            of_yard(self._craft, alarms, all_well, arrivals),
            lambda now: judgement.take_yard(now.yard, origin_of(now)),
        )
        self._threads = tuple(self._make_threads())
        self._started_s = clock.elapsed_s()

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
        store.use_archive(settings.archive, only_dropped=True)
        mark.set(url, yard, clock.now())
        return cls(settings, store, clock, housekeeping=True)

    @property
    def page_address(self) -> str | None:
        """Address of the page once the daemon has started; None where it has none."""
        return self._page.address if self._page else None

    @property
    def judged_at(self) -> datetime | None:
        """When the last round began that has judged and told all, by the daemon's clock."""
        return self._watch.judged_at

    def start(self) -> None:
        """Start every part: first what may refuse, then what reads, then what takes readings in.

        Raises
        ------
        WebError
            If the page cannot be served where it should be. Then nothing runs.
        """
        self._started_s = self._clock.elapsed_s()
        if self._page:
            self._page.start()
            log.info("The page is at %s", self._page.address)
        for thread in self._threads:
            thread.start()
        self._couriers.start()
        self._intake.start()
        self._told_at.start()
        self._signs.start()
        if self._housekeeping:
            self._housekeeping.start()
        log.info("Watching %s.", self._settings.yard.name)

    def stop(self) -> None:
        """Stop every part in order: take no more in, finish what is under way, close the store."""
        log.info("Told to stop: finishing what is under way.")
        self._signs.say_stopping()
        self._told_at.stop()
        self._intake.stop(timeout=_STOP_WITHIN_S)
        self._stopping.set()
        self._watch.hasten_round()
        end = time.monotonic() + _STOP_WITHIN_S
        self._couriers.stop(timeout=_STOP_WITHIN_S)
        for thread in self._threads:
            if thread.is_alive():  # none is where the page refused to start
                thread.join(timeout=max(end - time.monotonic(), 0.0))
        if self._housekeeping:
            self._housekeeping.stop(timeout=max(end - time.monotonic(), 0.0))
        self._signs.stop(timeout=max(end - time.monotonic(), 0.0))
        if self._page:
            self._page.stop()
        self._store.close()
        log.info("Stopped. %s is no longer watched.", self._settings.yard.name)

    def _make_threads(self) -> Iterator[threading.Thread]:
        yield threading.Thread(target=self._watch.run, args=(self._stopping,), name="watch")
        yield from self._care.make_threads(self._stopping)
        # What it has in hand may take a mail server's patience, and nothing waits for it.
        yield threading.Thread(target=self._give_notice, name="notice", daemon=True)
        if self._housekeeping is None:
            weekly = weekly_report(self._settings, self._store, self._clock)
            self._yards.tell_at_once(of_yard(weekly))
            yield threading.Thread(target=self._write_reports, args=(weekly,), name="reports")

    def _write_reports(self, weekly: WeeklySchedule) -> None:
        """Write reports when they are due. Drawing takes seconds, and no round waits for it."""

        def write_letters() -> None:
            weekly.run(self._craft.read_now())

        while not self._stopping.wait(self._pace.report_every_s):
            take_turn(self._turning, "reports", "The weekly report", write_letters)

    def _batch_taken(self, batch: BatchSummary) -> None:
        if self._on_batch:
            self._on_batch(batch)
        self._watch.note_batch(batch)

    def _give_notice(self) -> None:
        """Tell the operators where the store fails, for then no alarm can."""
        while not self._stopping.wait(self._pace.signs_every_s):
            try:
                self._notice.run_once()
            except Exception:
                log.exception("The notice that the store fails will be tried again.")

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
        states = self._housekeeping.job_states() if self._housekeeping else ()
        return HealthFacts(
            now=self._clock.now(),
            probe=self._care.probe_answer(),
            condition=self._care.store_condition(),
            parts=unwell,
            away="" if intake.connected else intake.broker,
            away_remedy=intake.broker_remedy,
            not_stored=intake.store,
            catching_up=intake.catching_up,
            channels=self._post.channel_troubles(),
            jobs=job_problems(states, self._care.copies_seen(), datetime.now(UTC)),
            job_states=states,
            running_s=self._clock.elapsed_s() - self._started_s,
        )
