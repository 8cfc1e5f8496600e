"""Intake and a careful broker: TLS with its own authority, certificates, passwords, rights."""

import contextlib
import socket
import subprocess
import threading
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from ipaddress import ip_address
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

from monitor.clock import SystemClock
from monitor.errors import BrokerError
from monitor.intake.broker import BrokerSettings
from monitor.intake.client import Intake
from monitor.intake.session import check_broker
from monitor.intake.trust import AS_THEY_COME
from monitor.store.store import Store
from tests.line.drills.sender import SENSORS, Sender, pack
from tests.real.broker import Broker
from tests.real.need import need, wait_until

NOW = datetime.now(UTC)


class Authority:
    """A yard's own certificate authority, in a folder."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._key = ec.generate_private_key(ec.SECP256R1())
        name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, f"Authority {folder.name}")])
        self._name = name
        certificate = (
            self._blank(name, self._key)
            .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
            .sign(self._key, hashes.SHA256())
        )
        self.file = folder / "ca.crt"
        self.file.write_bytes(certificate.public_bytes(serialization.Encoding.PEM))

    def _blank(self, name: x509.Name, key: ec.EllipticCurvePrivateKey, days: int = 1):
        return (
            x509.CertificateBuilder()
            .subject_name(name)
            .issuer_name(self._name)
            .public_key(key.public_key())
            .serial_number(x509.random_serial_number())
            .not_valid_before(NOW - timedelta(days=9))
            .not_valid_after(NOW + timedelta(days=days))
        )

    def issue(self, name: str, address: str = "127.0.0.1", days: int = 1) -> tuple[Path, Path]:
        """Files of a certificate, which is in date for so many days from now, and its key."""
        key = ec.generate_private_key(ec.SECP256R1())
        subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name)])
        here = [x509.IPAddress(ip_address(address))]
        certificate = (
            self._blank(subject, key, days)
            .add_extension(x509.SubjectAlternativeName(here), critical=False)
            .sign(self._key, hashes.SHA256())
        )
        files = self.folder / f"{name}.crt", self.folder / f"{name}.key"
        files[0].write_bytes(certificate.public_bytes(serialization.Encoding.PEM))
        files[1].write_bytes(
            key.private_bytes(
                serialization.Encoding.PEM,
                serialization.PrivateFormat.PKCS8,
                serialization.NoEncryption(),
            )
        )
        return files


@pytest.fixture
def store(store_url: str) -> Iterator[Store]:
    opened = Store(store_url, "drill")
    yield opened
    opened.close()


def started(folder: Path, configuration: str) -> Broker:
    (folder / "broker").mkdir()
    broker = Broker(folder / "broker", configuration)
    broker.start()
    return broker


def taken_over(store: Store, settings: BrokerSettings, publish: list[str]) -> int:
    """Readings in the store after one pack was published with mosquitto_pub."""
    intake = Intake(settings, store, SENSORS, SystemClock(), lambda _: None, AS_THEY_COME)
    intake.start()
    try:
        wait_until(lambda: intake.intake_health().connected, 10, "the broker")
        subprocess.run(
            [need("mosquitto_pub", "mosquitto-clients"), *publish, "-m", pack(0)],
            check=True,
            timeout=20,
        )
        wait_until(lambda: intake.intake_health().messages == 1, 10, "the message")
        return intake.intake_health().readings
    finally:
        intake.stop(5)


@pytest.mark.parametrize("version", ["5", "3.1.1"])
def test_a_broker_with_its_own_authority_and_client_certificates_is_read(store, tmp_path, version):
    authority = Authority(tmp_path)
    server, server_key = authority.issue("broker")
    client, client_key = authority.issue("laidup")
    broker = started(
        tmp_path,
        f"listener {{port}} 127.0.0.1\nallow_anonymous true\ncafile {authority.file}\n"
        f"certfile {server}\nkeyfile {server_key}\nrequire_certificate true\n",
    )
    settings = BrokerSettings(
        port=broker.port,
        topics=("drill/#",),
        version=version,
        tls=True,
        ca_file=authority.file,
        certificate_file=client,
        key_file=client_key,
    )
    publish = f"-h 127.0.0.1 -p {broker.port} --cafile {authority.file} --cert {client}"
    publish += f" --key {client_key} -q 1 -t drill/a"
    try:
        assert taken_over(store, settings, publish.split()) == 2
    finally:
        broker.kill()


@pytest.mark.parametrize(
    ("issued", "said", "remedy"),
    [
        ({}, r"certificate is not trusted .*; name its ca_file", "[broker] ca_file"),
        ({"days": -1}, r"certificate is not in date .*expired", "Renew the broker's certificate"),
        ({"address": "10.9.8.7"}, r"certificate is for another name", "[broker] host"),
    ],
    ids=["another authority", "out of date", "another address"],
)
def test_a_broker_whose_certificate_proves_nothing_is_not_used_and_it_is_said_why(
    tmp_path, issued, said, remedy
):
    (tmp_path / "ours").mkdir()
    (tmp_path / "theirs").mkdir()
    ours, theirs = Authority(tmp_path / "ours"), Authority(tmp_path / "theirs")
    authority = ours if issued else theirs
    server, key = authority.issue("broker", **issued)
    broker = started(
        tmp_path,
        "listener {port} 127.0.0.1\nallow_anonymous true\n"
        f"cafile {authority.file}\ncertfile {server}\nkeyfile {key}\n",
    )
    settings = BrokerSettings(port=broker.port, tls=True, ca_file=ours.file)
    try:
        with pytest.raises(BrokerError, match=said) as told:
            check_broker(settings)
        assert remedy in str(told.value)
    finally:
        broker.kill()


@pytest.fixture
def guarded(tmp_path: Path) -> Iterator[Broker]:
    """A broker with one user, who may read one topic."""
    words, rights = tmp_path / "passwords", tmp_path / "rights"
    program = need("mosquitto_passwd", "mosquitto")
    subprocess.run([program, "-b", "-c", str(words), "laidup", "lake ice"], check=True)
    rights.write_text("user laidup\ntopic readwrite drill/#\n")
    broker = started(
        tmp_path,
        "listener {port} 127.0.0.1\nallow_anonymous false\n"
        f"password_file {words}\nacl_file {rights}\n",
    )
    yield broker
    broker.kill()


def test_user_and_password_open_the_broker(store, guarded):
    settings = BrokerSettings(
        port=guarded.port, topics=("drill/#",), username="laidup", password="lake ice"
    )
    publish = ["-h", "127.0.0.1", "-p", str(guarded.port), "-u", "laidup", "-P", "lake ice"]
    assert taken_over(store, settings, [*publish, "-q", "1", "-t", "drill/a"]) == 2


@pytest.mark.parametrize("version", ["5", "3.1.1"])
def test_a_wrong_password_is_told_and_tried_again(store, guarded, version):
    settings = BrokerSettings(
        port=guarded.port, version=version, username="laidup", password="thin ice"
    )
    with pytest.raises(BrokerError, match="refuses laidup: Not authorized"):
        check_broker(settings)
    intake = Intake(settings, store, SENSORS, SystemClock(), lambda _: None)
    intake.start()
    wait_until(
        lambda: "refuses laidup" in intake.intake_health().broker, 10, "the refusal in words"
    )
    assert not intake.intake_health().connected
    intake.stop(5)


def test_certificates_that_are_not_there_are_named(tmp_path):
    settings = BrokerSettings(tls=True, ca_file=tmp_path / "nowhere.crt")
    with pytest.raises(BrokerError, match=r"nowhere\.crt"):
        check_broker(settings)


def test_a_second_daemon_under_the_same_name_is_told(store, broker):
    settings = BrokerSettings(port=broker.port, topics=("drill/#",))
    one, other = (Intake(settings, store, SENSORS, SystemClock(), lambda _: None) for _ in range(2))
    one.start()
    wait_until(lambda: one.intake_health().connected, 10, "the first")
    other.start()
    try:
        wait_until(
            lambda: any(
                "does another program use the client id" in it.intake_health().broker
                for it in (one, other)
            ),
            40,
            "the quarrel in words",
        )
    finally:
        one.stop(5)
        other.stop(5)


def test_while_the_store_is_held_up_no_more_than_a_window_is_held_in_memory(
    store, store_url, broker
):
    settings = BrokerSettings(port=broker.port, topics=("drill/#",), receive_maximum=50)
    intake = Intake(settings, store, SENSORS, SystemClock(), lambda _: None, AS_THEY_COME)
    intake.start()
    wait_until(lambda: intake.intake_health().connected, 10, "the broker")
    most = 0
    with contextlib.closing(Store(store_url, "drill")) as other, other.transaction():
        sender = Sender(broker.port, per_s=2000)

        def enough() -> bool:
            nonlocal most
            most = max(most, intake.intake_health().waiting)
            return len(sender.acknowledged) >= 1500

        wait_until(enough, 30, "the broker to take what intake cannot")
        assert intake.intake_health().messages == 0
    sender.finish()
    wait_until(lambda: intake.intake_health().messages >= sender.sent, 30, "everything")
    intake.stop(5)
    assert 0 < most <= 50
    with store.snapshot() as tx:
        assert tx.yard_readings.count_readings() == 2 * sender.sent


def test_a_broker_that_ends_the_connection_for_its_own_topics_is_no_longer_asked(store):
    # As some hosted brokers do with whoever asks for what he may not read.
    listener = socket.create_server(("127.0.0.1", 0))
    asked: list[bytes] = []

    def serve(line: socket.socket) -> None:
        line.recv(4096)
        line.sendall(b"\x20\x02\x00\x00")  # CONNACK, no session
        while request := line.recv(4096):
            asked.append(request)
            if b"$SYS" in request:
                line.close()
                return
            if request[0] == 0x82:  # SUBSCRIBE: granted
                line.sendall(b"\x90\x03" + request[2:4] + b"\x01")

    def broker() -> None:
        with contextlib.suppress(OSError):
            while True:
                serve(listener.accept()[0])

    threading.Thread(target=broker, daemon=True).start()
    port = listener.getsockname()[1]
    settings = BrokerSettings(port=port, topics=("drill/#",), version="3.1.1")
    intake = Intake(settings, store, SENSORS, SystemClock(), lambda _: None)
    intake.start()
    try:
        wait_until(lambda: intake.intake_health().connected, 20, "a connection that stays")
        wait_until(lambda: intake.intake_health().connections >= 3, 20, "the third connection")
        wait_until(lambda: intake.intake_health().connected, 20, "a connection that stays")
        assert sum(b"$SYS" in request for request in asked) == 2
    finally:
        intake.stop(5)
        listener.close()


def test_a_session_that_was_kept_counts_as_heard_before_its_topics_are_confirmed_anew(store):
    """What waits comes first: over a slow line that takes minutes, and the broker is not away."""
    listener = socket.create_server(("127.0.0.1", 0))
    refusing = threading.Event()

    def broker() -> None:
        with contextlib.suppress(OSError):
            line, _ = listener.accept()
            line.recv(4096)
            line.sendall(b"\x20\x02\x01\x00")  # CONNACK, the session was kept
            while request := line.recv(4096):
                if request[0] == 0x82 and refusing.wait(20):  # SUBSCRIBE: refused, in the end
                    line.sendall(b"\x90\x03" + request[2:4] + b"\x80")

    threading.Thread(target=broker, daemon=True).start()
    port = listener.getsockname()[1]
    settings = BrokerSettings(port=port, topics=("drill/#",), version="3.1.1")
    intake = Intake(settings, store, SENSORS, SystemClock(), lambda _: None)
    intake.start()
    try:
        wait_until(lambda: intake.intake_health().connected, 10, "the session")
        refusing.set()
        wait_until(lambda: not intake.intake_health().connected, 10, "the refusal")
        assert "does not let" in intake.intake_health().broker
    finally:
        intake.stop(5)
        listener.close()
