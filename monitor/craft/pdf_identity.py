"""What a yard signs its PDFs with: a key on the curve P-256 and its certificate (X.509, RFC 5280).

Readers of PDF know that curve. The yard's own Ed25519 key they do not: ISO/TS 32002 allows it since
2022, and where it was tried a common one said that the file was corrupt. So the yard has a second
key for this, and its sealed record names the certificate: who trusts the one can trust the other.
"""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from cryptography import x509
from cryptography.hazmat.primitives.asymmetric.ec import (
    SECP256R1,
    EllipticCurvePrivateKey,
    generate_private_key,
)
from cryptography.hazmat.primitives.asymmetric.rsa import RSAPrivateKey
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    load_pem_private_key,
)
from cryptography.hazmat.primitives.serialization.pkcs12 import load_key_and_certificates
from cryptography.x509.oid import NameOID

from monitor.errors import BadValueError

_LONGEST_NAME = 64  # of a common name (RFC 5280, appendix A: ub-common-name)
_CLOCK_SLACK = timedelta(days=1)
# A certificate without a well-defined end (RFC 5280, 4.1.2.5): nobody renews it, and a record is
# looked at years later.
_NO_END = datetime(9999, 12, 31, 23, 59, 59, tzinfo=UTC)

SigningSecret = EllipticCurvePrivateKey | RSAPrivateKey


@dataclass(frozen=True, slots=True)
class PdfIdentity:
    """A key with its certificate and those above it; it signs, and its secret is never shown."""

    _secret: SigningSecret
    certificate: x509.Certificate
    above: tuple[x509.Certificate, ...] = ()

    @classmethod
    def make_new(cls, name: str, now: datetime) -> "PdfIdentity":
        """Make a key and a certificate that it issues itself, for a yard of that name."""
        secret = generate_private_key(SECP256R1())
        subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name[:_LONGEST_NAME])])
        usage = x509.KeyUsage(
            digital_signature=True, content_commitment=True, key_encipherment=False,
            data_encipherment=False, key_agreement=False, key_cert_sign=False, crl_sign=False,
            encipher_only=False, decipher_only=False,
        )  # fmt: skip
        made = (
            x509.CertificateBuilder()
            .subject_name(subject)
            .issuer_name(subject)
            .public_key(secret.public_key())
            .serial_number(x509.random_serial_number())
            .not_valid_before(now.astimezone(UTC) - _CLOCK_SLACK)
            .not_valid_after(_NO_END)
            .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
            .add_extension(usage, critical=True)
            .sign(secret, SHA256())
        )
        return cls(secret, made)

    @classmethod
    def from_pem(cls, pem: bytes) -> "PdfIdentity":
        """Read what `pem` wrote.

        Raises
        ------
        BadValueError
            If it is no key without a password and its certificate.
        """
        try:
            secret = load_pem_private_key(pem, password=None)
            first, *above = x509.load_pem_x509_certificates(pem)
        except (ValueError, TypeError) as error:
            raise BadValueError("it holds no key without a password and its certificate") from error
        return cls(*_fitting(secret, first), tuple(above))

    @classmethod
    def from_pkcs12(cls, content: bytes, password: str | None) -> "PdfIdentity":
        """Read a file as authorities hand certificates out (PKCS 12, RFC 7292).

        Raises
        ------
        BadValueError
            If it is none, if the password does not open it, or if its key is of no usable kind.
        """
        try:
            secret, first, above = load_key_and_certificates(
                content, None if password is None else password.encode()
            )
        except (ValueError, TypeError) as error:
            raise BadValueError("no PKCS 12 file, or the password does not open it") from error
        return cls(*_fitting(secret, first), tuple(above))

    @property
    def pem(self) -> bytes:
        """Secret and certificate as a file keeps them."""
        parts = [self.secret_bytes(Encoding.PEM)]
        parts += [one.public_bytes(Encoding.PEM) for one in (self.certificate, *self.above)]
        return b"".join(parts)

    @property
    def sha256(self) -> str:
        """SHA-256 of the certificate (DER), hexadecimal."""
        return self.certificate.fingerprint(SHA256()).hex()

    @property
    def is_self_issued(self) -> bool:
        """Whether the yard issued it itself, so that no reader of PDF knows whose it is."""
        return self.certificate.issuer == self.certificate.subject

    def is_valid_at(self, at: datetime) -> bool:
        """Whether the certificate says that it is valid then."""
        first, last = self.certificate.not_valid_before_utc, self.certificate.not_valid_after_utc
        return first <= at <= last

    def secret_bytes(self, encoding: Encoding = Encoding.DER) -> bytes:
        """The secret (PKCS 8), for what signs with it."""
        return self._secret.private_bytes(encoding, PrivateFormat.PKCS8, NoEncryption())


def name_in(name: x509.Name) -> str:
    """What a certificate calls somebody, in few words; empty: nothing that is a name."""
    for kind in (NameOID.ORGANIZATION_NAME, NameOID.COMMON_NAME):
        for one in name.get_attributes_for_oid(kind):
            return str(one.value)
    return ""


def _fitting(
    secret: object, certificate: x509.Certificate | None
) -> tuple[SigningSecret, x509.Certificate]:
    if not isinstance(secret, EllipticCurvePrivateKey | RSAPrivateKey):
        raise BadValueError("its key is of no kind that readers of PDF know (RSA, ECDSA)")
    if certificate is None or certificate.public_key() != secret.public_key():
        raise BadValueError("it holds no certificate of its key")
    return secret, certificate
