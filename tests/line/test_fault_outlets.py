"""Every fault of the watch is told at every outlet within seconds, and gone soon after its end.

Real faults in one daemon: a broker that is stopped, a slow line behind which messages wait, a store
that another process locks, that may not be written or lies on a disk that is full, a file whose
page was spoilt, a mail server that hangs, a clock that is set wrong, a record that somebody
rewrites, a forecast that does not come, a copy that cannot be taken. What the store's faults look
like differs between the databases, so both have them.

``python -m tests.line.fault_table`` prints the table.
"""

import contextlib
import json
import logging
import socket
import time
from datetime import UTC, datetime, timedelta

import paho.mqtt.client as paho
import pytest
from paho.mqtt.enums import CallbackAPIVersion
from werkzeug import Response

from monitor.commands.status_lines import watch_lines
from monitor.daemon import housework
from monitor.errors import StoreError
from monitor.housekeeping.ledger import Every, Job
from monitor.yard.health import JobName
from tests.bench.winter.places import SqlitePlace, postgresql_place
from tests.delivery.scene import message
from tests.line.drills.packs import Gate
from tests.line.drills.watched import fill, flip_page, not_writable, small_disk
from tests.line.outlets import OTHER, TABLE_BEGINS, Outlets, Told
from tests.line.test_main_line import write_yard
from tests.line.test_signs import ServiceSocket

TAMPER = (
    "UPDATE layup_entries SET body = replace(body, 'Tom Varga', 'Tom Vargas')"
    " WHERE craft_id = 'plover'"
)
MEND = TAMPER.replace("'Tom Varga', 'Tom Vargas'", "'Tom Vargas', 'Tom Varga'")

LOCKED = Told("store locked", "database is locked", "store", blinds=True)
NEARLY = Told("disk nearly full", "The disk is nearly full:", "store", blinds=False, lamp="disk")
FULL = Told("disk full", "The disk is full:", "store", blinds=True, lamp="disk")
READ_ONLY = Told("store not writable", "readonly database", "store", blinds=True)
DAMAGED = Told("store broken", "The store's file is damaged", "store", blinds=True)
SERVER_LOCKED = Told("store locked, PostgreSQL", "lock timeout", "store", blinds=True)
SERVER_FULL = Told("disk full, PostgreSQL", "No space left", "store", blinds=True)
SERVER_READ_ONLY = Told("store not writable, PostgreSQL", "read-only", "store", blinds=True)
SERVER_BROKEN = Told("record rewritten, PostgreSQL", "is not what was", "record", blinds=False)
AWAY = Told("broker away", "No connection to the broker", "broker", blinds=True, has_lamp=False)
BACKLOG = Told("backlog", "Messages that had waited in the broker", "backlog", blinds=False)
OLD = Told("forecast old", "The forecast of met-norway has never come", "forecast", blinds=False)
COPY = Told("job failed", "The nightly copy of the store failed", "job", blinds=False)
STUCK = Told("mail stuck", "Messages by mail do not leave", "messages", blinds=False)
BROKEN = Told("record rewritten", "is not what was written", "record", blinds=False)
CLOCK = Told("own clock wrong", "The clock of the machine", "own_clock", blinds=False)
DROPS = Told("broker drops", "The broker has dropped", "broker_drops", blinds=False)


@contextlib.contextmanager
def deaf_server(port):
    """A mail server that takes the call and never says a word."""
    with socket.create_server(("127.0.0.1", port)):
        yield


def send_many(port, messages, size):
    """Send numbered messages of one sensor, QoS 1, and wait until the broker has all of them."""
    sender = paho.Client(CallbackAPIVersion.VERSION2, protocol=paho.MQTTv5)
    sender.connect("127.0.0.1", port)
    sender.loop_start()
    begin_s = time.time() - messages - 60
    for number in range(messages):
        pack = [{"bn": f"{OTHER}:", "n": "temperature", "u": "Cel", "t": begin_s + number, "v": 6}]
        sent = sender.publish("mill/door", json.dumps(pack).ljust(size), qos=1)
    sent.wait_for_publish(30)
    sender.disconnect()
    sender.loop_stop()


class Copying:
    """The nightly copy, which fails with a reason once it has one."""

    problem = ""

    def run(self):
        if self.problem:
            raise StoreError(self.problem)

    def jobs(self, *_):
        yield Job(
            name=JobName.BACKUP, when=Every(span=timedelta(seconds=1)), run=self.run,
            within=timedelta(hours=1), again_after=timedelta(seconds=1),
        )  # fmt: skip


@pytest.fixture(autouse=True)
def copying(monkeypatch):
    copy = Copying()
    monkeypatch.setattr(housework, "house_jobs", copy.jobs)
    return copy


