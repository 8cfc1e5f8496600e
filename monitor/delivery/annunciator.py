"""Keeps a lamp or siren at the yard in step with the alarms, over MQTT, internet or not.

It tells a state, not events: a retained topic always holds the present, so a lamp that was off,
or a broker that was away, catches up by itself, and nothing old can ever come late. The broker
says ``unknown`` in laidup's stead when laidup dies: a lamp then shows that nobody watches.
"""

import json
import logging
from collections import Counter
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from threading import Event, Lock
from typing import TYPE_CHECKING

from monitor.clock import Clock
from monitor.errors import DeliveryError, StoreError
from monitor.yard.alarm import ACTIVE, Alarm, AlarmState, Priority
from monitor.yard.health import HealthAccount, HealthFault, HealthFaultKind

if TYPE_CHECKING:  # whoever reads the settings alone needs neither
    import paho.mqtt.client as mqtt

    from monitor.store.store import Store

log = logging.getLogger("laidup.delivery")

UNKNOWN = "unknown"
QUIET = "quiet"
_CHECK_WITHIN_S = 10.0
_RETURNS_WITHIN_S = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class AnnunciatorSettings:
    """The yard's own broker, and where below ``topic`` the state is kept."""

    host: str
    port: int
    topic: str  # ``kettlemoss/annunciator``
    username: str | None = None
    password: str | None = field(default=None, repr=False)
    tls: bool = False
    ca_file: Path | None = None  # certificates to trust instead of the machine's
    certificate_file: Path | None = None
    key_file: Path | None = None


class Annunciator:
    """Publishes the yard's alarm state whenever it differs from what the broker holds.

    ``<topic>/state`` is one word: ``quiet``; ``low``, ``medium`` or ``high`` while an alarm of
    that priority stands; with ``-asks`` added while one has not been acknowledged; ``unknown``
    when laidup is not there. ``<topic>/detail`` is JSON with counts, the time,
    and of what laidup itself has a fault (the keys of ``/health``).
    """

    def __init__(self, store: "Store", settings: AnnunciatorSettings, clock: Clock) -> None:
        self._store = store
        self._settings = settings
        self._clock = clock
        self._lock = Lock()
        self._connected = False
        # State and faults that the broker was last told; None: not known.
        self._held: tuple[str, list[str]] | None = None
        client = _client_of(settings)
        client.will_set(self._topic_of("state"), UNKNOWN, qos=1, retain=True)
        client.reconnect_delay_set(min_delay=1, max_delay=30)
        client.on_connect = self._on_connect
        client.on_disconnect = self._on_disconnect
        self._client = client

    def start(self) -> None:
        """Connect, and keep connecting until the broker is there."""
        self._client.connect_async(self._settings.host, self._settings.port, keepalive=20)
        self._client.loop_start()

    def stop(self) -> None:
        """Publish ``unknown`` and disconnect: from now on nothing is watched."""
        if self._connected:
            self._client.publish(
                self._topic_of("state"), UNKNOWN, qos=1, retain=True
            ).wait_for_publish(timeout=2)
        self._client.disconnect()
        self._client.loop_stop()

    def run_once(self, account: HealthAccount) -> bool:
        """Publish the lamp's state where it has changed; True if it was published.

        Call it after each round of alarms, and now and then without one.

        Parameters
        ----------
        account : HealthAccount
            How the watch stands. While no rounds run the lamp says ``unknown``: what was last
            known may be over. With any other fault that keeps laidup from seeing or telling, it
            goes on showing an alarm, but does not say that all is quiet.
        """
        alarms: list[Alarm] = []
        state = UNKNOWN
        if not any(_stops_rounds(fault) for fault in account.faults):
            with suppress(StoreError):
                with self._store.snapshot() as tx:
                    alarms = tx.alarms.open_alarms()
                state = state_of(alarms)
        if state == QUIET and account.is_blind:
            state = UNKNOWN
        faults = sorted({str(one.kind) for one in account.faults})
        with self._lock:
            if not self._connected or (state, faults) == self._held:
                return False
            detail = json.dumps(
                {
                    "at": self._clock.now().strftime("%Y-%m-%dT%H:%M:%SZ"),
                    "state": state,
                    **_alarm_counts(alarms),
                    "faults": faults,
                }
            )
            self._client.publish(self._topic_of("detail"), detail, qos=1, retain=True)
            self._client.publish(self._topic_of("state"), state, qos=1, retain=True)
            self._held = (state, faults)
        return True

    def _topic_of(self, leaf: str) -> str:
        return f"{self._settings.topic}/{leaf}"

    def _on_connect(self, _client: object, _data: object, _flags: object, *rest: object) -> None:
        failed = bool(getattr(rest[0], "is_failure", False))
        with self._lock:
            self._connected = not failed
            self._held = None  # the broker may have said "unknown" in our stead
        if failed:
            log.warning("The annunciator's broker refuses us: %s.", rest[0])

    def _on_disconnect(self, *_: object) -> None:
        with self._lock:
            self._connected = False
            self._held = None


