"""SenML packs against the examples of RFC 8428 and against bytes that nobody should send."""

import json
from pathlib import Path

import cbor2
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from monitor.errors import PayloadError
from monitor.intake.senml import MAX_BYTES, MAX_RECORDS, Record, decode_pack, is_pack, resolve_pack

VECTORS = Path(__file__).parent / "vectors"
CASES = json.loads((VECTORS / "senml.json").read_text())["cases"]
CBOR = json.loads((VECTORS / "senml_cbor.json").read_text())
NAMES = {"name": "n", "unit": "u", "at_s": "t", "value": "v", "update_s": "ut", "sum": "s"} | {
    "text": "vs",
    "boolean": "vb",
    "data": "vd",
}


def as_fields(record: Record) -> dict[str, object]:
    named = {NAMES[name]: value for name, value in record._asdict().items() if name in NAMES}
    return {label: value for label, value in named.items() if value is not None}


def assert_same(records: list[Record], expected: list[dict[str, object]]) -> None:
    # Resolved numbers are sums of decimals as doubles; 1e-6 is a microsecond, or a millionth.
    assert len(records) == len(expected)
    for record, want in zip(records, expected, strict=True):
        got = as_fields(record)
        assert got.keys() == want.keys()
        for label, value in want.items():
            if isinstance(value, int | float) and not isinstance(value, bool):
                assert got[label] == pytest.approx(value, abs=1e-6)
            else:
                assert got[label] == value


# The examples of RFC 8428 section 5 with their resolved form; nine of them agree with the files
# that the SenML working group published beside the RFC. The cases named "own" apply its rules.
@pytest.mark.parametrize("case", [c for c in CASES if "resolved" in c], ids=lambda c: c["id"])
def test_a_pack_resolves_as_rfc_8428_says(case):
    assert_same(decode_pack(json.dumps(case["pack"]).encode(), case["now"]), case["resolved"])


@pytest.mark.parametrize("case", [c for c in CASES if "error" in c], ids=lambda c: c["id"])
def test_a_pack_that_breaks_a_rule_is_refused(case):
    with pytest.raises(PayloadError):
        decode_pack(json.dumps(case["pack"]).encode(), case["now"])


@pytest.mark.parametrize("case", [c for c in CASES if "resolved" in c], ids=lambda c: c["id"])
def test_cbor_resolves_to_the_same_records(case):
    labelled = [{CBOR["labels"].get(k, k): v for k, v in r.items()} for r in case["pack"]]
    assert_same(decode_pack(cbor2.dumps(labelled), case["now"]), case["resolved"])


def test_the_cbor_example_of_rfc_8428_section_6_says_what_its_json_says():
    example = CBOR["rfc8428_example"]
    from_cbor = decode_pack(bytes.fromhex(example["hex"]), 0.0)
    from_json = decode_pack(json.dumps(example["json"]).encode(), 0.0)
    assert from_cbor == from_json
    assert len(from_cbor) == 7


def test_a_battery_maintainers_pack_reads_alike_in_both_forms():
    example = CBOR["own_maintainer_example"]
    assert_same(decode_pack(bytes.fromhex(example["hex"]), 0.0), example["resolved"])
    assert_same(decode_pack(json.dumps(example["json"]).encode(), 0.0), example["resolved"])


@pytest.mark.parametrize(
    "payload",
    [
        b'[{"n":"a1","v":NaN}]',
        b'[{"n":"a1","v":Infinity}]',
        b'[{"n":"a1","v":1e999}]',
        b'[{"n":"a1","v":' + b"9" * 5000 + b"}]",
        b'[{"n":"a1","bt":1e300,"t":1e300,"v":1}]',
        b'[{"n":"a1","v":1}] trailing',
        b"[" * 60_000,
        b'[{"n":"a1","v":1,"x":' + b"[" * 5 + b"]" * 5 + b"}]",
        b'[{"n":"a1","v":1,"n2_":1}]',
        b'[{"bver":5,"n":"a1","v":1},{"bver":10,"n":"a2","v":1}]',
        b'[{"n":"a1","u":"Cel"}]',
        b'[{"n":"a1","v":1,"t":null}]',
        b'[{"n":1,"v":1}]',
        b'[{"n":"a1","v":1,"u":7}]',
        b'[{"n":"a1","vb":1}]',
        b"[]",
        b"[1]",
        b'"a"',
        b"\xff\xfe",
        b"",
        cbor2.dumps([{0: "a1", 2: float("nan")}]),
        cbor2.dumps([{0: "a1", 2: float("inf")}]),
        cbor2.dumps([{0: "a1", 2: 1}]) + b"\x00",
        cbor2.dumps([{0: "a1", 2: 1, "v": 2}]),
        cbor2.dumps([{0: "a1", 2: 10**400}]),
        b"\x81" * 60_000,
        b"\x9f",
        b" " * (MAX_BYTES + 1),
        json.dumps([{"n": "a1", "v": 1}] * (MAX_RECORDS + 1)).encode(),
        json.dumps([{"n": "a" * 129, "v": 1}]).encode(),
        json.dumps([{"n": "a1", "vs": "x" * 257}]).encode(),
    ],
    ids=lambda payload: repr(payload[:24]),
)
def test_what_no_sensor_should_send_is_refused_with_a_reason(payload):
    with pytest.raises(PayloadError) as caught:
        decode_pack(payload, 1_760_000_000.0)
    assert caught.value.reason


