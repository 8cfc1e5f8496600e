"""A season record's file is judged: whole, or the first thing named that somebody changed in it."""

import copy
import json
from datetime import UTC, datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.craft.canonical import canonical_bytes
from monitor.craft.merkle import RecordHead
from monitor.craft.record_check import MisfitKind, check_record
from monitor.craft.sealing import seal_record
from monitor.craft.signed_statements import succession_of, words_leading_to
from monitor.craft.signing_key import SigningKey, TrustedKey, fingerprint_of
from monitor.errors import BadValueError
from tests.craft.sealed_scene import sealed_parts, sealed_scene

SEALED, KEY, HEADS = sealed_scene()
DATA = canonical_bytes(SEALED)
TRUSTED = TrustedKey.from_text(KEY.public)


def check(sealed, heads=()):
    data = sealed if isinstance(sealed, bytes) else canonical_bytes(sealed)
    return check_record(data, [TRUSTED], heads)


def first(sealed):
    found = check(sealed)
    assert not found.holds
    return found.misfits[0].kind, found.misfits[0].place


def changed(change):
    sealed = copy.deepcopy(SEALED)
    change(sealed)
    return sealed


def test_a_whole_record_holds_by_key_by_fingerprint_and_by_each_head_of_a_mail():
    found = check(DATA, [HEADS[20], HEADS[30], HEADS[47]])
    assert found.misfits == ()
    assert found.holds
    assert (found.yard, found.craft, found.links, found.leaves) == ("north", "PWC-7", 7, 75)
    assert check_record(DATA, [TrustedKey.from_text(fingerprint_of(KEY.public))]).holds
    short = RecordHead.parse(HEADS[20].short)
    assert check_record(DATA, heads=[short]).holds


def test_what_nobody_vouches_for_does_not_hold_though_it_fits_in_itself():
    found = check_record(DATA)
    assert found.misfits == ()
    assert not found.holds


@given(st.integers(0, len(DATA) - 1), st.integers(1, 255))
@settings(max_examples=150)
def test_any_byte_that_is_changed_is_told(at, by):
    data = bytearray(DATA)
    data[at] ^= by
    assert not check(bytes(data)).holds


@given(st.integers(0, len(DATA) - 1))
@settings(max_examples=30)
def test_a_file_that_ends_too_soon_is_no_record(length):
    assert first(DATA[:length])[0] is MisfitKind.NOT_A_RECORD


TAMPERINGS = {
    "an entry": (
        lambda s: s["work"][1].update(act="drain"),
        (MisfitKind.PART, "work[1]"),
    ),
    "an alarm": (
        lambda s: s["alarms"][2].update(answered_by="nobody"),
        (MisfitKind.PART, "alarms[2]"),
    ),
    "an order": (lambda s: s["alarms"].reverse(), (MisfitKind.PART, "alarms[0]")),
    "a cut tail": (lambda s: s["alarms"].pop(), (MisfitKind.PART, "alarms[2]")),
    "an alarm out of the middle": (lambda s: s["alarms"].pop(1), (MisfitKind.PART, "alarms[1]")),
    "a photo": (
        lambda s: s["photos"][0].update(content="AAAA"),
        (MisfitKind.PART, "photos[0]"),
    ),
    "a figure": (lambda s: s["season"].update(to="2027-05-01"), (MisfitKind.PART, "season")),
    "a link": (
        lambda s: s["proof"]["links"][2]["entry"].update(by="Ansel Rye"),
        (MisfitKind.LINK, "proof.links[2]"),
    ),
    "a reading's hour": (
        lambda s: s["proof"]["days"][1]["groups"][1]["leaves"][5][2].__setitem__(1, 100),
        (MisfitKind.HOUR, "proof.days[1].groups[1].leaves[5]"),
    ),
    "an alarm's leaf": (
        lambda s: s["proof"]["days"][2]["groups"][0]["leaves"][0].__setitem__(5, "Vera"),
        (MisfitKind.HOUR, "proof.days[2].groups[0].leaves[0]"),
    ),
    "a cut day": (
        lambda s: s["proof"]["days"][2]["groups"][1]["leaves"].pop(),
        (MisfitKind.HOUR, "proof.days[2].groups[1].leaves[23]"),
    ),
    "a tile": (
        lambda s: s["proof"]["tree"][0].__setitem__(1, "0" * 64),
        (MisfitKind.TREE, "proof.tree"),
    ),
    "a head": (
        lambda s: s["proof"]["head"].update(count=46),
        (MisfitKind.SIGNATURE, "proof.head"),
    ),
    "a digest": (lambda s: s["digests"].update(season="0" * 64), (MisfitKind.PART, "season")),
    "a signature": (
        lambda s: s["seal"].update(signature="0" * 128),
        (MisfitKind.SIGNATURE, "seal"),
    ),
    "no seal": (lambda s: s.pop("seal"), (MisfitKind.SIGNATURE, "seal")),
    "a part added": (lambda s: s.update(praise="well kept"), (MisfitKind.PART, "praise")),
}


