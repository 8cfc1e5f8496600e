"""A real broker with the whole configuration that deploy/ gives a yard, for two yards at once."""

import subprocess
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from ipaddress import ip_address
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

from tests.real.broker import KEEPING, Broker
from tests.real.need import need

DEPLOY = KEEPING.parent
DAEMON = "laidup-mill-lane"


def _make_certificate(folder: Path) -> None:
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "127.0.0.1")])
    now = datetime.now(UTC)
    certificate = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(days=1))
        .not_valid_after(now + timedelta(days=1))
        .add_extension(
            x509.SubjectAlternativeName([x509.IPAddress(ip_address("127.0.0.1"))]), False
        )
        .add_extension(x509.BasicConstraints(ca=True, path_length=None), True)
        .sign(key, hashes.SHA256())
    )
    pem = serialization.Encoding.PEM
    (folder / "broker.crt").write_bytes(certificate.public_bytes(pem))
    (folder / "broker.key").write_bytes(
        key.private_bytes(pem, serialization.PrivateFormat.PKCS8, serialization.NoEncryption())
    )


@pytest.fixture
def yard_broker(tmp_path) -> Iterator[Broker]:
    """A broker with yard.conf; only the port and the places of its files differ."""
    _make_certificate(tmp_path)
    passwords = tmp_path / "laidup.passwords"
    passwords.touch(mode=0o600)
    for user in (DAEMON, "shedgate", "yardlamp", "laidup-millpond", "pondgate"):
        command = [need("mosquitto_passwd", "mosquitto"), "-b", str(passwords), user, f"{user}-pw"]
        subprocess.run(command, check=True, timeout=10)
    # Two yards share it, each with the blocks that the file says.
    ours = (DEPLOY / "laidup.acl").read_text(encoding="utf-8")
    theirs = ours.replace("mill-lane", "millpond").replace("shedgate", "pondgate")
    (tmp_path / "laidup.acl").write_text(ours + theirs.replace("user yardlamp", "user pondlamp"))
    configuration = (DEPLOY / "yard.conf").read_text(encoding="utf-8")
    for written, here in [
        ("listener 8883", "listener {port} 127.0.0.1"),
        ("/etc/mosquitto/certs", str(tmp_path)),
        ("/etc/mosquitto/laidup.passwords", str(passwords)),
        ("/etc/mosquitto/laidup.acl", str(tmp_path / "laidup.acl")),
    ]:
        assert written in configuration
        configuration = configuration.replace(written, here)
    broker = Broker(tmp_path, configuration)
    broker.start()
    yield broker
    broker.kill()


def as_user(broker: Broker, user: str) -> list[str]:
    return ["--cafile", str(broker.folder / "broker.crt"), "-u", user, "-P", f"{user}-pw"]
