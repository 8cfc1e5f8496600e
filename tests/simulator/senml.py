"""A strict reader of SenML JSON for the tests, written from RFC 8428 and from nothing of ours."""

import json
import math
import re

# RFC 8428, tables 1 and 2: JSON label -> type.
FIELDS = {
    "bn": str, "bt": float, "bu": str, "bv": float, "bs": float, "bver": int,
    "n": str, "u": str, "v": float, "vs": str, "vb": bool, "vd": str,
    "s": float, "t": float, "ut": float,
}  # fmt: skip
# RFC 8428, section 12.1: the units that a yard uses.
UNITS = {"Cel", "%RH", "V", "A", "/", "%EL"}
NAME = re.compile(r"[A-Za-z0-9][-A-Za-z0-9:./_]*")


def _no_repeats(pairs):
    keys = [key for key, _ in pairs]
    assert len(keys) == len(set(keys)), f"repeated keys in {keys}"
    return dict(pairs)


def _no_constant(text):
    raise AssertionError(f"{text} is no JSON number (RFC 8259)")


def read(payload: bytes) -> list[tuple[str, str, float, float]]:
    """Resolve a pack into (name, unit, Unix time, value); AssertionError if the RFC is broken."""
    pack = json.loads(
        payload.decode("utf-8"), object_pairs_hook=_no_repeats, parse_constant=_no_constant
    )
    assert isinstance(pack, list)
    assert pack, "a pack has at least one record"
    base = {"bn": "", "bt": 0.0, "bu": ""}
    resolved = []
    for record in pack:
        assert isinstance(record, dict)
        for label, value in record.items():
            assert label in FIELDS, f"{label} is no field of RFC 8428"
            wanted = FIELDS[label]
            if wanted is float:
                assert isinstance(value, int | float)
                assert not isinstance(value, bool)
                assert math.isfinite(value)
            else:
                assert isinstance(value, wanted)
        base |= {label: record[label] for label in base if label in record}
        assert sum(label in record for label in ("v", "vs", "vb", "vd")) == 1
        name, unit = base["bn"] + record.get("n", ""), record.get("u", base["bu"])
        time = base["bt"] + record.get("t", 0.0)
        assert NAME.fullmatch(name), f"{name!r} breaks section 4.5.1"
        assert unit in UNITS, f"{unit!r} is not in the registry"
        assert time >= 2**28, "below 2**28 a time is relative to now (section 4.5.3)"
        assert record.get("ut", 0.0) >= 0.0
        resolved.append((name, unit, time, float(record["v"])))
    return resolved
