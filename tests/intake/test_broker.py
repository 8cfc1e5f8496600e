"""What is wrong with a broker, by what the machine raises or the broker answers, and its remedy."""

import errno
import socket
import ssl

import pytest
from paho.mqtt.client import DisconnectFlags
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.reasoncodes import ReasonCode

from monitor.intake.broker import BROKER_REMEDIES, BrokerSettings, BrokerTrouble
from monitor.intake.connection import Connection
from monitor.intake.inbox import Inbox
from monitor.intake.session import why_not_reached, why_refused

SETTINGS = BrokerSettings(client_id="mill")


def untrusted():
    error = ssl.SSLCertVerificationError("certificate verify failed")
    error.verify_message = "self-signed certificate"
    return error


def connection_of():
    return Connection(SETTINGS, Inbox(capacity=10), lambda: (0, 0))


@pytest.mark.parametrize(
    ("error", "trouble", "word"),
    [
        (ConnectionRefusedError(), BrokerTrouble.NOTHING_LISTENS, "Start the broker"),
        (ConnectionResetError(errno.ECONNRESET, "reset"), BrokerTrouble.ENDED, "ends every"),
        (TimeoutError("timed out"), BrokerTrouble.NO_ANSWER, "firewall"),
        (OSError(errno.EHOSTUNREACH, "No route to host"), BrokerTrouble.NO_ANSWER, "firewall"),
        (socket.gaierror(-2, "not known"), BrokerTrouble.NAME_UNKNOWN, "host"),
        (untrusted(), BrokerTrouble.CERTIFICATE, "ca_file"),
        (ssl.SSLError(1, "[SSL] wrong version number"), BrokerTrouble.PROTOCOL, "tls"),
        (ValueError("odd"), BrokerTrouble.OTHER, "laidup check"),
    ],
)
def test_what_the_machine_raises_has_its_remedy(error, trouble, word):
    why = why_not_reached(error)
    assert why.trouble is trouble
    assert word in why.remedy


@pytest.mark.parametrize(
    ("name", "word"),
    [
        ("Not authorized", "password"),
        ("Bad user name or password", "password"),
        ("Client identifier not valid", "client_id"),
        ("Server unavailable", "laidup check"),
    ],
)
def test_what_the_broker_refuses_has_its_remedy(name, word):
    # The names are those of MQTT 5.0, section 3.2.2.2.
    assert word in why_refused(ReasonCode(PacketTypes.CONNACK, name)).remedy


def test_topics_that_may_not_be_read_are_no_matter_of_the_password():
    # A broker answers both with "not authorized"; here the connection itself was taken.
    connection = connection_of()
    reason = ReasonCode(PacketTypes.SUBACK, "Not authorized")
    connection._client.on_subscribe(connection._client, None, 1, [reason], None)
    assert connection.trouble is BrokerTrouble.ACCESS
    assert "access list" in BROKER_REMEDIES[connection.trouble]


def test_a_session_that_was_taken_over_is_a_matter_of_the_client_id():
    connection = connection_of()
    reason = ReasonCode(PacketTypes.DISCONNECT, "Session taken over")
    flags = DisconnectFlags(is_disconnect_packet_from_server=True)
    connection._client.on_disconnect(connection._client, None, flags, reason, None)
    connection._say_away(connection._why)
    assert "client_id" in BROKER_REMEDIES[connection.trouble]
    assert "'mill'" in connection.words


def test_each_trouble_has_a_remedy():
    assert set(BROKER_REMEDIES) == set(BrokerTrouble)
