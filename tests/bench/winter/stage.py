"""All parts of one run: broker, mail server, weather service, store and daemon, each a real one."""

import asyncio
import contextlib
import json
import logging
import os
import signal
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import psutil
from aiosmtpd.smtp import SMTP, Envelope, Session
from sqlalchemy import create_engine, text
from werkzeug import Request, Response
from werkzeug.serving import make_server

from simulator.publish import Publisher
from tests.bench.winter.places import StorePlace
from tests.bench.winter.story import SharedStory, Word
from tests.bench.winter.yard import START, Pack, Winter, write_yard
from tests.line.drills.packs import Gate
from tests.real.broker import Broker
from tests.real.mail_server import MailServer

ROOT = Path(__file__).parents[3]
_PATIENCE_S = 60.0  # for what a well daemon does within a second, on a machine that is busy
_BLIND_S = 0.4  # of the machine's time to a step of a story that nobody can judge
_READINGS = "(SELECT * FROM readings UNION ALL SELECT * FROM landed_readings) AS one"


@dataclass(frozen=True, slots=True)
class Arrived:
    """One mail as it came to its person."""

    at: datetime  # by the story
    to: str
    subject: str
    text: str


def one_line(words: str) -> str:
    """A subject as it is before a mail's header is folded, and a text before its lines are."""
    return " ".join(words.split())


class SlowMailServer(MailServer):
    """A mail server that dates what it keeps by the story, and may take its time over each."""

    def __init__(self, story: SharedStory) -> None:
        super().__init__()
        self.slow_s = 0.0
        self.arrived: list[Arrived] = []
        self._story = story

    async def handle_DATA(self, server: SMTP, session: Session, envelope: Envelope) -> str:  # noqa: N802
        """Keep the mail or refuse it (the name is aiosmtpd's)."""
        if self.slow_s:
            await asyncio.sleep(self.slow_s)
        answer = await super().handle_DATA(server, session, envelope)
        if answer.startswith("250"):
            mail = self.messages.pop()
            person = mail.recipients[0].partition("@")[0]
            subject = one_line(mail.subject)
            words = one_line(f"{subject} {mail.text()}")
            self.arrived.append(Arrived(self._story.now, person, subject, words))
        return answer


class WeatherService:
    """Answers as the public service does, with what it knew at the story's time."""

    def __init__(self, winter: Winter, story: SharedStory) -> None:
        self.away = False
        self.asked = 0
        self._winter, self._story = winter, story
        logging.getLogger("werkzeug").setLevel(logging.ERROR)
        self._server = make_server("127.0.0.1", 0, self._answer, threaded=True)
        self.url = f"http://127.0.0.1:{self._server.port}"
        threading.Thread(target=self._server.serve_forever, daemon=True).start()

    @Request.application
    def _answer(self, _request: Request) -> Response:
        self.asked += 1
        if self.away:
            return Response("back soon", status=503)
        body = json.dumps(self._winter.forecast_at(self._story.now))
        return Response(body, headers={"cache-control": "max-age=3600"})

    def close(self) -> None:
        """Listen no more."""
        self._server.shutdown()
        self._server.server_close()


@dataclass(frozen=True, slots=True)
class Step:
    """What was measured at one step of the story."""

    at: datetime
    memory_mb: float
    processor_s: float  # of the daemon's process, since it started
    store_mb: float
    behind_mb: float  # write-ahead log
    took_s: float  # from the first pack until a round had judged all of them
    judged: bool  # whether this step was judged before the next began


