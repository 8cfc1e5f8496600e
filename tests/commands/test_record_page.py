"""The page docs/record-file.md and the check in a browser that was written from it alone."""

import base64
import copy
import json
import re
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from monitor.craft.canonical import canonical_bytes
from monitor.craft.merkle import RecordHead, leaf_hash, node_hash
from monitor.craft.record_check import check_record
from monitor.craft.sealing import part_digest, seal_record, signed_bytes
from monitor.craft.signed_statements import succession_of
from monitor.craft.signing_key import SigningKey, TrustedKey, fingerprint_of
from tests.craft.sealed_scene import sealed_parts, sealed_scene
from tests.tried import tried

DOCS = Path(__file__).parents[2] / "docs"
PAGE = (DOCS / "record-file.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"```json\n(.*?)\n```", PAGE, re.DOTALL)
SEALED, KEY, HEADS = sealed_scene()
CALL = """async ([data, keys, heads]) => {
  const bytes = Uint8Array.from(atob(data), (sign) => sign.charCodeAt(0));
  const found = await checkRecord(bytes, keys.map(readKey), heads.map(readHead));
  return {holds: found.holds === true, signatures: found.signatures,
          misfits: found.misfits.map((one) => [one.kind, one.place])};
}"""


@pytest.fixture
def page(desk):
    """The check in a browser that has no network."""
    desk.context.set_offline(True)
    desk.goto((DOCS / "record-check.html").as_uri())
    return desk


def in_browser(page, data, keys=(), heads=()):
    return page.evaluate(CALL, [base64.b64encode(data).decode(), list(keys), list(map(str, heads))])


def agree(page, data, keys=(KEY.public,), heads=()):
    """Both checks of a file; they must name the same in the same order."""
    mine = check_record(data, [TrustedKey.from_text(one) for one in keys], heads)
    theirs = in_browser(page, data, keys, heads)
    assert theirs["signatures"], "this browser has no Ed25519"
    named = [[str(one.kind), one.place.split(" (")[0]] for one in mine.misfits]
    assert [[kind, place.split(" (")[0]] for kind, place in theirs["misfits"]] == named
    assert theirs["holds"] == mine.holds
    return mine


def test_the_example_of_the_page_is_a_record_that_holds():
    data = BLOCKS[0].encode()
    found = check_record(data, [TrustedKey.from_text("21fe-31df-a154-a261-626b")])
    assert found.holds
    assert f"{len(data)} bytes" in PAGE
    assert f"here {len(signed_bytes(json.loads(data)))} bytes" in PAGE
    assert part_digest({"id": "w1", "act": "drained"}) in PAGE
    # RFC 8032, 7.1, test 1.
    assert json.loads(data)["seal"]["public_key"].startswith("d75a980182b10ab7d54bfed3c964073a")


def test_the_hashes_of_the_page_are_those_of_the_rule():
    a, b, c = (leaf_hash(each) for each in (b"a", b"b", b"c"))
    for digest in (a, b, node_hash(a, b), node_hash(node_hash(a, b), c)):
        assert f"`{digest.hex()}`" in PAGE
    assert leaf_hash(BLOCKS[1].encode()).hex() in PAGE


def test_both_checks_agree_that_a_good_record_holds(page):
    data = canonical_bytes(SEALED)
    assert agree(page, data, heads=[HEADS[20], HEADS[30]]).holds
    assert agree(page, data, keys=[fingerprint_of(KEY.public)]).holds
    assert agree(page, data, keys=[], heads=[HEADS[20]]).holds
    assert not agree(page, data, keys=[]).holds
    assert agree(page, BLOCKS[0].encode(), keys=["21fe-31df-a154-a261-626b"]).holds


def test_both_checks_follow_one_key_to_the_next(page):
    document, old, _ = sealed_parts()
    new = SigningKey.make_new()
    word = succession_of(old, new, "north", datetime(2027, 2, 1, tzinfo=UTC))
    data = canonical_bytes(seal_record(document, new, [word]))
    assert agree(page, data, keys=[old.public]).holds
    word["signature_old"] = word["signature_new"]
    data = canonical_bytes(seal_record(document, new, [word]))
    assert not agree(page, data, keys=[old.public]).holds


def _byte(data, pick):
    data = bytearray(data)
    at = pick(st.integers(0, len(data) - 1))
    data[at] ^= pick(st.integers(1, 127))
    return bytes(data)


def _content(change):
    def tamper(data, pick):
        sealed = json.loads(data)
        change(sealed, pick)
        return canonical_bytes(sealed)

    return tamper


def _entry(sealed, pick):
    sealed["work"][pick(st.integers(0, 1))]["act"] = "blown-out"


def _hour(sealed, pick):
    group = sealed["proof"]["days"][pick(st.integers(0, 2))]["groups"][1]
    group["leaves"][pick(st.integers(0, 23))][2][pick(st.integers(0, 3))] = 7


def _link(sealed, pick):
    sealed["proof"]["links"][pick(st.integers(0, 6))]["number"] = 99


def _photo(sealed, pick):
    content = pick(st.binary(min_size=1, max_size=9))
    sealed["photos"][0]["content"] = base64.b64encode(content).decode()


def _alarm(sealed, pick):
    sealed["alarms"][pick(st.integers(0, 2))]["answered_by"] = pick(st.text(max_size=5))


def _order(sealed, pick):
    sealed["alarms"] = pick(st.permutations(sealed["alarms"]))


def _cut(sealed, pick):
    member = pick(st.sampled_from(["alarms", "work", "photos"]))
    del sealed[member][pick(st.integers(0, len(sealed[member]) - 1)) :]


def _seal(sealed, pick):
    more = {"successions": [{"at": "2027-02-01T00:00:00Z"}]}
    sealed["seal"] |= pick(st.sampled_from([more, {"successions": None}, {"note": "paid"}]))


def _other_key(_, pick):
    document, _, _ = sealed_parts()
    document["season"]["to"] = pick(st.sampled_from(["2027-05-01", "2027-06-01"]))
    return canonical_bytes(seal_record(document, SigningKey.make_new()))


TAMPERINGS = {
    "a byte": _byte,
    "an entry": _content(_entry),
    "an hour": _content(_hour),
    "a link": _content(_link),
    "a photo": _content(_photo),
    "an alarm": _content(_alarm),
    "the order": _content(_order),
    "a cut tail": _content(_cut),
    "another key": _other_key,
    "the seal": _content(_seal),
}


@given(st.data())
@settings(max_examples=tried(40), suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_both_checks_name_the_same_whatever_is_tampered_with(page, data):
    tamper = TAMPERINGS[data.draw(st.sampled_from(sorted(TAMPERINGS)))]
    good = canonical_bytes(copy.deepcopy(SEALED))
    file = tamper(good, data.draw)
    found = agree(page, file)
    assert found.holds == (file == good)


def test_both_checks_tell_an_older_head_that_is_not_extended(page):
    data = canonical_bytes(SEALED)
    for head in (RecordHead(20, "0" * 64), RecordHead(31, "ab" * 32), RecordHead(99, "ab" * 32)):
        assert not agree(page, data, heads=[head]).holds


@pytest.mark.parametrize(
    "data",
    [
        *(b"", b"{}", b"\xff", b'{"laidup_record":2}', b'{"laidup_record":1} '),
        *(b'{"laidup_record":1,"a":1e999}', b'{"laidup_record":1,"a":1E2}'),
        *(b'{"laidup_record":1,"laidup_record":1}', b'{"laidup_record":1,"a":"\\ud800"}'),
        b'{"laidup_record":1,"a":9007199254740993}',
    ],
)
def test_both_checks_refuse_what_is_no_record(page, data):
    assert not agree(page, data).holds


def test_a_person_gets_the_answer_on_the_page(page, tmp_path):
    file = tmp_path / "record.json"
    file.write_bytes(canonical_bytes(SEALED))
    page.set_input_files("#file", file)
    page.fill("#key", fingerprint_of(KEY.public))
    page.click("button")
    page.get_by_text("It holds: nothing was changed").wait_for()
    page.fill("#key", "abc")
    page.click("button")
    page.get_by_text("Copy all 64 digits").wait_for()
