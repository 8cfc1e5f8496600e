"""The yard's own certificate authority, and certificates of servers in the yard (RFC 5280).

Keys are on the curve P-256, which small devices know too. A device trusts the authority alone, so
the broker's certificate can be renewed without touching any device.
"""

import ipaddress
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from monitor.errors import ConfigurationError, Fault

# Longer than a device stays in a yard, for a new authority is a visit to each; and short of 2050,
# from where on certificates write their times in another form (RFC 5280, 4.1.2.5).
AUTHORITY_YEARS = 20
CERTIFICATE_DAYS = 730
RENEW_WITHIN_DAYS = 60  # of its end, a certificate is told to be renewed
# A device whose clock is a day slow takes a certificate all the same.
_BEFORE = timedelta(days=1)
_MOST_NAME = 44  # bytes of the yard's name in a common name of 64 (RFC 5280, appendix A.1)
_PEM = serialization.Encoding.PEM


def make_authority(yard_name: str, now: datetime) -> tuple[bytes, bytes]:
    """A new authority's key and certificate, both as PEM.

    Parameters
    ----------
    yard_name : str
        Stands in the certificate, for people who look at it.
    now : datetime
        It holds from a day before.
    """
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, _common_name(yard_name))])
    certificate = (
        _builder(name, name, key.public_key(), now, timedelta(days=365 * AUTHORITY_YEARS))
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_key_usage(signs_certificates=True), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .sign(key, hashes.SHA256())
    )
    return _key_pem(key), certificate.public_bytes(_PEM)


def make_certificate(
    authority_key: bytes, authority: bytes, hosts: Sequence[str], now: datetime
) -> tuple[bytes, bytes]:
    """A server's new key and certificate, both as PEM.

    Parameters
    ----------
    authority_key, authority : bytes
        The yard's own, as PEM.
    hosts : sequence of str
        Names and addresses by which the server is reached; the first is its common name.
    now : datetime
        It holds from a day before, for `CERTIFICATE_DAYS`.

    Raises
    ------
    ConfigurationError
        If the key is no key, or not that of the authority.
    """
    signer, issuer = _authority_pair(authority_key, authority)
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, hosts[0][:64])])
    certificate = (
        _builder(name, issuer.subject, key.public_key(), now, timedelta(days=CERTIFICATE_DAYS))
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_key_usage(signs_certificates=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(
            x509.SubjectAlternativeName([_general_name(host) for host in hosts]), critical=False
        )
        .add_extension(
            x509.AuthorityKeyIdentifier.from_issuer_public_key(signer.public_key()), critical=False
        )
        .sign(signer, hashes.SHA256())
    )
    return _key_pem(key), certificate.public_bytes(_PEM)


def certificate_fingerprint(certificate: bytes) -> str:
    """SHA-256 of a certificate, as people compare it: pairs of hexadecimal digits and colons."""
    read = x509.load_pem_x509_certificate(certificate)
    return read.fingerprint(hashes.SHA256()).hex(":").upper()


def days_left(certificate: bytes, now: datetime) -> int:
    """Whole days until a certificate ends; below 0 once it has."""
    return (x509.load_pem_x509_certificate(certificate).not_valid_after_utc - now).days


def hosts_of(certificate: bytes) -> tuple[str, ...]:
    """Names and addresses that a server's certificate holds for."""
    extension = x509.load_pem_x509_certificate(certificate).extensions.get_extension_for_class(
        x509.SubjectAlternativeName
    )
    return tuple(str(name.value) for name in extension.value)


def _builder(
    subject: x509.Name,
    issuer: x509.Name,
    key: ec.EllipticCurvePublicKey,
    now: datetime,
    lasts: timedelta,
) -> x509.CertificateBuilder:
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(key)
        .serial_number(x509.random_serial_number())
        .not_valid_before(now.astimezone(UTC) - _BEFORE)
        .not_valid_after(now.astimezone(UTC) + lasts)
    )


def _authority_pair(
    authority_key: bytes, authority: bytes
) -> tuple[ec.EllipticCurvePrivateKey, x509.Certificate]:
    certificate = x509.load_pem_x509_certificate(authority)
    try:
        key = serialization.load_pem_private_key(authority_key, password=None)
    except (ValueError, TypeError) as error:
        raise _key_fault("it is no private key as PEM") from error
    if (
        not isinstance(key, ec.EllipticCurvePrivateKey)
        or key.public_key() != certificate.public_key()
    ):
        raise _key_fault("it is not the key of this yard's authority (ca.crt)")
    return key, certificate


def _key_fault(problem: str) -> ConfigurationError:
    remedy = "Name the file where you keep the authority's key with --ca-key."
    return ConfigurationError([Fault(file="ca.key", key="", problem=problem, remedy=remedy)])


def _general_name(host: str) -> x509.GeneralName:
    try:
        return x509.IPAddress(ipaddress.ip_address(host))
    except ValueError:
        return x509.DNSName(host)


def _common_name(yard_name: str) -> str:
    shown = yard_name.encode()[:_MOST_NAME].decode(errors="ignore")
    return f"Broker authority of {shown}"


def _key_usage(*, signs_certificates: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not signs_certificates,
        key_cert_sign=signs_certificates,
        crl_sign=signs_certificates,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        encipher_only=False,
        decipher_only=False,
    )


def _key_pem(key: ec.EllipticCurvePrivateKey) -> bytes:
    return key.private_bytes(_PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption())