@pytest.mark.parametrize("tampered", TAMPERINGS)
def test_what_was_changed_is_named_first(tampered):
    change, named = TAMPERINGS[tampered]
    assert first(changed(change)) == named


@given(st.sampled_from(["alarms", "work"]), st.data())
def test_an_element_that_was_taken_out_is_named_by_its_place(member, data):
    n = data.draw(st.integers(0, len(SEALED[member]) - 1))
    assert first(changed(lambda s: s[member].pop(n))) == (MisfitKind.PART, f"{member}[{n}]")


@given(st.integers(0, 2), st.integers(0, 23), st.integers(1, 3), st.integers(-500, 500))
def test_any_figure_of_any_hour_is_named_by_its_hour(day, hour, figure, value):
    def change(sealed):
        leaf = sealed["proof"]["days"][day]["groups"][1]["leaves"][hour]
        leaf[2][figure] = value if leaf[2][figure] != value else value + 1

    found = check(changed(change)).misfits[0]
    assert found.place == f"proof.days[{day}].groups[1].leaves[{hour}]"
    assert f"2026-11-{4 + day:02d} {hour:02d}:00 UTC" in found.words


def test_who_seals_a_changed_record_anew_is_told_by_the_key():
    thief = SigningKey.make_new()
    document, _, _ = sealed_parts()
    document["work"].pop()
    found = check(seal_record(document, thief))
    assert found.misfits[0].kind is MisfitKind.KEY
    assert fingerprint_of(thief.public) in found.misfits[0].words


def test_a_yard_that_rewrites_its_record_under_its_own_key_is_told_by_an_owners_mail():
    forged = RecordHead(20, "0" * 64)
    found = check(DATA, [forged])
    assert [one.kind for one in found.misfits] == [MisfitKind.HEAD]
    assert "rewritten" in found.misfits[0].meaning
    assert not found.holds


def test_a_head_that_is_newer_or_was_not_foreseen_cannot_be_compared_and_says_why():
    assert "newer" in check(DATA, [RecordHead(99, "ab" * 32)]).misfits[0].words
    assert "none of those" in check(DATA, [HEADS[31]]).misfits[0].words


def test_a_record_of_the_next_key_holds_by_the_one_that_an_owner_has():
    document, old, _ = sealed_parts()
    new = SigningKey.make_new()
    word = succession_of(old, new, "north", datetime(2027, 2, 1, tzinfo=UTC))
    data = canonical_bytes(seal_record(document, new, [word]))
    assert check_record(data, [TrustedKey.from_text(old.public)]).holds
    assert not check_record(data, [TRUSTED]).holds


@pytest.mark.parametrize(
    "added",
    [
        {"note": "the yard owes 4,000"},
        {"successions": [{"said": "the yard owes 4,000"}]},
        {"successions": {"said": "the yard owes 4,000"}},
        {"successions": None},
    ],
)
def test_what_somebody_writes_into_the_seal_is_told(added):
    assert first(SEALED | {"seal": SEALED["seal"] | added}) == ("signature", "seal")


