"""Attacks on the yard's broker by whoever holds one device's password, or none: each is refused.

What the broker answers to each attempt is MQTT 5's own reason (0x87: not authorised), and what
reached the daemon is read off a last message that is allowed: what was sent before comes before it.
"""

import socket
import ssl
import threading
import warnings

import paho.mqtt.client as paho
import pytest
from paho.mqtt.enums import CallbackAPIVersion
from paho.mqtt.subscribeoptions import SubscribeOptions

from monitor.errors import BrokerError
from monitor.intake.broker import BrokerSettings
from monitor.intake.drops import DROPPED_TOPIC
from monitor.intake.session import check_broker
from tests.deploy.test_mosquitto import run
from tests.real.need import wait_until
from tests.real.yard_broker import DAEMON, as_user

NOT_AUTHORISED = 0x87  # MQTT 5.0, section 2.4
LAMP, GATEWAY = "yardlamp", "shedgate"
OWN = "mill-lane/shedgate/air"


class Device:
    """A client with one user's password, which keeps what the broker answers it."""

    def __init__(self, broker, user, password="", client_id="", will=None):
        self.heard: list[tuple[str, bytes]] = []
        self.answers: dict[int, list[int]] = {}
        self.ended = threading.Event()
        self._client = paho.Client(
            CallbackAPIVersion.VERSION2, client_id or user, protocol=paho.MQTTv5
        )
        self._client.tls_set(str(broker.folder / "broker.crt"))
        self._client.username_pw_set(user, password or f"{user}-pw")
        if will is not None:
            self._client.will_set(*will, qos=1)
        self._client.on_message = lambda _c, _u, one: self.heard.append((one.topic, one.payload))
        self._client.on_publish = lambda _c, _u, mid, why, _p: self._answered(mid, [why])
        self._client.on_subscribe = lambda _c, _u, mid, why, _p: self._answered(mid, why)
        self._client.on_disconnect = lambda *_: self.ended.set()
        self._client.connect("127.0.0.1", broker.port)
        self._client.loop_start()
        wait_until(self._client.is_connected, 10, f"{user} to connect")

    def _answered(self, mid, reasons):
        self.answers[mid] = [one.value for one in reasons]

    def _answer(self, mid):
        wait_until(lambda: mid in self.answers, 10, "the broker to answer")
        return self.answers[mid]

    def publish(self, topic, payload=b"4.5", *, retain=False):
        return self._answer(self._client.publish(topic, payload, qos=1, retain=retain).mid)[0]

    def send_huge(self, topic, size):
        self._client.publish(topic, bytes(size), qos=1)

    def subscribe(self, *topics):
        wanted = [(one, SubscribeOptions(qos=1)) for one in topics]
        return self._answer(self._client.subscribe(wanted)[1])

    def fall_silent(self):
        """Do nothing more, without a goodbye."""
        self._client.loop_stop()

    def close(self):
        self._client.disconnect()
        self._client.loop_stop()


@pytest.fixture
def device(yard_broker):
    made = []

    def make(user, **more):
        made.append(Device(yard_broker, user, **more))
        return made[-1]

    yield make
    for one in made:
        one.close()


def test_a_device_writes_nothing_but_its_own_readings(device):
    daemon = device(DAEMON)
    daemon.subscribe("#", DROPPED_TOPIC)
    gateway, lamp = device(GATEWAY), device(LAMP)
    for topic in (
        "mill-lane/otherbay/air",  # another sensor's
        "millpond/pondgate/air",  # another yard's
        "mill-lane/lamp/state",  # what the lamp shows
        "mill-lane/shedgates/air",  # a name that begins as its own
        "shedgate/air",
        DROPPED_TOPIC,  # laidup believes it of the broker
    ):
        assert gateway.publish(topic) == NOT_AUTHORISED, topic
        assert gateway.publish(topic, retain=True) == NOT_AUTHORISED, topic
    for topic in (OWN, "mill-lane/lamp/state", "mill-lane/yardlamp/air"):
        assert lamp.publish(topic) == NOT_AUTHORISED, topic
    # A last will is published by the broker, in the name of who left it.
    lamp.close()
    thief = device(LAMP, will=("mill-lane/lamp/state", b"all is well"))
    thief.fall_silent()
    device(LAMP)  # takes the other's place, whose will is read out then
    gateway.publish(OWN, b"last")
    wait_until(lambda: (OWN, b"last") in daemon.heard, 10, "the last message")
    assert [one for one in daemon.heard if one[0] != DROPPED_TOPIC] == [(OWN, b"last")]


