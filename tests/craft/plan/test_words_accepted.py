"""What a plan tells a person to enter, the record takes: every profile, every step."""

from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.craft.acts import fields_of
from monitor.craft.admission import claims_beyond_reach, faults
from monitor.craft.layup import LEAVES, Act, Posture
from monitor.craft.plan.step import Ask, JobStep
from tests.craft.plan.follow import followed, plan
from tests.craft.plan.test_followed import SHELVES, records
from tests.craft.scene import EVE, held, library, record, work
from tests.tried import tried

# Fields in which a person notes what a step asks to be seen.
NOTED_IN = {
    Ask.DRY: "evidence.dry",
    Ask.OUTFLOW: "evidence.outflow",
    Ask.CLEAR_WATER: "evidence.outflow",
    Ask.READING: "evidence.ice_point_c",
    Ask.HOT_ENGINE: "evidence.engine_hot",
    Ask.CLEAR_OIL: "evidence.oil",
    Ask.TREATED_FUEL: "evidence.treated_fuel_seen",
    Ask.RESTED_VOLTAGE: "rested_v",
}


def words_refused(step: JobStep) -> list[str]:
    """What a step tells that its act has no field for."""
    if step.act is None:
        return [str(one) for one in step.asks]
    takes = {field.path for field in fields_of(step.act)}
    told = {NOTED_IN[one]: str(one) for one in step.asks}
    if step.posture is not None:
        told["posture"] = str(step.posture)
    return [words for path, words in told.items() if path not in takes]


@pytest.mark.parametrize("profile", sorted(library()))
@given(data=st.data(), low_c=st.sampled_from([-9.5, -26.0, -40.0]), shelf=SHELVES)
@settings(max_examples=tried(4), deadline=None)
def test_the_record_takes_what_a_plan_tells_to_enter(profile, data, low_c, shelf):
    drawn = data.draw(records(profile))
    here = tuple(one for one in drawn.entries if one.act not in LEAVES)
    before = replace(drawn, entries=here)
    job = plan(before, low_c, shelf=shelf)
    assert not [words for step in job.steps for words in words_refused(step)]
    known = {one.id for one in before.entries}
    for after, _, done_at in followed(before, job):
        for entry in after.entries:
            if entry.id in known:
                continue
            known.add(entry.id)
            wrong = faults(entry, after, "page", "", done_at + timedelta(hours=1))
            wrong += claims_beyond_reach(entry, after, "page", "")
            assert not wrong, (entry.act, [str(one) for one in wrong])


def test_a_hull_that_is_set_down_bow_up_says_nothing_of_how_its_engine_stands():
    dry = work("drained", 0, "propeller-hub", dry=True, posture=Posture.UPRIGHT)
    covered = work("cover-fitted", 1, posture=Posture.BOW_UP)
    hub = held(record(dry, covered, profile="outboard"), EVE)["propeller-hub"]
    assert hub.state == "proven"


def test_what_was_seen_as_a_craft_was_set_down_can_be_entered():
    seen = work(Act.STOOD, 0, "powerhead", posture=Posture.UPRIGHT, dry=True)
    of = record(seen, profile="outboard")
    assert not faults(seen, of, "page", "", EVE)
    nowhere = work(Act.STOOD, 0, posture=Posture.UPRIGHT, dry=False)
    told = faults(nowhere, record(nowhere, profile="outboard"), "page", "", EVE)
    assert [one.key for one in told] == ["circuits"]