def test_an_error_names_the_record_and_the_field():
    with pytest.raises(PayloadError, match="record 2 v: 'cold' is not a number"):
        resolve_pack([{"n": "a1", "v": 1}, {"n": "a2", "v": "cold"}], 0.0)


def records_or_reason(payload: bytes) -> list[Record] | str:
    try:
        return decode_pack(payload, 1_760_000_000.0)
    except PayloadError as error:
        return error.reason


@given(st.binary(max_size=400))
def test_any_bytes_give_records_or_a_reason(payload):
    outcome = records_or_reason(payload)
    assert outcome
    assert isinstance(outcome, str) or is_pack(payload)


scalars = st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8)
anything = scalars | st.binary(max_size=4) | st.lists(scalars, max_size=2)
labels = st.sampled_from([*CBOR["labels"], "x", "y_"])


@given(st.lists(st.dictionaries(labels, anything, max_size=6), max_size=4))
@settings(suppress_health_check=[HealthCheck.too_slow])
def test_any_mixture_of_fields_gives_records_in_time_order_or_a_reason(pack):
    labelled = [{CBOR["labels"].get(k, k): v for k, v in r.items()} for r in pack]
    outcome = records_or_reason(cbor2.dumps(labelled))
    if isinstance(outcome, str):
        assert outcome
    else:
        assert [record.at_s for record in outcome] == sorted(record.at_s for record in outcome)


@pytest.mark.parametrize("label", ["v", "t", "u", "n", "bver", "bt", "vb", "vs", "s", "ut"])
def test_a_number_too_long_to_be_written_is_refused_like_any_other(label):
    # Python refuses to write integers of more than 4300 digits; CBOR carries them.
    record = {"bn": "a:", "n": "t", "v": 1, label: 2**20_000}
    if label in {"vb", "vs"}:
        del record["v"]
    numbered = {CBOR["labels"].get(name, name): value for name, value in record.items()}
    with pytest.raises(PayloadError):
        decode_pack(cbor2.dumps([numbered]), 1.7e9)


def test_cbor_may_carry_decimal_fractions():
    # RFC 8428, section 6: numbers as integers, floating point or decimal fractions (tag 4).
    # 0xC4 0x82 0x21 0x19 0x6AB3 is 273.15 in RFC 8949, section 3.4.4.
    pack = b"\x81\xa3" + cbor2.dumps(0) + cbor2.dumps("t") + cbor2.dumps(6) + cbor2.dumps(-1)
    pack += cbor2.dumps(2) + bytes.fromhex("c48221196ab3")
    (record,) = decode_pack(pack, 1.7e9)
    assert record.value == 273.15
    assert type(record.value) is float


def folded(depth: int) -> bytes:
    """CBOR of lists that each hold one list twice (tags 28, 29): 2**depth long once written out."""
    inner = b"\xd8\x1c\x82\x01\x02"
    for level in range(depth - 1, 0, -1):
        inner = b"\xd8\x1c\x82" + inner + b"\xd8\x1d" + cbor2.dumps(level)
    return inner


@pytest.mark.parametrize(
    ("value", "reason"),
    [
        (folded(3), "tag"),
        (folded(60), "not CBOR"),  # 400 bytes; written out more than the world's disks hold
        (b"\xd8\x23\x64(a|b", "tag"),  # 35, a pattern: the library would compile it
        (b"\xd8\x24\x64a: b", "tag"),  # 36, a mail: it would parse it
        (b"\xd9\x03\xe7\x00", "tag 999"),
        (b"\x81" * 40 + b"\x00", "depth"),
        (b"\x9b" + b"\x7f" + b"\xff" * 7, "premature end"),  # an array said to be endless
    ],
    ids=["folded", "folded often", "pattern", "mail", "unknown tag", "nested", "claimed length"],
)
def test_cbor_that_grows_when_it_is_read_is_refused(value, reason):
    with pytest.raises(PayloadError, match=reason):
        decode_pack(b"\x81\xa2\x00\x61a\x02" + value, 1.7e9)


def test_a_number_written_as_a_decimal_fraction_is_still_a_number():
    # 22.1 as 221 * 10**-1 (RFC 8949, section 3.4.4), which RFC 8428 allows in a pack.
    (record,) = decode_pack(b"\x81\xa2\x00\x61a\x02\xc4\x82\x20\x18\xdd", 1.7e9)
    assert record.value == pytest.approx(22.1)


def test_what_is_complained_of_is_never_written_out_whole():
    value = [1, 2]
    for _ in range(60):
        value = [value, value]
    with pytest.raises(PayloadError, match="a list of 2 is not a number"):
        resolve_pack([{"n": "a", "v": value}], 1.7e9)
