"""Keys and what they sign: RFC 8032's own values, fingerprints, one key after the other."""

import json
from datetime import UTC, datetime
from hashlib import sha256
from itertools import pairwise
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat
from hypothesis import given
from hypothesis import strategies as st

from monitor.craft.canonical import canonical_bytes
from monitor.craft.merkle import RecordHead
from monitor.craft.signed_statements import head_in, is_reached, sign_head, succession_of
from monitor.craft.signing_key import SigningKey, TrustedKey, fingerprint_of, is_signed
from monitor.errors import BadValueError, QuantityError

VECTORS = Path(__file__).parent / "vectors"
ED25519 = json.loads((VECTORS / "ed25519.json").read_text())  # RFC 8032, 7.1, tests 1 to 3
AT = datetime(2027, 3, 1, 8, tzinfo=UTC)


def key_of(secret):
    raw = Ed25519PrivateKey.from_private_bytes(bytes.fromhex(secret))
    return SigningKey.from_pem(raw.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()))


@pytest.mark.parametrize("one", ED25519["tests"], ids=lambda one: one["name"])
def test_the_rfcs_signatures_are_made_and_known(one):
    key, data = key_of(one["secret"]), bytes.fromhex(one["message"])
    assert (key.public, key.sign_bytes(data)) == (one["public"], one["signature"])
    assert is_signed(data, one["signature"], one["public"])


@pytest.mark.parametrize("one", ED25519["negative"], ids=lambda one: one["name"])
def test_a_signature_that_is_none_is_refused(one):
    assert not is_signed(bytes.fromhex(one["message"]), one["signature"], one["public"])


@pytest.mark.parametrize("odd", [None, 7, "", "xy" * 64, ["0"], "0" * 127])
def test_what_is_no_signature_or_key_is_refused_and_crashes_nothing(odd):
    public = ED25519["tests"][0]["public"]
    assert not is_signed(b"", odd, public)
    assert not is_signed(b"", ED25519["tests"][0]["signature"], odd)


def test_the_chain_of_the_reference_is_made_and_its_head_signed():
    # Hash chain over RFC 8785 with a head signed by the RFC's test key (made with other code).
    chain = json.loads((VECTORS / "hash_chain.json").read_text())
    for one in chain["records"]:
        assert sha256(canonical_bytes(one["record"])).hexdigest() == one["sha256"]
    head = canonical_bytes(chain["head"])
    assert is_signed(head, chain["signature"], chain["public"])


@pytest.mark.parametrize(
    "one", json.loads((VECTORS / "jcs.json").read_text())["cases"], ids=lambda one: one["name"]
)
def test_the_published_files_have_their_canonical_form(one):
    assert canonical_bytes(json.loads(one["input"])).decode() == one["canonical"]


def test_a_key_comes_back_from_its_file_and_another_kind_is_refused():
    key = SigningKey.make_new()
    assert SigningKey.from_pem(key.pem).public == key.public
    other = ec.generate_private_key(ec.SECP256R1()).private_bytes(
        Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()
    )
    with pytest.raises(BadValueError, match="another kind"):
        SigningKey.from_pem(other)
    with pytest.raises(BadValueError, match="no private key"):
        SigningKey.from_pem(b"nothing")


def test_a_key_and_its_fingerprint_are_read_as_people_copy_them():
    public = SigningKey.make_new().public
    shown = fingerprint_of(public)
    assert len(shown) == 24
    for text in (public, public.upper(), f" {public[:32]} {public[32:]}\n", shown, shown.upper()):
        assert TrustedKey.from_text(text).fits_key(public)
    assert not TrustedKey.from_text(shown).fits_key(SigningKey.make_new().public)
    with pytest.raises(QuantityError, match="copy all 64"):
        TrustedKey.from_text(public[:40])


@given(st.integers(1, 5), st.data())
def test_trust_in_one_key_reaches_those_that_follow_and_none_before(count, data):
    keys = [SigningKey.make_new() for _ in range(count)]
    pairs = pairwise(keys)
    words = data.draw(st.permutations([succession_of(a, b, "north", AT) for a, b in pairs]))
    held, signer = (data.draw(st.integers(0, count - 1)) for _ in range(2))
    trusted = TrustedKey.from_text(keys[held].public)
    assert is_reached(keys[signer].public, trusted, words, "north") == (signer >= held)
    assert is_reached(keys[signer].public, trusted, words, "south") == (signer == held)


def test_nobody_names_themselves_the_successor():
    old, thief = SigningKey.make_new(), SigningKey.make_new()
    forged = succession_of(thief, thief, "north", AT) | {"old": old.public}
    trusted = TrustedKey.from_text(old.public)
    assert not is_reached(thief.public, trusted, [forged, None, {}, {"laidup_key": 1}], "north")


def test_a_signed_head_is_read_for_its_yard_alone():
    key, head = SigningKey.make_new(), RecordHead(3, "ab" * 32)
    said = sign_head(head, "north", AT, key)
    assert head_in(said, "north") == head
    assert head_in(said, "south") is None
    for member in ("count", "root", "at", "yard", "laidup_head"):
        assert head_in(said | {member: 4 if member == "count" else "x"}, "north") is None
