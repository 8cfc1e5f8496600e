"""Only work that can physically put right what was found settles it."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.craft.admission import faults
from monitor.craft.canonical import entry_json, entry_of
from monitor.craft.fields import BY_PATH
from monitor.craft.findings import open_findings
from monitor.craft.layup import Act, FindingKind, OilAppearance, Seen
from monitor.craft.protection import Confidence
from monitor.craft.settling import TABLE, can_settle
from monitor.settings.entry_as_typed import typed_value
from tests.craft.scene import NOON, STRONG, held, library, record, work
from tests.craft.test_less_never_more import FEW, LATER, assert_no_better

BOX = Seen(id="odd", part="water-box", words="seen as it was poured")
FILL = {"product": STRONG, "quantity_l": 6.0, "outflow": "full colour"}
DRY = {"dry": True}
READ = {"ice_point_c": -30.0, "zeroed_on": NOON.date()}


def found(kind, part="water-box"):
    seen = replace(BOX, kind=kind, part=part)
    return work("antifreeze-poured", 0, "water-box", findings=(seen,), **FILL)


def is_open(*entries, profile="pwc-two-stroke"):
    return bool(open_findings(entries, LATER, library()[profile]))


@pytest.mark.parametrize(
    ("act", "said"),
    [
        ("cover-fitted", {}),
        ("battery-removed", {}),
        ("work-ended", {}),
        ("fuel-drained", {}),
        ("inspected", {}),
        ("kept-warm", {}),
        ("sprayed-down", {}),
    ],
)
@pytest.mark.parametrize("kind", [None, *FindingKind])
def test_work_on_something_else_settles_nothing_and_ends_no_doubt(kind, act, said):
    after = work(act, 24, settles=("odd",), **said)
    assert is_open(found(kind), after)
    assert held(record(found(kind), after))["water-box"].confidence is Confidence.LOW


# What a mechanic would say of each: common practice, no source.
@pytest.mark.parametrize(
    ("kind", "act", "circuits", "said", "settles"),
    [
        ("crack", "repaired", ("water-box",), {}, True),
        ("crack", "repaired", (), {}, True),
        ("crack", "repaired", ("hoses",), {}, False),  # it is not in the water box
        ("crack", "inspected", ("water-box",), DRY, False),
        ("leak", "drained", ("water-box",), DRY, False),
        ("ice", "inspected", ("water-box",), {}, False),  # nothing was noted of it
        ("ice", "inspected", ("water-box",), READ, True),
        ("blocked", "circuit-opened", ("water-box",), {}, True),
        ("blocked", "circuit-opened", ("hoses",), {}, False),
        ("blocked", "antifreeze-poured", ("water-box",), FILL, False),  # it may go round it
        ("blocked", "drained", ("water-box",), DRY, False),  # no drain empties a low loop
        ("reading", "inspected", ("water-box",), READ, True),
        ("reading", "inspected", ("water-box",), {}, False),
        (None, "inspected", ("water-box",), READ, False),
        (None, "repaired", (), {}, True),
    ],
)
def test_each_kind_is_settled_by_what_can_put_it_right(kind, act, circuits, said, settles):
    seen = found(FindingKind(kind) if kind else None)
    after = work(act, 24, *circuits, settles=("odd",), **said)
    assert is_open(seen, after) is not settles
    complaints = faults(after, record(seen, after), "", "", now=LATER)
    assert ("settles" in {one.key for one in complaints}) is not settles


def test_water_in_oil_is_settled_by_fresh_oil_that_came_clear():
    milky = Seen(id="odd", part="gearcase", words="milky", kind=FindingKind.WATER)
    look = work("oil-changed", 0, "gearcase", oil=OilAppearance.MILKY, findings=(milky,))
    for oil, settles in ((OilAppearance.CLEAR, True), (OilAppearance.MILKY, False), (None, False)):
        after = work("oil-changed", 24, "gearcase", oil=oil, settles=("odd",))
        assert is_open(look, after, profile="outboard") is not settles


def test_what_was_done_before_something_was_found_settles_nothing_of_it():
    early = work("repaired", -24, settles=("odd",))
    assert is_open(found(FindingKind.LEAK), early)
    complaints = faults(early, record(found(FindingKind.LEAK), early), "", "", now=LATER)
    assert "was made after this work was done" in next(one.problem for one in complaints)


def test_a_cover_is_renewed_by_a_cover():
    torn = work("inspected", 0, findings=(replace(BOX, part="cover"),))
    assert not is_open(torn, work("cover-fitted", 24, settles=("odd",)))
    assert is_open(torn, work("bilge-dried", 24, settles=("odd",)))


EVIDENCE = [
    {},
    DRY,
    READ,
    {"oil": OilAppearance.CLEAR},
    {"dry": False},
    {"oil": OilAppearance.MILKY},
]


@FEW
@given(
    act=st.sampled_from([one for one in Act if one is not Act.WITHDRAWN]),
    said=st.sampled_from(EVIDENCE),
    circuits=st.sampled_from([(), ("water-box",), ("hoses",), ("hoses", "water-box")]),
    kind=st.sampled_from(list(FindingKind)),
    part=st.sampled_from(["water-box", "Water box", "hull", "bilge", "refractometer"]),
)
def test_a_kind_or_evidence_that_nobody_told_never_settles_more(act, said, circuits, kind, part):
    profile = library()["pwc-two-stroke"]
    seen = replace(BOX, kind=kind, part=part)
    whole = work(act, 24, *circuits, settles=("odd",), **said)
    bare = work(act, 24, *circuits, settles=("odd",))
    if can_settle(bare, seen, profile):
        assert can_settle(whole, seen, profile)
    if can_settle(whole, replace(seen, kind=None), profile):
        assert can_settle(whole, seen, profile)


@FEW
@given(
    act=st.sampled_from([one for one in Act if one is not Act.WITHDRAWN]),
    said=st.sampled_from(EVIDENCE),
    kind=st.sampled_from([None, *FindingKind]),
)
def test_a_claim_that_it_is_settled_helps_only_where_the_table_says_so(act, said, kind):
    claimed = work(act, 24, "water-box", settles=("odd",), **said)
    silent = work(act, 24, "water-box", **said)
    if kind is not None and act in TABLE[kind]:
        return
    if kind is None and act is Act.REPAIRED:
        return
    with_claim = held(record(found(kind), claimed), LATER)
    assert_no_better(with_claim, held(record(found(kind), silent), LATER))


def test_its_kind_is_written_behind_the_part_and_kept():
    [one] = typed_value(BY_PATH["findings"], ["gearcase (Leak): seal weeps"], LATER, {})
    assert (one.part, one.kind, one.words) == ("gearcase", FindingKind.LEAK, "seal weeps")
    [plain] = typed_value(BY_PATH["findings"], ["box (left one): seal weeps"], LATER, {})
    assert (plain.part, plain.kind) == ("box (left one)", None)
    entry = found(FindingKind.LEAK)
    assert entry_of(entry_json(entry)) == entry
    assert "kind" not in str(entry_json(found(None)))
