"""A session with the broker as paho keeps it: client, subscription, and a first try in words."""

import socket
import ssl
import time
from dataclasses import replace
from typing import Any, cast

from paho.mqtt.client import Client, ConnectFlags, MQTTv5, MQTTv311
from paho.mqtt.enums import CallbackAPIVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode
from paho.mqtt.subscribeoptions import SubscribeOptions

from monitor.errors import BrokerError
from monitor.intake.broker import BrokerSettings
from monitor.intake.drops import DROPPED_TOPIC
from monitor.intake.wire import BufferedSocket

_CONNECT_TIMEOUT_S = 10.0
_MAX_PACKET = 1024 * 1024


class _Client(Client):
    """paho's client on a socket that reads ahead and writes in bulk."""

    def _create_socket(self) -> Any:  # noqa: ANN401
        return BufferedSocket(cast(socket.socket, super()._create_socket()))


def new_client(settings: BrokerSettings) -> Client:
    """A client that has not yet connected; `reconnect` connects it.

    Raises
    ------
    BrokerError
        If a certificate or key cannot be read.
    """
    five = settings.version == "5"
    client = _Client(
        CallbackAPIVersion.VERSION2,
        settings.client_id,
        clean_session=None if five else not settings.keep_session,
        protocol=MQTTv5 if five else MQTTv311,
        manual_ack=True,
    )
    client.connect_timeout = _CONNECT_TIMEOUT_S
    # Says that somebody else will write: else paho writes each acknowledgement on its own.
    client.on_socket_register_write = _written_by_the_loop
    if settings.username is not None:
        client.username_pw_set(settings.username, settings.password)
    if settings.tls:
        client.tls_set_context(_tls_context(settings))
    if five:
        properties = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]
        properties.SessionExpiryInterval = settings.session_expiry_s if settings.keep_session else 0
        properties.ReceiveMaximum = settings.receive_maximum
        properties.MaximumPacketSize = _MAX_PACKET
        # clean_start must be said: paho's own default erases the session at every start.
        client.connect_async(
            settings.host,
            settings.port,
            settings.keepalive_s,
            clean_start=not settings.keep_session,
            properties=properties,
        )
    else:
        client.connect_async(settings.host, settings.port, settings.keepalive_s)
    return client


def subscribe_topics(client: Client, settings: BrokerSettings) -> None:
    """Ask for the topics; retained messages only if we had not asked before (MQTT 5)."""
    if settings.version == "5":
        options = SubscribeOptions(qos=1, retainHandling=1)
        client.subscribe([(topic, options) for topic in settings.topics])
    else:
        client.subscribe([(topic, 1) for topic in settings.topics])


def subscribe_to_drops(client: Client) -> int | None:
    """Ask for the broker's own count of what it dropped; the packet id of the request."""
    return client.subscribe(DROPPED_TOPIC, 0)[1]


def check_broker(settings: BrokerSettings) -> str:
    """Connect and subscribe once, beside a daemon that may be running, and say how it went.

    Raises
    ------
    BrokerError
        If the broker does not answer, refuses, or does not let the topics be read.
    """
    # A name of its own, and no session to keep: the daemon's is left alone.
    name = f"{settings.client_id}-check-{time.time_ns() % 10**6}"
    client = new_client(replace(settings, client_id=name, keep_session=False))
    answers: list[ReasonCode] = []
    granted: list[ReasonCode] = []

    def connected(
        client: Client,
        _userdata: object,
        _flags: ConnectFlags,
        reason: ReasonCode,
        _properties: Properties | None,
    ) -> None:
        answers.append(reason)
        if not reason.is_failure:
            subscribe_topics(client, settings)

    def subscribed(
        _client: Client,
        _userdata: object,
        _packet_id: int,
        reasons: list[ReasonCode],
        _properties: Properties | None,
    ) -> None:
        granted.extend(reasons)

    client.on_connect = connected
    client.on_subscribe = subscribed
    try:
        client.reconnect()
    except (OSError, ValueError) as error:
        raise BrokerError(f"{settings}: {in_words(error)}") from error
    end = time.monotonic() + _CONNECT_TIMEOUT_S
    while not granted and time.monotonic() < end and not any(one.is_failure for one in answers):
        _turn_network(client)
    client.disconnect()
    if not answers:
        raise BrokerError(f"{settings}: something listens there, but it does not speak MQTT")
    if answers[0].is_failure:
        raise BrokerError(f"{settings}: it refuses laidup: {answers[0]}")
    refused = [
        topic for topic, reason in zip(settings.topics, granted, strict=False) if reason.is_failure
    ]
    if refused or not granted:
        raise BrokerError(
            f"{settings}: it does not let laidup read {', '.join(refused or settings.topics)};"
            " grant it in the broker's access list"
        )
    topics = ", ".join(settings.topics)
    return f"{settings} answers, speaks MQTT {settings.version} and lets laidup read {topics}."


def _written_by_the_loop(_client: Client, _userdata: object, _socket: object) -> None:
    """Do nothing: the loop sees what is to be written."""


def _turn_network(client: Client) -> None:
    """One turn of the network, by hand."""
    wire: object = client.socket()
    if isinstance(wire, BufferedSocket):
        client.loop_write()
        wire.flush()
    client.loop(0.1)


def _tls_context(settings: BrokerSettings) -> ssl.SSLContext:
    try:
        context = ssl.create_default_context(cafile=settings.ca_file)
        if settings.certificate_file is not None:
            context.load_cert_chain(settings.certificate_file, settings.key_file)
    except (OSError, ssl.SSLError) as error:
        files = [settings.ca_file, settings.certificate_file, settings.key_file]
        named = ", ".join(str(file) for file in files if file is not None)
        raise BrokerError(
            f"the broker's certificates cannot be read ({named}): {error}; give PEM files that"
            " this user may read"
        ) from error
    return context


def in_words(error: Exception) -> str:
    """Say why a connection failed."""
    if isinstance(error, ssl.SSLCertVerificationError):
        return f"its certificate is not trusted ({error.verify_message}); name its ca_file"
    if isinstance(error, socket.gaierror):
        return "its name is not known here"
    if isinstance(error, TimeoutError):
        return "it does not answer"
    if isinstance(error, ConnectionRefusedError):
        return "nothing listens there"
    if isinstance(error, OSError) and error.strerror:
        return error.strerror
    return str(error)
