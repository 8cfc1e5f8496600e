"""The MQTT connection: one thread that reads messages and sends acknowledgements, and comes back.

It runs paho through its documented calls for a foreign loop (`loop_read`, `loop_write`,
`loop_misc`), which lets it read and acknowledge many messages in one system call.
"""

import contextlib
import logging
import random
import selectors
import socket
import threading
import time
from collections import deque
from collections.abc import Callable, Iterable

from paho.mqtt.client import Client, ConnectFlags, DisconnectFlags, MQTTMessage
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from monitor.intake.broker import BrokerSettings, BrokerTrouble, NoConnection
from monitor.intake.drops import DROPPED_TOPIC
from monitor.intake.inbox import BEGINNING, ArrivedMessage, Backlog, Inbox
from monitor.intake.senml import MAX_BYTES
from monitor.intake.session import (
    new_client,
    subscribe_to_drops,
    subscribe_topics,
    why_ended,
    why_not_reached,
    why_refused,
)
from monitor.intake.wire import BufferedSocket

log = logging.getLogger("laidup.intake")

_FIRST_PAUSE_S = 1.0
_LONGEST_PAUSE_S = 10.0  # a broker that is back is not left to fill its queues
_SETTLED_S = 30.0  # a connection that lived this long starts the pauses anew
_SAY_AGAIN_S = 600.0
_ASKED_IN_VAIN = 2
_QUARREL = 3  # connections in a row that ended soon: two that throw each other out
_ENDED = NoConnection(BrokerTrouble.ENDED, "the connection ended")