def test_a_word_of_keys_with_anything_more_in_it_is_none():
    document, old, _ = sealed_parts()
    new = SigningKey.make_new()
    word = succession_of(old, new, "north", datetime(2027, 2, 1, tzinfo=UTC))
    held = TrustedKey.from_text(new.public)
    assert check_record(canonical_bytes(seal_record(document, new, [word])), [held]).holds
    more = seal_record(document, new, [word | {"signature_of": "the yard owes 4,000"}])
    assert not check_record(canonical_bytes(more), [held]).holds


def test_a_word_that_leads_from_or_to_other_keys_is_told():
    document, old, _ = sealed_parts()
    new, strange, at = (
        SigningKey.make_new(),
        SigningKey.make_new(),
        datetime(2027, 2, 1, tzinfo=UTC),
    )
    word, lost = (succession_of(old, one, "north", at) for one in (new, strange))
    held = TrustedKey.from_text(old.public)
    foreign = succession_of(strange, SigningKey.make_new(), "north", at)
    for words in ([foreign], [word, foreign], [word, lost], [word, word]):
        found = check_record(canonical_bytes(seal_record(document, new, words)), [held])
        assert (found.misfits[0].kind, found.misfits[0].place) == ("signature", "seal")
    assert words_leading_to(new.public, [foreign, lost, word], "north") == [word]
    first = SigningKey.make_new()
    before = succession_of(first, old, "north", at)
    assert words_leading_to(new.public, [before, word], "north") == [before, word]
    both = canonical_bytes(seal_record(document, new, [word, before]))
    assert check_record(both, [TrustedKey.from_text(first.public)]).holds


def test_a_record_without_a_proof_holds_by_its_key_and_by_no_head():
    document, key, heads = sealed_parts()
    del document["proof"]
    data = canonical_bytes(seal_record(document, key))
    assert check_record(data, [TrustedKey.from_text(key.public)]).holds
    assert not check_record(data, heads=[heads[20]]).holds


def test_a_file_that_was_only_written_anew_is_told_by_its_first_byte():
    data = json.dumps(SEALED).encode()
    found = check(data)
    assert [one.kind for one in found.misfits] == [MisfitKind.FORM]
    assert (
        data[: int(found.misfits[0].place.split()[1])]
        == DATA[: int(found.misfits[0].place.split()[1])]
    )


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "no JSON"),
        (b"\xff", "no UTF-8"),
        (b"{}", "no season record"),
        (b'{"laidup_record":2}', "version 2"),
        (b'{"laidup_record":true}', "version True"),
        (b'{"laidup_record":1,"laidup_record":1}', "twice"),
        (b'{"laidup_record":NaN}', "NaN"),
        (b'{"laidup_record":1,"a":9007199254740993}', "no record can hold"),
        (b'{"laidup_record":1,"a":"\\ud800"}', "no record can hold"),
        (b"[" * 100_000, "nested more deeply than any record"),
        (b'{"a":' + b"9" * 5000 + b"}", "(RFC 8785)"),
    ],
)
def test_what_is_no_record_is_refused_with_its_reason(data, words):
    found = check(data)
    assert found.misfits[0].kind is MisfitKind.NOT_A_RECORD
    assert words in found.misfits[0].words


JSON = st.recursive(
    st.none() | st.integers(-3, 3) | st.text(max_size=3),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=3), inner),
    max_leaves=6,
)


@given(st.sampled_from(sorted(SEALED)), JSON)
def test_a_member_that_holds_anything_crashes_nothing(member, value):
    assert not check(SEALED | {member: value}).holds


@given(st.sampled_from(["head", "tree", "links", "marks", "days"]), JSON)
def test_a_proof_that_holds_anything_crashes_nothing(member, value):
    assert not check(SEALED | {"proof": SEALED["proof"] | {member: value}}).holds


def test_only_the_seal_writes_what_the_seal_writes():
    with pytest.raises(BadValueError, match="only the seal"):
        seal_record({"digests": {}}, KEY)
    with pytest.raises(BadValueError, match="no version"):
        seal_record({"laidup_record": 2}, KEY)