class Stage:
    """One run. What sensors send is published here, and every step waits until it is judged."""

    def __init__(self, winter: Winter, folder: Path, place: StorePlace) -> None:
        """Make all parts; nothing runs yet."""
        self.winter, self.folder, self.place = winter, folder, place
        self.story = SharedStory(folder / "story")
        self.story[Word.NOW_MS] = round(START.timestamp() * 1000)
        (folder / "broker").mkdir()
        self.broker = Broker(folder / "broker", log_type="error")
        self.gate = Gate(self.broker.port)
        self.mail = SlowMailServer(self.story)
        self.weather = WeatherService(winter, self.story)
        self.file = write_yard(folder, store=place.url, broker=self.gate.port, mail=self.mail.port)
        self.log = folder / "daemon.log"
        self.steps: list[Step] = []
        self.published: dict[tuple[str, str, int], float] = {}  # acknowledged by the broker
        self.change_packs: list[Callable[[list[Pack]], list[Pack]]] = []  # by sensors that fail
        self.blind = 0  # faults under which nothing can be judged
        self.deaf = 0  # faults under which the sensors cannot reach the broker
        self.mute = 0  # faults under which no mail leaves
        self.starts = 0
        self._held: list[Pack] = []
        self._process: subprocess.Popen[bytes] | None = None
        self._publisher: Publisher | None = None
        self._engine = create_engine(place.looking_url, pool_pre_ping=True)

    @contextlib.contextmanager
    def running(self) -> Iterator["Stage"]:
        """All parts started; in the end all are stopped."""
        self.broker.start()
        self.mail.start()
        try:
            self.start_daemon()
            self._publisher = Publisher("127.0.0.1", self.broker.port, "brackwater-gateway")
            self._publisher.connect()
            yield self
        finally:
            if self._publisher is not None:
                self._publisher.close()
            self.end_daemon()
            self.mail.stop()
            self.weather.close()
            self.gate.close()
            self.broker.kill()
            self._engine.dispose()

    # --- the daemon ---------------------------------------------------------------------------

    def launch_daemon(self) -> None:
        """Start the daemon's process, and wait for nothing."""
        self.story[Word.CONNECTED] = 0
        self.story[Word.JUDGED_MS] = 0
        self.story[Word.HELD] = self.story[Word.ROUND] = 0  # a killed one has left its own there
        with self.log.open("ab") as log:
            self._process = subprocess.Popen(
                [*self.place.like_any_user, sys.executable, "-m",
                 "tests.bench.winter.watched_winter", str(self.file), str(self.folder / "story"),
                 self.weather.url], cwd=ROOT, stderr=log, env={**os.environ, "NOTIFY_SOCKET": ""},
            )  # fmt: skip
        self.starts += 1

    def start_daemon(self) -> None:
        """Start the daemon and wait until it hears the broker."""
        self.launch_daemon()
        self.wait_for(lambda: self.story[Word.CONNECTED] == 1, "the daemon to connect")

    def end_daemon(self, how: signal.Signals = signal.SIGTERM) -> None:
        """Kill the daemon, or ask it to stop."""
        if self._process is not None:
            self._process.send_signal(how)
            try:
                self._process.wait(60)
            except subprocess.TimeoutExpired:
                self._process.kill()
                self._process.wait(10)
            self._process = None

    @property
    def daemon_runs(self) -> bool:
        """Whether the daemon's process lives."""
        return self._process is not None and self._process.poll() is None

    def wait_for(self, condition: Callable[[], bool], what: str, patience_s: float = 0.0) -> bool:
        """Wait for a condition; with a patience of its own a vain wait is no failure."""
        end = time.monotonic() + (patience_s or _PATIENCE_S)
        while not condition():
            if time.monotonic() > end:
                if patience_s:
                    return False
                said = self.log.read_text(errors="replace")[-3000:] if self.log.exists() else ""
                raise TimeoutError(
                    f"{self.story.now:%d %b %H:%M}: waited {_PATIENCE_S:g} s for {what};"
                    f" the daemon said:\n{said}"
                )
            time.sleep(0.005)
        return True

    # --- the story ----------------------------------------------------------------------------

    def pass_step(self, at: datetime, packs: Sequence[Pack]) -> None:
        """Let a step of the story pass, and what the sensors send at its end be judged."""
        if not (self.deaf or self.blind):
            self.story[Word.HELD] = 1
            self.wait_for(lambda: self.story[Word.ROUND] == 0, "the round to end")
        self.story[Word.NOW_MS] = round(at.timestamp() * 1000)
        sent = list(packs)
        for change in self.change_packs:
            sent = change(sent)
        self._held += sent
        began = time.monotonic()
        if self.deaf or self.blind:
            if not self.deaf:
                self._publish_held()
            time.sleep(_BLIND_S)
            self._measure(at, time.monotonic() - began, judged=False)
            return
        # Else it would hang on chance which of two rounds knows a new forecast, or tidied tables.
        self.wait_for(lambda: self.story[Word.JOBS_MS] >= self.story[Word.NOW_MS], "the jobs")
        self._publish_held()
        judged = self._wait_until_judged(at, sent)
        self._measure(at, time.monotonic() - began, judged=judged)

    def send_with_next(self, packs: Sequence[Pack]) -> None:
        """Have packs sent along with what comes next."""
        self._held += packs

    def _publish_held(self) -> None:
        """Send what the sensors hold."""
        assert self._publisher is not None
        for pack in self._held:
            self._publisher.publish(pack.topic, pack.payload())
        if not self._publisher.settle():
            raise TimeoutError("the broker acknowledged nothing within 30 s")
        for pack in self._held:
            for label, _, at_s, value in pack.records:
                self.published.setdefault((pack.sensor, label, at_s * 1000), value)
        self._held.clear()

    def _wait_until_judged(self, at: datetime, packs: Sequence[Pack]) -> bool:
        """Wait until this step's packs are stored, and a round has begun after that."""
        if packs:
            at_ms = round(at.timestamp() * 1000)
            due = len(
                {
                    (pack.sensor, one[0])
                    for pack in packs
                    for one in pack.records
                    if one[2] * 1000 == at_ms
                }
            )
            patience_s = 15.0 if self.story[Word.MOVED_MS] else _PATIENCE_S
            if not self.wait_for(
                lambda: self._stored_at(at_ms) >= due, f"{due} readings", patience_s
            ):
                self.story[Word.HELD] = 0
                return False
        after_ms = self.story[Word.NOW_MS] + 60_000
        self.story[Word.NOW_MS] = after_ms
        self.story[Word.HELD] = 0
        # A clock that is set wrong is gone by until laidup has found it out: by then it is right.
        judged = self.wait_for(
            lambda: after_ms <= self.story[Word.JUDGED_MS] < after_ms + 60_000,
            "a round",
            15.0 if self.story[Word.MOVED_MS] else _PATIENCE_S,
        )
        if judged and not self.mute:
            self.wait_for(lambda: self.waiting_mails() == 0, "the mails to leave", _PATIENCE_S)
        return judged

    def _stored_at(self, at_ms: int) -> int:
        return int(
            self.ask(
                "SELECT (SELECT count(*) FROM readings WHERE at_ms = :at AND yard_id = 0)"
                " + (SELECT count(*) FROM landed_readings WHERE at_ms = :at AND yard_id = 0)",
                at=at_ms,
            )[0][0]
        )

    def waiting_mails(self) -> int:
        """Messages that have neither arrived nor been given up."""
        return int(self.ask("SELECT count(*) FROM outbox WHERE outcome IS NULL")[0][0])

    def _measure(self, at: datetime, took_s: float, *, judged: bool) -> None:
        memory = processor = 0.0
        if self.daemon_runs:
            assert self._process is not None
            with contextlib.suppress(psutil.Error):
                process = psutil.Process(self._process.pid)
                memory = process.memory_info().rss / 1e6
                times = process.cpu_times()
                processor = times.user + times.system
        store, behind = self.place.sizes_mb()
        self.steps.append(Step(at, memory, processor, store, behind, took_s, judged))

    # --- looking ------------------------------------------------------------------------------

    def ask(self, statement: str, **given: object) -> list[tuple[object, ...]]:
        """Rows of the store, asked beside the daemon."""
        with self._engine.connect() as connection:
            return [tuple(row) for row in connection.execute(text(statement), given)]

    def readings(self) -> list[tuple[str, str, int, int, int]]:
        """Sensor, channel, time [ms], value in steps and how often it is there."""
        rows = self.ask(
            f"SELECT sensor, channel, at_ms, min(value), count(*) FROM {_READINGS}"
            " JOIN series ON series.yard_id = one.yard_id AND series.series_id = one.series_id"
            " GROUP BY sensor, channel, at_ms"
        )
        return [(str(s), str(c), int(t), int(v), int(n)) for s, c, t, v, n in rows]  # type: ignore[call-overload]

    def has_all_readings(self) -> bool:
        """Whether the store has everything that the broker has acknowledged."""
        return int(self.ask(f"SELECT count(*) FROM {_READINGS}")[0][0]) >= len(self.published)  # type: ignore[call-overload]

    def health(self) -> set[str]:
        """Which checks of /health fail now; ``"gone"`` where nobody answers."""
        page = f"http://127.0.0.1:{self.story[Word.PAGE]}/health"
        try:
            with urllib.request.urlopen(page, timeout=5) as said:
                answer = json.load(said)
        except urllib.error.HTTPError as error:
            answer = json.load(error)
        except OSError:
            return {"gone"}
        return {name for name, one in answer["checks"].items() if one.get("status") != "pass"}


def play(stage: Stage, by_hour: Callable[[int], None] = lambda _hour: None) -> None:
    """Let a winter pass; ``by_hour`` is called before each step with the hours until then."""
    for number, (at, packs) in enumerate(stage.winter.steps()):
        by_hour(number * stage.winter.step_h)
        stage.pass_step(at, packs)
