"""A session with the broker as paho keeps it: client, subscription, a first try, why one failed."""

import errno
import socket
import ssl
import time
from contextlib import suppress
from dataclasses import replace
from typing import Any, cast

from paho.mqtt.client import Client, ConnectFlags, MQTTv5, MQTTv311
from paho.mqtt.enums import CallbackAPIVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode
from paho.mqtt.subscribeoptions import SubscribeOptions

from monitor.errors import BrokerError
from monitor.intake.broker import BrokerSettings, BrokerTrouble, NoConnection
from monitor.intake.drops import DROPPED_TOPIC
from monitor.intake.wire import BufferedSocket

_CONNECT_TIMEOUT_S = 10.0
_MAX_PACKET = 1024 * 1024
# Results of OpenSSL's check of a certificate (openssl-verify(1)): X509_V_ERR_CERT_NOT_YET_VALID and
# _HAS_EXPIRED; _HOSTNAME_MISMATCH and _IP_ADDRESS_MISMATCH.
_OUT_OF_DATE, _OTHER_NAME = {9, 10}, {62, 64}
_UNREACHED = {errno.EHOSTUNREACH, errno.ENETUNREACH, errno.EHOSTDOWN, errno.ENETDOWN}
# Reason codes of MQTT 5.0, section 2.4; paho turns the return codes of MQTT 3.1.1 into them.
_UNSPECIFIED, _TAKEN_OVER = 0x80, 0x8E  # paho has the former for a connection that just ended
_REFUSALS = {
    0x85: BrokerTrouble.CLIENT_ID,  # client identifier not valid
    0x86: BrokerTrouble.CREDENTIALS,  # bad user name or password
    0x87: BrokerTrouble.CREDENTIALS,  # not authorized
    0x8C: BrokerTrouble.CREDENTIALS,  # bad authentication method
    0x8D: BrokerTrouble.NO_ANSWER,  # keep alive timeout
}


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

    A broker may call a client by its user's name (deploy/mosquitto/yard.conf); this is then the
    daemon's own session, whatever it is called here. So it is neither begun anew nor ended, and
    nothing is acknowledged: what waits there goes on waiting, and a daemon that runs is back in it
    within seconds. A session that was not there before is not left behind.

    Raises
    ------
    BrokerError
        If the broker does not answer, refuses, or does not let the topics be read.
    """
    name = f"{settings.client_id}-check-{time.time_ns() % 10**6}"
    trial = replace(settings, client_id=name, keep_session=True, receive_maximum=1)
    client = new_client(trial)
    is_daemons = False
    answers: list[ReasonCode] = []
    granted: list[ReasonCode] = []

    def connected(
        client: Client,
        _userdata: object,
        flags: ConnectFlags,
        reason: ReasonCode,
        _properties: Properties | None,
    ) -> None:
        nonlocal is_daemons
        answers.append(reason)
        is_daemons = flags.session_present
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
        raise _broker_error(settings, why_not_reached(error)) from error
    end = time.monotonic() + _CONNECT_TIMEOUT_S
    while not granted and time.monotonic() < end and not any(one.is_failure for one in answers):
        _turn_network(client)
    _end_trial(client, trial, keep=is_daemons)
    if not answers:
        silent = "something listens there, but it does not speak MQTT"
        raise _broker_error(settings, NoConnection(BrokerTrouble.PROTOCOL, silent))
    if answers[0].is_failure:
        raise _broker_error(settings, why_refused(answers[0]))
    refused = [
        topic for topic, reason in zip(settings.topics, granted, strict=False) if reason.is_failure
    ]
    if refused or not granted:
        unread = f"it does not let laidup read {', '.join(refused or settings.topics)}"
        raise _broker_error(settings, NoConnection(BrokerTrouble.ACCESS, unread))
    topics = ", ".join(settings.topics)
    return f"{settings} answers, speaks MQTT {settings.version} and lets laidup read {topics}."


def _end_trial(client: Client, trial: BrokerSettings, *, keep: bool) -> None:
    """Say goodbye; what the trial itself began in the broker goes with it."""
    properties = None
    if trial.version == "5" and not keep:
        properties = Properties(PacketTypes.DISCONNECT)  # type: ignore[no-untyped-call]
        properties.SessionExpiryInterval = 0
    client.disconnect(properties=properties)
    client.loop_write()
    if trial.version == "5" or keep:
        return
    # MQTT 3.1.1 ends a session only by beginning it anew under the same name.
    last = new_client(replace(trial, keep_session=False))
    with suppress(OSError, ValueError):
        last.reconnect()
        end = time.monotonic() + _CONNECT_TIMEOUT_S
        while not last.is_connected() and time.monotonic() < end:
            _turn_network(last)
        last.disconnect()
        last.loop_write()


def _broker_error(settings: BrokerSettings, why: NoConnection) -> BrokerError:
    return BrokerError(f"{settings}: {why.words}. {why.remedy}")


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


def why_not_reached(error: Exception) -> NoConnection:
    """Why a connection could not be made, or broke, by what the machine or the far side raised."""
    if isinstance(error, ssl.SSLCertVerificationError):
        return _why_not_trusted(error)
    if isinstance(error, socket.gaierror):
        return NoConnection(BrokerTrouble.NAME_UNKNOWN, "its name is not known here")
    if isinstance(error, TimeoutError):
        return NoConnection(BrokerTrouble.NO_ANSWER, "it does not answer")
    if isinstance(error, ConnectionRefusedError):
        return NoConnection(BrokerTrouble.NOTHING_LISTENS, "nothing listens there")
    said = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
    if isinstance(error, ssl.SSLError):
        return NoConnection(BrokerTrouble.PROTOCOL, said)
    if isinstance(error, ConnectionError):
        return NoConnection(BrokerTrouble.ENDED, said)
    unreached = isinstance(error, OSError) and error.errno in _UNREACHED
    return NoConnection(BrokerTrouble.NO_ANSWER if unreached else BrokerTrouble.OTHER, said)


def _why_not_trusted(error: ssl.SSLCertVerificationError) -> NoConnection:
    code = getattr(error, "verify_code", None)
    if code in _OUT_OF_DATE:
        return NoConnection(
            BrokerTrouble.CERTIFICATE_DATE,
            f"its certificate is not in date by this machine's clock ({error.verify_message})",
        )
    if code in _OTHER_NAME:
        return NoConnection(
            BrokerTrouble.CERTIFICATE_NAME,
            f"its certificate is for another name ({error.verify_message})",
        )
    return NoConnection(
        BrokerTrouble.CERTIFICATE,
        f"its certificate is not trusted ({error.verify_message}); name its ca_file",
    )


def why_refused(reason: ReasonCode) -> NoConnection:
    """Why the broker itself did not take a connection; MQTT 3.1.1 has these reasons too."""
    return NoConnection(
        _REFUSALS.get(reason.value, BrokerTrouble.OTHER), f"it refuses laidup: {reason}"
    )


def why_ended(reason: ReasonCode, client_id: str) -> NoConnection:
    """Why a connection that was there has ended."""
    if reason.value == _TAKEN_OVER:
        return NoConnection(
            BrokerTrouble.CLIENT_ID,
            f"another program uses the client id {client_id!r}; is a second laidup running",
        )
    if reason.value == _UNSPECIFIED:
        return NoConnection(BrokerTrouble.ENDED, "it broke")
    return NoConnection(_REFUSALS.get(reason.value, BrokerTrouble.OTHER), f"it said: {reason}")
