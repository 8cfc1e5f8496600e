"""A lamp at a real broker stays in step, and shows when nobody watches."""

import json
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import paho.mqtt.client as mqtt
import pytest
from paho.mqtt.enums import CallbackAPIVersion

from monitor.delivery.annunciator import Annunciator, AnnunciatorSettings, state_of
from monitor.errors import DeliveryError
from monitor.yard.health import HealthAccount, HealthFault, HealthFaultKind
from tests.alarms.scene import Scene, cold_night
from tests.real.need import wait_until

ROOT = Path(__file__).parents[2]
NOW = datetime(2026, 11, 14, 22, tzinfo=UTC)
WELL = HealthAccount(at=NOW)


def account_with(kind, part="", *, is_grave=True):
    fault = HealthFault(
        kind=kind, part=part, is_grave=is_grave, what="It is.", remedy="Mend it.", since=NOW
    )
    return HealthAccount(at=NOW, faults=(fault,))


class Lamp:
    """A second client, as a lamp's controller is one."""

    def __init__(self, port):
        self.shown: list[str] = []
        self.detail: list[dict] = []
        self.client = mqtt.Client(CallbackAPIVersion.VERSION2)
        self.client.on_message = self._show
        self.client.on_connect = lambda client, *_: client.subscribe("yard/lamp/#", qos=1)
        self.client.connect("127.0.0.1", port)
        self.client.loop_start()

    def _show(self, _client, _data, message):
        if message.topic.endswith("/state"):
            self.shown.append(message.payload.decode())
        else:
            self.detail.append(json.loads(message.payload))

    def wait_for(self, state):
        wait_until(
            lambda: bool(self.shown) and self.shown[-1] == state, 10, f"{state}: {self.shown}"
        )

    def stop(self):
        self.client.disconnect()
        self.client.loop_stop()


def settings(port):
    return AnnunciatorSettings(host="127.0.0.1", port=port, topic="yard/lamp")


@pytest.fixture
def yard(tmp_path, broker):
    scene = Scene(tmp_path)
    siren = Annunciator(scene.store, settings(broker.port), scene.clock)
    siren.start()
    lamp = Lamp(broker.port)
    yield scene, siren, lamp, broker
    lamp.stop()
    siren.stop()


def keep(siren, lamp, state):
    wait_until(lambda: siren.run_once(WELL) or bool(lamp.shown), 10, "the annunciator to connect")
    siren.run_once(WELL)
    lamp.wait_for(state)


def test_the_lamp_follows_the_alarms_from_quiet_to_asking_to_acknowledged(yard):
    scene, siren, lamp, _ = yard
    keep(siren, lamp, "quiet")
    scene.judge(*cold_night(scene))
    assert siren.run_once(WELL)
    lamp.wait_for("high-asks")
    assert lamp.detail[-1]["unacknowledged"] == 16
    assert not siren.run_once(WELL), "nothing new is not told again"
    thread = scene.messages("maren")[0].thread
    scene.acknowledge_thread(thread, "maren")
    siren.run_once(WELL)
    lamp.wait_for("high")


def test_a_lamp_that_comes_late_sees_the_present(yard):
    scene, siren, lamp, broker = yard
    scene.judge(*cold_night(scene))
    keep(siren, lamp, "high-asks")
    late = Lamp(broker.port)
    late.wait_for("high-asks")
    late.stop()


def test_a_broker_that_was_away_is_told_the_present_when_it_returns(yard):
    scene, siren, lamp, broker = yard
    keep(siren, lamp, "quiet")
    broker.kill()
    scene.judge(*cold_night(scene))
    wait_until(lambda: not siren._connected, 10, "the loss of the broker to be noticed")
    assert not siren.run_once(WELL)
    broker.start()
    wait_until(lambda: siren.run_once(WELL), 40, "the annunciator to reconnect")
    lamp.wait_for("high-asks")


def test_quiet_is_not_said_by_a_watch_that_cannot_see_but_an_alarm_still_is(yard):
    scene, siren, lamp, _ = yard
    wait_until(lambda: siren.run_once(WELL) or bool(lamp.shown), 10, "the annunciator to connect")
    lamp.wait_for("quiet")
    siren.run_once(account_with(HealthFaultKind.BROKER))
    lamp.wait_for("unknown")
    wait_until(lambda: lamp.detail[-1]["faults"] == ["broker"], 10, "the fault in the detail")
    scene.judge(*cold_night(scene))
    siren.run_once(account_with(HealthFaultKind.BROKER))
    lamp.wait_for("high-asks")
    siren.run_once(account_with(HealthFaultKind.PROCESS, "watch"))
    lamp.wait_for("unknown")
    siren.run_once(account_with(HealthFaultKind.FORECAST, is_grave=False))
    lamp.wait_for("high-asks")


def test_the_lamp_shows_unknown_when_laidup_is_killed(tmp_path, broker):
    scene = Scene(tmp_path)
    scene.judge(*cold_night(scene))
    scene.store.close()
    program = (
        "import sys, time\n"
        "from monitor.clock import SystemClock\n"
        "from monitor.delivery.annunciator import Annunciator, AnnunciatorSettings\n"
        "from monitor.store.store import Store\n"
        "from monitor.yard.health import HealthAccount\n"
        "store = Store(sys.argv[1], 'kettlemoss')\n"
        "siren = Annunciator(store, AnnunciatorSettings(host='127.0.0.1', port=int(sys.argv[2]),"
        " topic='yard/lamp'), SystemClock())\n"
        "siren.start()\n"
        "while True:\n"
        "    siren.run_once(HealthAccount(at=siren._clock.now()))\n"
        "    time.sleep(0.05)\n"
    )
    lamp = Lamp(broker.port)
    watch = subprocess.Popen([sys.executable, "-c", program, scene.url, str(broker.port)], cwd=ROOT)
    try:
        lamp.wait_for("high-asks")
    finally:
        watch.kill()
        watch.wait()
    lamp.wait_for("unknown")
    lamp.stop()


def test_no_alarm_is_quiet():
    assert state_of([]) == "quiet"


@pytest.mark.parametrize("content", [None, "", "no certificate\n"])
def test_certificates_that_cannot_be_read_are_named_with_their_remedy(tmp_path, content):
    file = tmp_path / "ca.pem"
    if content is not None:
        file.write_text(content)
    scene = Scene(tmp_path / "store")
    lamp = AnnunciatorSettings(host="127.0.0.1", port=1, topic="yard/lamp", tls=True, ca_file=file)
    with pytest.raises(DeliveryError, match=r"ca\.pem.*give PEM files"):
        Annunciator(scene.store, lamp, scene.clock)