@pytest.fixture
def outlets_of(broker, tmp_path, monkeypatch, mail_server, httpserver, caplog):
    """Makes the outlets of a yard whose store has an address; what they took is logged in the end.

    ``port``: where its daemon is to look for the broker.
    """
    caplog.set_level(logging.INFO)
    pings, made = [], []
    httpserver.expect_request("/ping").respond_with_handler(
        lambda request: (pings.append(request.path), Response("ok"))[1]
    )
    monkeypatch.setenv("NOTIFY_SOCKET", str(tmp_path / "notify"))
    service = ServiceSocket(tmp_path / "notify")

    def make(store_url, port=0):
        file = write_yard(tmp_path, datetime.now(UTC), broker, mail_server, "5")
        file.write_text(
            file.read_text().replace(f"port = {broker.port}\n", f"port = {port or broker.port}\n")
            + f'\n[[sensors]]\nname = "{OTHER}"\nspace = "shed"\n'
            + f'[store]\nurl = "{store_url}"\n'
            + '[annunciator]\ntopic = "mill/lamp"\n'
            + f'[ping]\nurl = "{httpserver.url_for("/ping")}"\nevery_s = 30\n'
            + '[forecast]\nsource = "met-norway"\ncontact = "watch@mill.example"\n'
        )
        made.append(Outlets(file, broker, service, pings, caplog))
        return made[0]

    yield make
    service.close()
    rows = "\n".join(one.row() for outlets in made for one in outlets.times)
    logging.getLogger(__name__).info("%s%s", TABLE_BEGINS, rows)


def test_each_fault_is_told_by_every_outlet_and_is_gone_with_its_end(
    outlets_of, copying, broker, mail_server, tmp_path
):
    with small_disk(tmp_path, 300) as disk:  # nearly full is below 200 MB
        place = SqlitePlace(disk)
        outlets = outlets_of(place.url)
        with outlets.daemon_running():
            outlets.wait_until_well()

            with place.locked():
                outlets.strike(LOCKED)
            outlets.end(LOCKED)

            outlets.wait_for_reserve()
            ballast = fill(disk, but_bytes=120_000_000)
            outlets.strike(NEARLY)
            fill(disk)
            outlets.strike(FULL)
            ballast.unlink()
            outlets.end(NEARLY, FULL)

            mail_server.stop()
            with deaf_server(mail_server.port):
                with outlets.store.transaction() as tx:
                    tx.outbox.add([message(person="ines")])
                    tx.intake_faults.note_fault("broker drops", 12, datetime.now(UTC))
                assert place.change(TAMPER) == 1
                copying.problem = "the backup disk is not mounted"
                outlets.have_forecast_of(None)
                outlets.strike(STUCK, BROKEN, DROPS, OLD, COPY)
            mail_server.start()
            assert place.change(MEND) == 1
            copying.problem = ""
            outlets.have_forecast_of(datetime.now(UTC))
            with outlets.store.transaction() as tx:
                tx.intake_faults.clear_fault("broker drops")
            outlets.end(STUCK, BROKEN, DROPS, OLD, COPY)

            outlets.clock_file.write_text("21600")
            for _ in range(4):
                outlets.send_readings()
            outlets.strike(CLOCK)
            outlets.clock_file.write_text("0")
            for _ in range(2):
                outlets.send_readings()
            outlets.end(CLOCK)

            broker.stop()
            outlets.strike(AWAY)
            broker.start()
            outlets.end(AWAY)
    lines = list(watch_lines(outlets.settings, datetime.now(UTC)))
    assert lines == ["laidup is not running here: nobody is warned. Start `laidup run`."]


def test_a_store_that_may_not_be_written_or_is_spoilt_and_what_waits_are_told_everywhere(
    outlets_of, broker, tmp_path
):
    gate = Gate(broker.port)
    file = tmp_path / "laidup.db"
    outlets = outlets_of(f"sqlite:///{file}", gate.port)
    with outlets.daemon_running():
        outlets.wait_until_well()

        with not_writable(file, tmp_path / "laidup.db-wal"):
            outlets.strike(READ_ONLY)
        outlets.end(READ_ONLY)

        # Over a slow line what waits in the broker comes in at some 130 messages a second.
        gate.bytes_per_s = 40_000
        send_many(broker.port, 6_000, size=300)
        gate.cut(0.1)
        outlets.strike(BACKLOG)
        gate.bytes_per_s = 0
        outlets.end(BACKLOG)
    sound = file.read_bytes()
    flip_page(file, "landed_readings")
    with outlets.daemon_running():
        outlets.strike(DAMAGED)
    file.write_bytes(sound)
    with outlets.daemon_running():
        outlets.end(DAMAGED)
    gate.close()


def test_faults_of_a_database_server_are_told_everywhere(outlets_of, postgres_cluster):
    with postgresql_place(postgres_cluster, megabytes=100) as place:
        outlets = outlets_of(place.url)
        with outlets.daemon_running():
            outlets.wait_until_well()

            with place.locked():
                outlets.strike(SERVER_LOCKED)
            outlets.end(SERVER_LOCKED)

            with place.not_writable():
                outlets.strike(SERVER_READ_ONLY)
            outlets.end(SERVER_READ_ONLY)

            with place.full():
                outlets.send_past_readings()
                outlets.strike(SERVER_FULL)
            outlets.end(SERVER_FULL)

            assert place.change(TAMPER) == 1
            outlets.strike(SERVER_BROKEN)
            assert place.change(MEND) == 1
            outlets.end(SERVER_BROKEN)
