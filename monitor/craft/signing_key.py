"""Keys that sign (Ed25519, RFC 8032), and what a person holds of a yard's public one."""

import re
from dataclasses import dataclass
from hashlib import sha256

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    PublicFormat,
    load_pem_private_key,
)

from monitor.errors import BadValueError, QuantityError

_FINGERPRINT_DIGITS = 20  # 80 bits: nobody makes another key that has the same
_HEX_KEY = re.compile(r"[0-9a-f]{64}")
_HEX_SIGNATURE = re.compile(r"[0-9a-f]{128}")


@dataclass(frozen=True, slots=True)
class SigningKey:
    """The secret half of a yard's key; it signs, and is never shown."""

    _secret: Ed25519PrivateKey

    @classmethod
    def make_new(cls) -> "SigningKey":
        """Make a new key of the system's own randomness."""
        return cls(Ed25519PrivateKey.generate())

    @classmethod
    def from_pem(cls, pem: bytes) -> "SigningKey":
        """Read a key that `pem` wrote (PKCS 8, without a password).

        Raises
        ------
        BadValueError
            If it is none.
        """
        try:
            found = load_pem_private_key(pem, password=None)
        except (ValueError, TypeError) as error:
            raise BadValueError("it holds no private key without a password") from error
        if not isinstance(found, Ed25519PrivateKey):
            raise BadValueError("it holds a key of another kind than Ed25519")
        return cls(found)

    @property
    def pem(self) -> bytes:
        """The secret as a file keeps it."""
        return self._secret.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())

    @property
    def public(self) -> str:
        """The public key, 64 hexadecimal digits."""
        return self._secret.public_key().public_bytes(Encoding.Raw, PublicFormat.Raw).hex()

    def sign_bytes(self, data: bytes) -> str:
        """Signature over some bytes, 128 hexadecimal digits."""
        return self._secret.sign(data).hex()


def is_signed(data: bytes, signature: object, public: object) -> bool:
    """Whether the holder of a public key signed these bytes; False for what is no key or none."""
    if not (isinstance(signature, str) and _HEX_SIGNATURE.fullmatch(signature)):
        return False
    if not (isinstance(public, str) and _HEX_KEY.fullmatch(public)):
        return False
    try:
        key = Ed25519PublicKey.from_public_bytes(bytes.fromhex(public))
        key.verify(bytes.fromhex(signature), data)
    except (InvalidSignature, ValueError):
        return False
    return True


def fingerprint_of(public: str) -> str:
    """What people compare of a public key: the first 80 bits of its SHA-256, in fours."""
    digits = sha256(bytes.fromhex(public)).hexdigest()[:_FINGERPRINT_DIGITS]
    return "-".join(digits[n : n + 4] for n in range(0, _FINGERPRINT_DIGITS, 4))


@dataclass(frozen=True, slots=True)
class TrustedKey:
    """What somebody holds of a yard's key: all of it, or its fingerprint."""

    text: str  # 64 digits of the key, or 20 of its fingerprint

    @classmethod
    def from_text(cls, text: str) -> "TrustedKey":
        """Read a key or a fingerprint that was copied from a letter or a page.

        Raises
        ------
        QuantityError
            If it is neither.
        """
        plain = re.sub(r"[\s:-]", "", text).lower()
        if len(plain) not in {64, _FINGERPRINT_DIGITS} or not re.fullmatch(r"[0-9a-f]+", plain):
            raise QuantityError(
                f"{text.strip()[:80]!r} is neither a public key nor its fingerprint",
                "copy all 64 digits of the key, or the 20 of its fingerprint, as `laidup key`"
                " shows them",
            )
        return cls(plain)

    def fits_key(self, public: str) -> bool:
        """Whether it is of that public key."""
        if len(self.text) == len(public):
            return self.text == public
        return self.text == fingerprint_of(public).replace("-", "")
