"""Work that is doubted by its own row, or by another word on the same look: the worse counts."""

from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.craft.layup import Act, Posture, Seen
from monitor.craft.protection import Basis, Confidence, LayupState
from tests.craft.scene import NOON, STRONG, held, record, work
from tests.craft.test_less_never_more import FEW, account, assert_no_better, records

ODD = Seen(id="odd", part="water-box", words="read −30 and then −12")
READ = {"ice_point_c": -30.0, "zeroed_on": NOON.date()}
FILL = {"product": STRONG, "quantity_l": 6.0, "outflow": "full colour"}
OUTBOARD = {"profile": "outboard"}


def box(*entries):
    return held(record(*entries))["water-box"]


@pytest.mark.parametrize(
    "said",
    [
        ("inspected", READ),
        ("antifreeze-poured", FILL),
        ("antifreeze-poured", FILL | READ),
    ],
    ids=["look", "pour", "pour read"],
)
@pytest.mark.parametrize("part", ["water-box", "Water box", "refractometer"])
def test_a_finding_about_its_own_circuit_or_reading_leaves_little_confidence(said, part):
    act, evidence = said
    sound = box(work(act, 0, "water-box", **evidence))
    finding = replace(ODD, part=part)
    doubted = box(work(act, 0, "water-box", findings=(finding,), **evidence))
    if part == "refractometer" and "ice_point_c" not in evidence:
        assert doubted == sound
        return
    assert sound.confidence is not Confidence.LOW
    assert (doubted.state, doubted.confidence) == (LayupState.PROVEN, Confidence.LOW)
    assert ODD.words in doubted.why
    assert doubted.burst_point_c >= sound.burst_point_c


def test_a_finding_on_another_part_doubts_nothing():
    hull = work("inspected", 0, "water-box", findings=(replace(ODD, part="hull"),), **READ)
    assert box(hull).confidence is Confidence.MEDIUM


def test_the_doubt_ends_with_a_further_reading_or_once_it_is_settled():
    odd = work("inspected", 0, "water-box", findings=(ODD,), **READ)
    again = work("inspected", 24, "water-box", **READ)
    mended = work("repaired", 24, settles=("odd",))
    assert box(odd, again).confidence is Confidence.MEDIUM
    assert box(odd, mended).confidence is Confidence.MEDIUM


def test_the_same_pour_told_once_more_ends_no_doubt():
    odd = work("antifreeze-poured", 0, "water-box", findings=(ODD,), **FILL)
    retold = work("antifreeze-poured", 1, "water-box", **FILL)
    assert box(odd, retold).confidence is Confidence.LOW


@pytest.mark.parametrize("wet_first", [True, False], ids=["wet first", "dry first"])
@pytest.mark.parametrize("hours_told", [True, False], ids=["one hour", "one day"])
@pytest.mark.parametrize(
    "dry",
    [
        work("stood", 0, id="dry", by="Bo Lund", posture=Posture.UPRIGHT),
        work("stood", 0, "powerhead", id="dry", by="Bo Lund", posture=Posture.UPRIGHT, dry=True),
        work("inspected", 0, "powerhead", id="dry", by="Bo Lund", dry=True),
    ],
    ids=["set down", "set down and seen dry", "seen dry"],
)
def test_water_seen_as_another_saw_it_dry_counts_and_both_are_named(wet_first, hours_told, dry):
    wet = work("inspected", 0, "powerhead", id="wet", by="Ines Aldaz", dry=False)
    told = [wet, dry] if wet_first else [dry, wet]
    if not hours_told:
        told = [replace(one, day_began=NOON - timedelta(hours=12)) for one in told]
    found = held(record(*told, **OUTBOARD))["powerhead"]
    assert found.state is LayupState.UNPROVEN
    assert "Ines Aldaz" in found.why
    assert "Bo Lund" in found.why


def test_set_down_otherwise_after_water_was_seen_is_no_word_on_the_same_look():
    wet = work("inspected", 0, "powerhead", dry=False, posture=Posture.TILTED)
    upright = work("stood", 0, posture=Posture.UPRIGHT)
    assert held(record(wet, upright, **OUTBOARD))["powerhead"].state is LayupState.PROVEN


def test_set_down_and_probed_dry_is_sure_and_with_water_in_it_proves_nothing():
    def powerhead(dry):
        stood = work("stood", 0, "powerhead", posture=Posture.UPRIGHT, dry=dry)
        return held(record(stood, **OUTBOARD))["powerhead"]

    assert powerhead(None).confidence is Confidence.MEDIUM
    assert (powerhead(True).state, powerhead(True).confidence) == ("proven", Confidence.HIGH)
    assert powerhead(False).state is LayupState.UNPROVEN


def test_water_seen_somewhere_as_it_was_set_down_is_taken_to_stand_where_it_should_have_run_out():
    stood = work("stood", 0, posture=Posture.UPRIGHT, dry=False)
    found = held(record(stood, **OUTBOARD))
    assert found["powerhead"].state is LayupState.UNPROVEN


def test_what_a_sample_was_read_of_is_not_dry():
    seen = box(work("inspected", 0, "hoses", "water-box", dry=True, ice_point_c=-5.0))
    assert (seen.basis, seen.ice_point_c) == (Basis.MEASURED, -5.0)


@FEW
@given(records(), st.data())
def test_a_finding_never_raises_what_is_held(drawn, data):
    profile, done, iced = drawn
    chosen = data.draw(st.integers(0, len(done) - 1))
    part = data.draw(st.sampled_from([*done[chosen].circuits, "reading", "hull"]))
    odd = replace(done[chosen], findings=(replace(ODD, part=part),))
    doubted = [*done[:chosen], odd, *done[chosen + 1 :]]
    assert_no_better(account(profile, doubted, iced), account(profile, done, iced))


@FEW
@given(records(), st.booleans(), st.data())
def test_water_seen_at_the_time_of_the_last_look_is_there_in_either_order(drawn, first, data):
    profile, done, iced = drawn
    done = [replace(one, posture=None) for one in done]
    last = max(one.at for one in done)
    looks = st.sampled_from([Act.STOOD, Act.INSPECTED])
    circuits = data.draw(st.sampled_from(done)).circuits
    dry, wet = (
        replace(work(data.draw(looks), 0, *circuits, dry=seen, id=f"look {seen}"), at=last)
        for seen in (True, False)
    )
    looked = [wet, dry] if first else [dry, wet]
    assert_no_better(
        account(profile, [*done, *looked], iced), account(profile, [*done, dry, wet], iced)
    )
    only_wet = account(profile, [*done, wet], iced)
    for name, one in account(profile, [*done, *looked], iced).items():
        assert one.ice_point_c >= min(0.0, only_wet[name].ice_point_c), name
