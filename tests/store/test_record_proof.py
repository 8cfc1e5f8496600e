"""Proofs of a season: where they grow too long, hours of mild days stand by their root alone."""

from datetime import UTC, date, datetime, timedelta

import pytest

from monitor.clock import to_ms
from monitor.craft.canonical import canonical_bytes
from monitor.craft.record_check import check_record
from monitor.craft.sealing import seal_record
from monitor.craft.signing_key import SigningKey, TrustedKey
from monitor.store import record_proof
from monitor.store.closing_days import close_due_days
from monitor.store.record_proof import SeasonProofs
from monitor.yard.reading import Channel, Flag, Reading

BEGIN = datetime(2026, 11, 4, tzinfo=UTC)
DAYS = [date(2026, 11, n) for n in range(4, 8)]
KEY = SigningKey.make_new()


@pytest.fixture
def kept(store):
    """Four days of one sensor that are closed."""
    new = [
        Reading(
            sensor="post",
            channel=Channel.TEMPERATURE,
            at_ms=to_ms(BEGIN + n * timedelta(hours=1)),
            value=n / 10,
            raw=n / 10,
            flag=Flag.PASS,
        )
        for n in range(96)
    ]
    with store.transaction() as tx:
        tx.reading_writer.add(new)
    close_due_days(store, BEGIN + timedelta(days=4, hours=2))
    return store


def proof_of(store, cold_days):
    with store.snapshot() as tx:
        proofs = SeasonProofs(tx, "kettlemoss", DAYS[0], DAYS[-1], KEY, BEGIN)
        return proofs.proof_of("k1", {"post": DAYS}, ["shed"], cold_days=cold_days)


def days_in_full(proof):
    return [int(one["day"][-2:]) for one in proof["days"] if "leaves" in one["groups"][0]]


def length(proof):
    return len(canonical_bytes(proof))


def test_what_is_short_enough_shows_every_hour(kept):
    proof = proof_of(kept, [])
    assert days_in_full(proof) == [4, 5, 6, 7]
    assert length(proof) <= record_proof.MOST_BYTES


@pytest.mark.parametrize(("folded", "in_full"), [(1, [4, 5, 6]), (2, [5, 6]), (3, [5]), (4, [])])
def test_days_that_matter_keep_their_hours_the_longest(kept, monkeypatch, folded, in_full):
    cold = [date(2026, 11, 5), date(2026, 11, 6), date(2026, 11, 4)]  # and the 7th is in no list
    whole = proof_of(kept, cold)
    [shown] = whole["days"][0]["groups"]
    by_root = {"of": shown["of"], "size": 24, "root": "0" * 64}
    saved = length(shown) - length(by_root)
    # A day's hours are of nearly one length: half a day less than what so many save.
    most = length(whole) - round((folded - 0.5) * saved)
    monkeypatch.setattr(record_proof, "MOST_BYTES", most)
    proof = proof_of(kept, cold)
    assert days_in_full(proof) == in_full
    assert length(proof) <= most
    sealed = seal_record({"yard": {"id": "kettlemoss"}, "craft": {"id": "k1"}, "proof": proof}, KEY)
    found = check_record(canonical_bytes(sealed), keys=[TrustedKey.from_text(KEY.public)])
    assert (found.holds, found.leaves) == (True, 24 * len(in_full))


def test_a_folded_day_whose_root_was_changed_does_not_hold(kept, monkeypatch):
    monkeypatch.setattr(record_proof, "MOST_BYTES", 1)
    proof = proof_of(kept, [])
    assert days_in_full(proof) == []
    proof["days"][2]["groups"][0]["root"] = "0" * 64
    sealed = seal_record({"yard": {"id": "kettlemoss"}, "craft": {"id": "k1"}, "proof": proof}, KEY)
    found = check_record(canonical_bytes(sealed), keys=[TrustedKey.from_text(KEY.public)])
    assert not found.holds
    assert "2026-11-06" in found.misfits[0].words