def test_a_device_hears_nothing_but_its_own_topics_however_it_asks(device):
    daemon, gateway, lamp = device(DAEMON), device(GATEWAY), device(LAMP)
    for one in (gateway, lamp):
        # A shared subscription and the broker's own topics are further ways to ask.
        one.subscribe("#", "+/+/+", "mill-lane/#", "$share/thieves/mill-lane/#", "$SYS/#")
    other = device("pondgate")
    other.subscribe("#", "mill-lane/#", "$share/thieves/#")
    assert gateway.publish(OWN) in (0x00, 0x10)  # taken; 0x10: nobody listens
    assert daemon.publish("mill-lane/lamp/state", b"frost") in (0x00, 0x10)
    wait_until(lambda: lamp.heard, 10, "the lamp to hear its state")
    # Once for each way that it asked, as the broker may (MQTT 5.0, 3.3.4).
    assert set(lamp.heard) == {("mill-lane/lamp/state", b"frost")}
    assert (gateway.heard, other.heard) == ([], [])


def test_a_retained_reading_is_heard_as_what_it_is_and_a_packet_too_large_ends_its_sender(device):
    gateway = device(GATEWAY)
    gateway.publish(OWN, b"old", retain=True)
    gateway.send_huge(OWN, 2 * 1024 * 1024)
    wait_until(gateway.ended.is_set, 10, "the broker to end the connection")
    daemon = device(DAEMON)
    daemon.subscribe("mill-lane/#")
    device("pondgate").publish("millpond/pondgate/air", b"still there")
    wait_until(lambda: daemon.heard, 10, "what was retained")
    assert daemon.heard == [(OWN, b"old")]


def settings_of(broker, **more):
    usual = {
        "port": broker.port, "topics": ("mill-lane/#",), "username": DAEMON,
        "password": f"{DAEMON}-pw", "client_id": DAEMON, "tls": True,
        "ca_file": broker.folder / "broker.crt", "keep_session": False,
    }  # fmt: skip
    return BrokerSettings(**(usual | more))


@pytest.mark.parametrize(
    ("wrong", "remedy"),
    [
        ({"tls": False}, "tls"),
        ({"ca_file": None}, "ca_file"),
        ({"password": "guess"}, "password"),
        ({"username": None, "password": None}, "password"),
    ],
    ids=["plain", "no authority", "wrong password", "no password"],
)
def test_laidup_says_what_keeps_it_from_the_yard_s_broker(yard_broker, wrong, remedy):
    assert check_broker(settings_of(yard_broker))
    with pytest.raises(BrokerError) as told:
        check_broker(settings_of(yard_broker, **wrong))
    assert remedy in str(told.value)


@pytest.mark.parametrize("version", ["5", "3.1.1"])
def test_a_check_loses_nothing_that_waits_for_the_daemon(yard_broker, version):
    # yard.conf calls a client by its user, so that the check is given the daemon's own session.
    daemon = as_user(yard_broker, DAEMON)
    session = ["-i", DAEMON, "-c", "-q", "1", "-t", "mill-lane/#"]
    run("mosquitto_sub", yard_broker, *daemon, *session, "-E", check=True)
    for value in ("4.5", "5.5"):
        sent = ["-q", "1", "-t", OWN, "-m", value]
        run("mosquitto_pub", yard_broker, *as_user(yard_broker, GATEWAY), *sent, check=True)
    for _ in range(2):
        assert check_broker(settings_of(yard_broker, version=version))
    heard = run("mosquitto_sub", yard_broker, *daemon, *session, "-C", "2", "-W", "15")
    assert heard.stdout.split() == ["4.5", "5.5"]


@pytest.mark.parametrize("version", ["5", "3.1.1"])
def test_a_check_leaves_no_session_of_its_own_behind(broker, version, monkeypatch):
    monkeypatch.setattr("monitor.intake.session.time.time_ns", lambda: 7)
    assert check_broker(BrokerSettings(port=broker.port, client_id="mill", version=version))
    found = []
    client = paho.Client(CallbackAPIVersion.VERSION2, "mill-check-7", clean_session=False)
    client.on_connect = lambda _c, _u, flags, _why, _p: found.append(flags.session_present)
    client.connect("127.0.0.1", broker.port)
    client.loop_start()
    wait_until(lambda: found, 10, "the broker to answer")
    client.disconnect()
    client.loop_stop()
    assert found == [False]


def test_old_tls_is_refused(yard_broker):
    context = ssl.create_default_context(cafile=yard_broker.folder / "broker.crt")
    context.set_ciphers("DEFAULT:@SECLEVEL=0")  # else this machine's own library refuses it
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)  # old on purpose
        context.minimum_version = ssl.TLSVersion.TLSv1
        context.maximum_version = ssl.TLSVersion.TLSv1_1
    with (
        socket.create_connection(("127.0.0.1", yard_broker.port), timeout=10) as line,
        pytest.raises(ssl.SSLError, match=r"(?i)protocol version"),
    ):
        context.wrap_socket(line, server_hostname="127.0.0.1")