def check_annunciator(settings: AnnunciatorSettings) -> str:
    """Send a word beside the lamp's own topic, see whether it comes back, and tell.

    The lamp's state is left alone: only the daemon knows it.

    Raises
    ------
    DeliveryError
        With the reason and what to look at, if the broker does not take it.
    """
    where = f"{settings.host}:{settings.port}"
    topic = f"{settings.topic}/check"
    answered, returned = Event(), Event()
    refused: list[str] = []

    def on_connect(client: "mqtt.Client", _data: object, _flags: object, *rest: object) -> None:
        if getattr(rest[0], "is_failure", False):
            refused.append(str(rest[0]))
            answered.set()
        else:
            client.subscribe(topic, qos=1)

    client = _client_of(settings)
    client.on_connect = on_connect
    client.on_subscribe = lambda *_: answered.set()
    client.on_message = lambda *_: returned.set()
    try:
        client.connect(settings.host, settings.port, keepalive=20)
        client.loop_start()
        if not answered.wait(_CHECK_WITHIN_S):
            raise _no_lamp(f"{where} does not answer within {_CHECK_WITHIN_S:g} s; check the port")
        if refused:
            raise _no_lamp(f"{where} refuses: {refused[0]}; check username and password")
        sent = client.publish(topic, "test", qos=1)
        sent.wait_for_publish(timeout=_CHECK_WITHIN_S)
        if not sent.is_published():
            raise _no_lamp(f"{where} does not confirm {topic}; may this user write there?")
    except OSError as error:
        reason = error.strerror or str(error)
        raise _no_lamp(f"{where}: {reason}; check host, port and certificates") from error
    finally:
        client.disconnect()
        client.loop_stop()
    if returned.wait(_RETURNS_WITHIN_S):
        return f"{where} took a test on {topic} and gave it back; the lamp listens beside it"
    return (
        f"{where} took a test on {topic}, but it did not come back: this user may not write or not"
        f" read there. See that it may write {settings.topic}/#, and that the lamp may read it."
    )


def _no_lamp(reason: str) -> DeliveryError:
    return DeliveryError("annunciator", reason, permanent=False)


def _client_of(settings: AnnunciatorSettings) -> "mqtt.Client":
    """A client that has not yet connected."""
    import paho.mqtt.client as mqtt
    from paho.mqtt.enums import CallbackAPIVersion

    client = mqtt.Client(CallbackAPIVersion.VERSION2, protocol=mqtt.MQTTv311)
    if settings.username is not None:
        client.username_pw_set(settings.username, settings.password)
    if settings.tls:
        files = (settings.ca_file, settings.certificate_file, settings.key_file)
        try:
            authority, certificate, key = (None if file is None else str(file) for file in files)
            client.tls_set(authority, certificate, key)
        except (OSError, ValueError) as error:
            named = ", ".join(str(file) for file in files if file is not None)
            raise _no_lamp(
                f"the broker's certificates cannot be read ({named}): {error}; give PEM files that"
                " this user may read"
            ) from error
    return client


def _stops_rounds(fault: HealthFault) -> bool:
    """Whether nothing is judged and no alarm is raised or cleared."""
    return fault.kind is HealthFaultKind.JUDGEMENT or fault.part == "watch"


def state_of(alarms: list[Alarm]) -> str:
    """One word for a lamp: the gravest priority that stands, and whether it still asks."""
    standing = [alarm for alarm in alarms if alarm.state in ACTIVE]
    for priority in Priority:  # from the gravest
        of_this = [alarm for alarm in standing if alarm.priority is priority]
        if of_this:
            asks = any(alarm.state is AlarmState.UNACKNOWLEDGED for alarm in standing)
            return f"{priority}-asks" if asks else str(priority)
    return QUIET


def _alarm_counts(alarms: list[Alarm]) -> dict[str, object]:
    standing = [alarm for alarm in alarms if alarm.state in ACTIVE]
    by_priority = Counter(str(alarm.priority) for alarm in standing)
    return {
        "standing": {str(priority): by_priority[str(priority)] for priority in Priority},
        "unacknowledged": sum(alarm.state is AlarmState.UNACKNOWLEDGED for alarm in standing),
    }