class Connection:
    """Keeps one session with the broker, for as long as it is not stopped."""

    def __init__(
        self,
        settings: BrokerSettings,
        inbox: Inbox,
        stamp: Callable[[], tuple[int, int]],
        on_dropped: Callable[[bytes], None] = lambda _: None,
    ) -> None:
        """Make a connection that has not yet started.

        Parameters
        ----------
        settings : BrokerSettings
        inbox : Inbox
        stamp : callable
            Tells the time at which messages arrive [ms], and how often it was shifted until then.
        on_dropped : callable, optional
            Told what the broker says that it has dropped, as it writes it.
        """
        self._on_dropped = on_dropped
        self._drops_asked: int | None = None  # packet id of a request that is not yet answered
        self._drops_unanswered = 0  # connections in a row that ended without an answer to it
        self._settings = settings
        self._inbox = inbox
        self._stamp = stamp
        self._client = new_client(settings)
        self._client.on_connect = self._connected
        self._client.on_disconnect = self._disconnected
        self._client.on_subscribe = self._subscribed
        self._client.on_message = self._received
        self._thread = threading.Thread(target=self._run, name="broker", daemon=True)
        self._stopping = threading.Event()
        self._reading = True
        self._acks: deque[tuple[int, int, int]] = deque()
        self._wake_in, self._wake_out = socket.socketpair()
        self._wake_in.setblocking(False)
        self._wake_out.setblocking(False)
        self._backlog = Backlog()
        self._burst = (0, 0)
        self._said: tuple[str, float] = ("", 0.0)
        self._why: NoConnection | None = None
        self.connections = 0
        self.connected = False
        self.subscribed = False  # and the broker has said that it will send what we asked for
        self.words = f"laidup has not yet spoken to the broker at {settings}."
        self.trouble = BrokerTrouble.OTHER  # the last that there was

    @property
    def is_catching_up(self) -> bool:
        """Whether what waited in the broker has been coming for longer than a glance takes."""
        return self.connected and self._backlog.lasts_long

    def start(self) -> None:
        """Start the thread; a broker that is not there is waited for."""
        self._thread.start()

    def stop_reading(self) -> None:
        """Take nothing more in; acknowledgements still leave."""
        self._reading = False
        self._wake()

    def stop(self, timeout: float) -> None:
        """Send the acknowledgements that wait, say goodbye and end the thread."""
        self._stopping.set()
        self._wake()
        if self._thread.is_alive():
            self._thread.join(timeout)

    def acknowledge(self, messages: Iterable[ArrivedMessage]) -> None:
        """Confirm stored messages to the broker, in their order. Any thread may call this."""
        self._acks.extend(
            (message.connection, message.packet_id, message.qos)
            for message in messages
            if message.qos > 0
        )
        self._wake()

    def _run(self) -> None:
        pause_s, short = _FIRST_PAUSE_S, 0
        while not self._stopping.is_set():
            began, before = time.monotonic(), self.connections
            self._why = None
            try:
                self._client.reconnect()
                self._serve()
            except (OSError, ValueError) as error:
                self._why = self._why or why_not_reached(error)
            except Exception as error:
                # Nobody would hear a thread that died here: say it, and begin anew.
                log.exception("The connection to the broker failed in a way not foreseen.")
                self._why = NoConnection(BrokerTrouble.OTHER, repr(error))
            self.connected = self.subscribed = False
            if self._stopping.is_set():
                break
            if time.monotonic() - began > _SETTLED_S:
                pause_s, short = _FIRST_PAUSE_S, 0
            elif self.connections > before:
                short += 1
                if short >= _QUARREL:
                    self._why = NoConnection(
                        BrokerTrouble.CLIENT_ID,
                        f"it ends soon after it is made, {short} times now; does another program"
                        f" use the client id {self._settings.client_id!r}",
                    )
            self._say_away(self._why or _ENDED)
            self._stopping.wait(pause_s * random.uniform(0.5, 1.0))  # noqa: S311
            pause_s = min(2 * pause_s, _LONGEST_PAUSE_S)

    def _serve(self) -> None:
        """Read, write and acknowledge until the connection ends."""
        client = self._client
        wire: object = client.socket()
        if not isinstance(wire, BufferedSocket):
            return
        with selectors.DefaultSelector() as selector:
            selector.register(self._wake_out, selectors.EVENT_READ)
            selector.register(wire, selectors.EVENT_READ)
            wanted = selectors.EVENT_READ
            while self._is_on(wire):
                reading = self._reading and not self._inbox.is_full
                if client.want_write():
                    client.loop_write()
                    if not self._is_on(wire):
                        break  # that was the goodbye
                everything_sent = wire.flush()
                want = (selectors.EVENT_READ if reading else 0) | (
                    0 if everything_sent else selectors.EVENT_WRITE
                )
                if want != wanted:
                    _select_for(selector, wire, wanted, want)
                    wanted = want
                if self._wait_for_message(selector, is_there=reading and wire.pending() > 0):
                    self._read_burst(client, wire)
                self._backlog.check_caught_up()
                self._send_acks(client)
                client.loop_misc()
                if self._stopping.is_set() and self._is_on(wire):
                    client.disconnect()

    def _wait_for_message(self, selector: selectors.BaseSelector, *, is_there: bool) -> bool:
        """Wait for what may happen, half a second at most; whether there is something to read."""
        for key, events in selector.select(0 if is_there else 0.5):
            if key.fileobj is self._wake_out:
                self._drain_wakes()
            elif events & selectors.EVENT_READ:
                is_there = True
        return is_there

    def _is_on(self, wire: BufferedSocket) -> bool:
        current: object = self._client.socket()
        return current is wire

    def _read_burst(self, client: Client, wire: BufferedSocket) -> None:
        self._burst = self._stamp()
        client.loop_read()
        while self._is_on(wire) and wire.pending() and not self._inbox.is_full:
            client.loop_read()
        self._backlog.note_all_read()
        self._inbox.wake_if_any()

    def _send_acks(self, client: Client) -> None:
        for _ in range(len(self._acks)):
            connection, packet_id, qos = self._acks.popleft()
            # Packet ids begin anew with a new connection: an old acknowledgement would confirm
            # a message that nobody has stored.
            if connection == self.connections and self.connected:
                client.ack(packet_id, qos)

    def _received(self, _client: Client, _userdata: object, message: MQTTMessage) -> None:
        try:
            try:
                topic = message.topic
            except UnicodeDecodeError:
                topic = "(a topic that is not UTF-8)"
            if topic == DROPPED_TOPIC:
                self._on_dropped(bytes(message.payload))
                self._acks.append((self.connections, message.mid, message.qos))
                return
            self._backlog.count_message()
            arrived_ms, shifts = self._burst
            payload, cut_from = bytes(message.payload), 0
            if len(payload) > MAX_BYTES:
                payload, cut_from = payload[:BEGINNING], len(payload)
            self._inbox.put_message(
                ArrivedMessage(
                    topic,
                    payload,
                    arrived_ms,
                    not (self._backlog.waits or message.dup or message.retain),
                    self.connections,
                    message.mid,
                    message.qos,
                    shifts,
                    cut_from,
                )
            )
        except Exception:  # an exception here would end the reading of everything after it
            log.exception("A message could not be taken off the network.")

    def _connected(
        self,
        client: Client,
        _userdata: object,
        flags: ConnectFlags,
        reason: ReasonCode,
        _properties: Properties | None,
    ) -> None:
        if reason.is_failure:
            self._why = why_refused(reason)
            return
        self.connections += 1
        self.connected = True
        # Its topics are kept with a session, and what waits in it comes before they are confirmed.
        self.subscribed = flags.session_present
        self._backlog.begin_connection(kept=flags.session_present)
        subscribe_topics(client, self._settings)
        if self._drops_asked is not None:
            self._drops_unanswered += 1
        # A broker that ends the connection for this request is not asked for ever.
        if self._drops_unanswered < _ASKED_IN_VAIN:
            self._drops_asked = subscribe_to_drops(client)
        kept = "it kept what came meanwhile" if flags.session_present else "it begins a new session"
        self.words = f"Connected to the broker at {self._settings}; {kept}."
        self._said = ("", 0.0)
        log.info("%s", self.words)

    def _subscribed(
        self,
        _client: Client,
        _userdata: object,
        packet_id: int,
        reasons: list[ReasonCode],
        _properties: Properties | None,
    ) -> None:
        if packet_id == self._drops_asked:
            self._drops_asked, self._drops_unanswered = None, 0  # granted or not: no fault
            return
        self.subscribed = not any(reason.is_failure for reason in reasons)
        for topic, reason in zip(self._settings.topics, reasons, strict=False):
            if reason.is_failure:
                self.trouble = BrokerTrouble.ACCESS
                self.words = (
                    f"The broker at {self._settings} does not let {self._settings.client_id!r}"
                    f" read {topic!r} ({reason}): grant it in the broker's access list."
                )
                log.error("%s", self.words)

    def _disconnected(
        self,
        _client: Client,
        _userdata: object,
        _flags: DisconnectFlags,
        reason: ReasonCode,
        _properties: Properties | None,
    ) -> None:
        self.connected = self.subscribed = False
        why = why_ended(reason, self._settings.client_id)
        if why.trouble is BrokerTrouble.CLIENT_ID or (reason.is_failure and self._why is None):
            self._why = why

    def _say_away(self, why: NoConnection) -> None:
        """Say why there is no connection: once, and again every ten minutes."""
        self.trouble = why.trouble
        self.words = (
            f"No connection to the broker at {self._settings}: {why.words}. laidup keeps trying."
            " What the sensors send meanwhile waits in the broker."
        )
        before, when = self._said
        if why.words != before or time.monotonic() - when > _SAY_AGAIN_S:
            log.warning("%s", self.words)
            self._said = (why.words, time.monotonic())

    def _wake(self) -> None:
        with contextlib.suppress(BlockingIOError):  # full of wakes: one more changes nothing
            self._wake_in.send(b"w")

    def _drain_wakes(self) -> None:
        with contextlib.suppress(BlockingIOError):
            while self._wake_out.recv(4096):
                pass


def _select_for(
    selector: selectors.BaseSelector, wire: BufferedSocket, before: int, want: int
) -> None:
    if want == 0:
        selector.unregister(wire)
    elif before == 0:
        selector.register(wire, want)
    else:
        selector.modify(wire, want)
