"""The buffered socket: the same bytes in the same order, whatever the network takes at once."""

import socket

import pytest

from monitor.intake.broker import BrokerSettings
from monitor.intake.session import new_client
from monitor.intake.wire import BufferedSocket


@pytest.fixture
def ends():
    one, other = socket.socketpair()
    one.setblocking(False)
    yield BufferedSocket(one), other
    one.close()
    other.close()


def test_what_is_written_leaves_at_the_flush_in_order(ends):
    wire, far = ends
    far.settimeout(0.05)
    for n in range(1000):
        assert wire.send(b"%04d" % n) == 4
    with pytest.raises(TimeoutError):
        far.recv(1)
    assert wire.flush()
    far.settimeout(5)
    got = b""
    while len(got) < 4000:
        got += far.recv(65536)
    assert got == b"".join(b"%04d" % n for n in range(1000))


def test_a_network_that_takes_only_a_part_gets_the_rest_later(ends):
    wire, far = ends
    sent = bytes(range(256)) * 20_000
    wire.send(sent)
    assert not wire.flush()
    got = b""
    while len(got) < len(sent):
        got += far.recv(1 << 20)
        wire.flush()
    assert got == sent
    assert wire.flush()


def test_reading_ahead_says_how_much_is_there_and_gives_it_piece_by_piece(ends):
    wire, far = ends
    with pytest.raises(BlockingIOError):
        wire.recv(1)
    far.sendall(b"abcdef")
    assert wire.recv(1) == b"a"
    assert wire.pending() == 5
    assert (wire.recv(2), wire.recv(100)) == (b"bc", b"def")
    assert wire.pending() == 0
    far.close()
    assert wire.recv(1) == b""


def test_closing_sends_what_is_held(ends):
    wire, far = ends
    wire.send(b"goodbye")
    wire.close()
    assert far.recv(100) == b"goodbye"


def test_paho_is_given_the_buffered_socket(broker):
    # It is handed over in a method that paho does not document: a new paho may not ask for it.
    client = new_client(BrokerSettings(port=broker.port))
    client.reconnect()
    assert isinstance(client.socket(), BufferedSocket)
    client.disconnect()
