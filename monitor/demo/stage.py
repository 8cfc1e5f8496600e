"""Puts the demo on: broker, simulated yard and daemon on the readings' clock, then takes it off."""

import shutil
import socket
import tempfile
import threading
from dataclasses import replace
from datetime import datetime, timedelta, tzinfo
from math import isnan
from pathlib import Path
from queue import SimpleQueue

from monitor.clock import ReadingsClock, from_ms
from monitor.daemon.daemon import Daemon
from monitor.daemon.opening import open_store
from monitor.daemon.pace import Schedule
from monitor.delivery.channels.folder import FolderSettings
from monitor.demo.broker import EmbeddedBroker
from monitor.demo.people import People
from monitor.intake.batch import BatchSummary
from monitor.settings.load import load_settings, shipped_folder
from monitor.store.store import Store
from monitor.wording import Wording
from monitor.yard.assessment import Hazard
from monitor.yard.readers import units_of
from simulator import kettlemoss
from simulator.publish import Publisher

_PACE = Schedule(  # the parts follow the hurried clock
    round_gap_s=0.1,
    settle_s=0.0,
    post_every_s=1.0,
    report_every_s=1.0,
    page_renew_s=1.5,
    page_old_after=timedelta(minutes=40),
)
_LEAD = timedelta(minutes=10)  # of the story before its judgement


class Stage:
    """One performance of the demo."""

    def __init__(self, *, speed: float, mails: Path | None, page_port: int) -> None:
        """Prepare everything in a folder of its own.

        Parameters
        ----------
        speed : float
            Seconds of the story in one second.
        mails : Path, optional
            Folder for the mails; without one they go with the demo.
        page_port : int
            Port of the page on 127.0.0.1; 0 takes any free one.
        """
        self._speed = speed
        self._folder = Path(tempfile.mkdtemp(prefix="laidup-demo-"))
        self.mails = mails or self._folder / "mails"
        self.broker = EmbeddedBroker()
        self.scenario = kettlemoss.scenario()
        self.clock = ReadingsClock(self.scenario.start)
        settings = load_settings(shipped_folder() / "demo" / "yard.toml")
        port = page_port or _free_port()  # links in letters name it before the page is up
        self._settings = replace(
            settings,
            store_url=f"sqlite:///{self._folder / 'demo.db'}",
            broker=replace(settings.broker, host=self.broker.host, port=self.broker.port),
            folder=FolderSettings(path=self.mails),
            web=settings.web.model_copy(
                update={"port": port, "address": f"http://127.0.0.1:{port}", "access": "open"}
            ),
            open_page_acts=True,
        )
        self._store: Store | None = None
        self._daemon: Daemon | None = None
        self._stopping = threading.Event()
        self._told = threading.Event()
        self._publisher = threading.Thread(target=self._play_story, name="simulator")
        self._people: People | None = None
        self.deeds: SimpleQueue[str] = SimpleQueue()  # what people did, a line each
        self.failure: Exception | None = None

    @property
    def yard_name(self) -> str:
        """The yard's name."""
        return self._settings.yard.name

    @property
    def yard_zone(self) -> tzinfo:
        """The yard's own time."""
        return self._settings.yard.zone

    def air_line(self) -> str:
        """Every space's air, and how many alarms are open, in one line."""
        if self._store is None:
            return ""
        with self._store.snapshot() as tx:
            judged, alarms = tx.assessments.latest_judgements(), tx.alarms.open_alarms()
        yard = self._settings.yard
        words = Wording(zone=yard.zone, units=units_of(yard))
        names = {space.id: space.name for space in yard.spaces}
        air = [
            f"{names[one.subject.space]} {words.temperature(one.now_c)}"
            for one in judged
            if one.hazard is Hazard.AIR and not isnan(one.now_c)
        ]
        return f"{', '.join(air)}; {len(alarms)} alarms open" if air else "no reading yet"

    def spring_lines(self) -> list[str]:
        """How the craft that was saved goes back into the water, a line a step."""
        return [] if self._people is None else list(self._people.spring_lines())

    def start(self) -> str:
        """Raise the curtain; tells the page's address."""
        self.mails.mkdir(parents=True, exist_ok=True)
        self.broker.start()
        self._store = open_store(self._settings.store_url, self._settings.yard.id)
        self._daemon = Daemon(
            self._settings,
            self._store,
            self.clock,
            pace=_PACE,
            on_batch=self._batch_taken,
        )
        self._daemon.start()
        self._people = People(
            self._settings, self._store, self.mails, self.scenario.start, self.deeds.put
        )
        self._publisher.start()
        return self._daemon.page_address or ""

    def wait(self, timeout_s: float) -> bool:
        """Wait for the end of the story; True once it has been told."""
        return self._told.wait(timeout_s)

    def stop(self) -> None:
        """Lower the curtain: nothing runs on, and the demo's own folder goes."""
        self._stopping.set()
        if self._publisher.is_alive():
            self._publisher.join(timeout=10)
        if self._daemon is not None:
            self._daemon.stop()
        self.broker.stop()
        shutil.rmtree(self._folder, ignore_errors=True)

    def _batch_taken(self, batch: BatchSummary) -> None:
        if batch.newest_ms is not None:
            self.clock.advance_to(from_ms(batch.newest_ms))

    def _play_story(self) -> None:
        try:
            with Publisher(self.broker.host, self.broker.port, protocol="3.1.1") as publisher:
                publisher.play(
                    self.scenario,
                    speed=self._speed,
                    stop=self._stopping,
                    on_time=self._wait_for_judgement,
                )
        except (ConnectionError, OSError) as error:
            self.failure = error
        self._told.set()

    def _wait_for_judgement(self, at: datetime) -> None:
        """Hold the story back on a slow machine: it never runs far ahead of what is judged."""
        while not self._stopping.is_set():
            judged = self._daemon.judged_at if self._daemon else None
            if judged is None or at - judged < _LEAD:
                break
            self._stopping.wait(0.02)
        if self._people is not None and not self._stopping.is_set():
            self._people.do_what_is_due(at)


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port
