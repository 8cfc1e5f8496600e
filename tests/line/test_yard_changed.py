"""A yard that people change while it is watched: the next round goes by it, and the past stays."""

import json
import math
from datetime import UTC, datetime, timedelta

import pytest

from monitor.daemon import daemon as wiring
from monitor.daemon.daemon import Daemon
from monitor.settings.load import load_settings
from monitor.settings.yard_acts import InUse, YardBook
from monitor.store.store import Store
from monitor.yard.assessment import Hazard
from monitor.yard.reading import Channel
from monitor.yard.yard_change import ItemEdit, YardPart
from tests.line.connected import is_connected
from tests.line.test_main_line import SENSOR, publish, write_yard
from tests.line.test_signs import QUICK
from tests.real.need import wait_until

NEW = "urn:dev:ops:mill-loft"
LOFT = ItemEdit(part=YardPart.SPACES, key="loft", after={"name": "Loft", "kind": "cold"})


@pytest.fixture
def watched(broker, mail_server, tmp_path):
    """The daemon, its store as a command beside it opens it, and the yard as that command sees."""
    file = write_yard(tmp_path, datetime.now(UTC), broker, mail_server, "5")
    settings = load_settings(file)
    store = wiring.open_store(settings.store_url, settings.yard.id)
    daemon = Daemon(settings, store, wiring.SystemClock(), pace=QUICK)
    daemon.start()
    beside = Store(settings.store_url, settings.yard.id)
    wait_until(lambda: is_connected(daemon), 20, "the daemon to connect")

    def change(*edits):
        book = YardBook(
            lambda: load_settings(file), beside, wiring.SystemClock(),
            lambda: InUse(spaces={}, people={}),
        )  # fmt: skip
        return book.make_changes(edits, "ines")

    yield daemon, beside, change, broker, file
    beside.close()
    daemon.stop()


def hang(sensor, space, **more):
    return ItemEdit(part=YardPart.SENSORS, key=sensor, after={"space": space}, **more)


def send(broker, sensor, celsius, at):
    pack = [{"bn": f"{sensor}:", "n": "temperature", "u": "Cel", "v": celsius, "t": at.timestamp()}]
    publish(broker.port, "5", json.dumps(pack))


def judged_air(store, space):
    """The air of a space now by the latest round; None: none is known."""
    with store.snapshot() as tx:
        judged = tx.assessments.latest_judgements()
    found = [one for one in judged if one.hazard is Hazard.AIR and one.subject.space == space]
    known = [one.now_c for one in found if not math.isnan(one.now_c)]
    return known[0] if known else None


def readings_of(store, sensor):
    key = (sensor, Channel.TEMPERATURE)
    with store.snapshot() as tx:
        found = tx.readings.traces_between([key], 0, 2**60).get(key)
    return [] if found is None else found.value.tolist()


def test_a_sensor_that_was_heard_unknown_is_taken_in_without_a_restart(watched):
    _, store, change, broker, _ = watched
    heard_at = datetime.now(UTC) - timedelta(minutes=20)
    send(broker, NEW, -3.0, heard_at)

    def kept_aside():
        with store.snapshot() as tx:
            return tx.aside.newest_by_topic()

    wait_until(kept_aside, 20, "the unknown sensor's message")
    change(LOFT, hang(NEW, "loft"))
    # What it had sent before anybody said where it hangs is kept, and tells of no place.
    wait_until(lambda: readings_of(store, NEW) == [-3.0], 20, "what it had sent before")
    assert judged_air(store, "loft") is None
    send(broker, NEW, -4.0, datetime.now(UTC))
    wait_until(lambda: judged_air(store, "loft") == -4.0, 20, "the loft's own air")


def test_a_moved_sensor_tells_of_its_new_place_and_no_longer_of_the_old(watched):
    _, store, change, broker, _ = watched
    # Half an hour apart: no air falls by so much at once, and a jump would be doubted.
    send(broker, SENSOR, 6.0, datetime.now(UTC) - timedelta(minutes=30))
    wait_until(lambda: judged_air(store, "shed") == 6.0, 20, "the shed's air")
    change(LOFT, hang(SENSOR, "loft"))
    send(broker, SENSOR, 3.0, datetime.now(UTC))
    wait_until(lambda: judged_air(store, "loft") == 3.0, 20, "the loft's air")
    # What was measured in the shed stays true of the shed, for as long as any reading holds.
    assert judged_air(store, "shed") == 6.0
