"""What may not go into a lay-up record, and what a person is told."""

from dataclasses import replace
from datetime import timedelta

import pytest

from monitor.craft.admission import claims_beyond_reach, faults
from monitor.craft.layup import LayupEntry, OilAppearance, Product, Seen
from tests.craft.scene import ARRIVED, FLOZ, NOON, PINK, record, work


def complaints(entry: LayupEntry, *others: LayupEntry, now=None, **craft):
    one = record(entry, *others, **craft)
    return {fault.key: str(fault) for fault in faults(entry, one, "winter.toml", "", now)}


def test_a_usual_entry_may_go_in():
    entry = work("antifreeze-poured", 0, "water-box", product=PINK, quantity_l=12 * FLOZ)
    assert complaints(entry, now=NOON) == {}


def test_work_before_the_craft_came_is_refused():
    told = complaints(work("flushed", 0, at=ARRIVED - timedelta(days=1)))
    assert "before Teal (k1) came" in told["at"]


def test_work_after_the_craft_left_is_refused():
    assert "after Teal (k1) left" in complaints(work("flushed", 0), left_at=NOON)["at"]


def test_work_still_to_come_is_refused():
    assert "still to come" in complaints(work("flushed", 5), now=NOON)["at"]


def test_an_unknown_circuit_is_named_with_its_nearest():
    told = complaints(work("drained", 0, "waterbox"))
    assert "no circuit 'waterbox'" in told["circuits"]
    assert "Did you mean 'water-box'?" in told["circuits"]


def test_antifreeze_without_a_circuit_protects_nothing():
    assert "protection belongs to a circuit" in complaints(work("antifreeze-poured", 0))["circuits"]


def test_fourteen_gallons_into_a_half_litre_passage_is_a_slip_of_the_unit():
    entry = work("antifreeze-poured", 0, "cylinder-passages", quantity_l=14 * 128 * FLOZ)
    told = complaints(entry)["quantity"]
    assert "53 L" in told
    assert "was it fl oz?" in told


def test_a_correction_must_name_an_entry_of_this_craft():
    assert "no entry 'gone'" in complaints(work("flushed", 0, replaces="gone"))["replaces"]


def test_an_entry_is_replaced_once_and_then_its_replacement_is():
    wrong = work("flushed", 0, id="wrong")
    first = work("flushed", 1, id="first", replaces="wrong")
    again = work("flushed", 2, id="again", replaces="wrong")
    assert "replaced by 'first' already" in complaints(again, wrong, first)["replaces"]
    assert complaints(replace(again, replaces="first"), wrong, first) == {}


def test_corrections_may_not_lead_round_in_a_ring():
    one = work("flushed", 0, id="one", replaces="two")
    two = work("flushed", 0, id="two", replaces="one")
    assert "ring" in complaints(one, two)["replaces"]


def test_a_finding_is_new_and_what_settles_it_knows_it():
    seal = Seen(id="k1-seal", part="pump", words="seal weeps")
    first = work("inspected", 0, findings=(seal,))
    assert (
        "on record already" in complaints(work("inspected", 1, findings=(seal,)), first)["findings"]
    )
    assert (
        "no finding 'k1-lamp'"
        in complaints(work("repaired", 1, settles=("k1-lamp",)), first)["settles"]
    )
    assert complaints(work("repaired", 1, settles=("k1-seal",)), first) == {}


@pytest.mark.parametrize("strength", [0.0, -0.1, 0.61, 1.2, float("nan")])
def test_a_strength_that_no_product_has_cannot_exist(strength):
    with pytest.raises(ValueError, match="strength"):
        Product(name="jug", strength=strength)


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"by": "  "}, "nobody is named"),
        ({"quantity_l": 0.0}, "above 0"),
        ({"quantity_l": float("nan")}, "above 0"),
        ({"rested_v": 126.0}, "60 V"),
        ({"ice_point_c": 30.0}, "sign or a unit"),
        ({"ice_point_c": float("nan")}, "sign or a unit"),
    ],
)
def test_an_impossible_entry_cannot_exist(said, words):
    with pytest.raises(ValueError, match=words):
        work("inspected", 0, **said)


def test_a_time_without_a_zone_names_no_moment():
    with pytest.raises(ValueError, match="no zone"):
        LayupEntry(
            **{
                **{
                    name: getattr(work("flushed"), name) for name in LayupEntry.__dataclass_fields__
                },
                "at": NOON.replace(tzinfo=None),
            }
        )


def test_an_act_on_a_circuit_that_it_says_nothing_of_is_refused_with_the_kind_named():
    oil = work("oil-changed", 0, "block", "drive-lube", oil=OilAppearance.CLEAR)
    one = record(oil, profile="sterndrive-raw-water")
    [told] = [str(each) for each in claims_beyond_reach(oil, one, "layup add", "")]
    assert "block and heads (block), which is a water passage" in told
    assert "something of drive-lube" in told


def test_an_act_that_only_undoes_is_never_refused_for_its_circuits():
    run = work("flushed", 0, "coolant", "hoses")
    assert claims_beyond_reach(run, record(run, profile="pwc-four-stroke"), "f", "") == []


@pytest.mark.parametrize("circuits", [("water-box",), ()], ids=["no engine", "no circuit"])
def test_of_several_engines_a_person_is_told_how_to_name_one(circuits):
    entry = work("antifreeze-poured", 0, *circuits, product=PINK, quantity_l=1.0)
    told = complaints(entry, now=NOON, profile="jet-boat-twin")["circuits"]
    assert "port-water-box, " in told
    assert "port or starboard for all of one engine" in told


def test_work_of_the_day_of_arrival_whose_hour_nobody_told_may_go_in():
    midnight = ARRIVED.replace(hour=0)
    late = {"arrived_at": ARRIVED.replace(hour=15)}
    noon = replace(work("flushed", 0, at=ARRIVED.replace(hour=12)), day_began=midnight)
    assert complaints(noon, **late) == {}
    day_before = timedelta(days=1)
    earlier = replace(noon, at=noon.at - day_before, day_began=midnight - day_before)
    assert "before Teal (k1) came" in complaints(earlier, **late)["at"]
