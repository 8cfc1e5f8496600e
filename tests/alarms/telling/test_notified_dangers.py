"""What was told is remembered by the danger it stood for, and counts for that spell alone."""

from dataclasses import replace
from datetime import timedelta

import pytest

from monitor.craft.plan.step import JobStep, StepKind
from monitor.craft.protection import Basis, LayupState
from monitor.yard.assessment import Hazard, Severity, Standing, Subject, Urgency
from monitor.yard.frost_facts import FrostFacts, Occasion, PlannedAct
from monitor.yard.message import MessageKind
from monitor.yard.space import Person, Role
from tests.alarms.scene import FOUR, OWNERS, Scene, craft, frost, heat, yard

HEAD, BOX = "head-passages", "water-box"
BOTH = Person(
    id="maren",
    name="Maren Ulv",
    mail="maren@yard.example",
    roles=frozenset({Role.OPERATOR, Role.MECHANIC}),
)


@pytest.fixture
def scene(tmp_path):
    """Teal with two circuits, in a yard where one person is operator and mechanic."""
    made = Scene(tmp_path, yard((BOTH, *OWNERS)))
    made.craft = {"K1": craft("K1", "Teal", "shed", owner="owner-1", parts=2)}
    return made


def hours(scene, count, *judged):
    """So many hours in which the same is judged."""
    for _ in range(count):
        scene.judge(*judged)
        scene.after(hours=1)


def circuit(scene, part, standing, *, in_hours=None, **more):
    now = scene.clock.now()
    deadline = None if in_hours is None else now + timedelta(hours=in_hours)
    low_c = -6.0 if standing is not Standing.HOLDING else 8.0
    return frost(
        scene.craft["K1"], standing, now, part=part, deadline=deadline, low_c=low_c, **more
    )


def letters_since(scene, before, person="maren"):
    return scene.messages(person)[before:]


def iced_in_november(scene):
    """One circuit warned of, iced and thawed; nobody looks into it for weeks."""
    other = circuit(scene, BOX, Standing.HOLDING)
    hours(scene, 4, circuit(scene, HEAD, Standing.EXPOSED, in_hours=4), other)
    hours(scene, 14, circuit(scene, HEAD, Standing.ICING), other)
    hours(scene, 48, circuit(scene, HEAD, Standing.SUSPECT), other)
    scene.after(days=40)
    return len(scene.messages("maren"))


def test_frost_on_another_circuit_is_told_weeks_after_one_has_iced(scene):
    before = iced_in_november(scene)
    head, box = (
        circuit(scene, HEAD, Standing.SUSPECT),
        circuit(scene, BOX, Standing.EXPOSED, in_hours=9),
    )
    hours(scene, 4, head, box)
    (letter,) = letters_since(scene, before)
    assert letter.created_at <= box.deadline - timedelta(hours=5)
    assert "ater box" in letter.text
    assert [each.kind for each in scene.messages("owner-1")][-1] is MessageKind.UPDATE


def test_a_circuit_that_ices_anew_after_weeks_is_told_though_nobody_had_looked_into_it(scene):
    before = iced_in_november(scene)
    other = circuit(scene, BOX, Standing.HOLDING)
    hours(scene, 20, circuit(scene, HEAD, Standing.ICING), other)
    (letter,) = letters_since(scene, before)
    assert "Teal" in letter.subject


def test_what_only_waits_for_its_inspection_is_told_once(scene):
    before = iced_in_november(scene)
    quiet = [
        circuit(scene, HEAD, Standing.SUSPECT),
        circuit(scene, BOX, Standing.HOLDING),
    ]
    for _ in range(5):
        hours(scene, 24, *quiet)
    assert letters_since(scene, before) == []


def test_frost_is_told_again_of_a_circuit_whose_ice_somebody_has_looked_into(scene):
    other = circuit(scene, BOX, Standing.HOLDING)
    hours(scene, 2, circuit(scene, HEAD, Standing.EXPOSED, in_hours=2), other)
    hours(scene, 16, circuit(scene, HEAD, Standing.ICING), other)
    before = len(scene.messages("maren"))
    # Thawed, inspected and entered so: it is sound, and the next night is as cold.
    hours(scene, 6, circuit(scene, HEAD, Standing.EXPOSED, in_hours=12), other)
    (letter,) = letters_since(scene, before)
    assert letter.subject.startswith("Update: Save Teal by")


def test_each_circuit_of_a_craft_is_told_before_its_own_ice(scene):
    other = circuit(scene, BOX, Standing.HOLDING)
    hours(scene, 4, circuit(scene, HEAD, Standing.EXPOSED, in_hours=14), other)
    before = len(scene.messages("maren"))
    box = circuit(scene, BOX, Standing.EXPOSED, in_hours=6)
    hours(scene, 3, circuit(scene, HEAD, Standing.EXPOSED, in_hours=14), box)
    (letter,) = letters_since(scene, before)
    assert "ater box" in letter.text


def test_a_cold_spell_of_a_week_is_told_once(scene):
    for _ in range(7):
        hours(scene, 14, circuit(scene, HEAD, Standing.EXPOSED, in_hours=8))
        hours(scene, 10, circuit(scene, HEAD, Standing.HOLDING))
    assert len(scene.messages("maren")) == 1


def battery(scene, standing, hazard=Hazard.BATTERY):
    return replace(
        circuit(scene, "battery", standing, in_hours=12, hazard=hazard),
        urgency=Urgency.EXPECTED,
        severity=Severity.SEVERE,
    )


def test_a_maintainer_that_boils_a_battery_is_told_though_its_freezing_was(scene):
    hours(scene, 4, battery(scene, Standing.FREEZING))
    before = len(scene.messages("maren"))
    hours(
        scene,
        2,
        battery(scene, Standing.FREEZING),
        battery(scene, Standing.OVERCHARGED, Hazard.CHARGING),
    )
    (letter,) = letters_since(scene, before)
    assert "Switch off the maintainer" in letter.subject


def test_a_heater_lost_again_is_told_though_the_space_has_stood_low_ever_since(scene):
    scene.craft = {"K2": craft("K2", "Coot", "barn")}
    low = replace(heat(Standing.LOW, FOUR), calls_for_act=True)
    hours(scene, 3, heat(Standing.FALLING, scene.clock.now()))
    hours(scene, 72, low)
    scene.after(days=30)
    hours(scene, 1, low)
    before = len(scene.messages("maren"))
    hours(scene, 2, heat(Standing.FALLING, scene.clock.now()))
    assert len(letters_since(scene, before)) == 1


def test_frost_in_a_space_whose_heat_was_lost_weeks_ago_is_told(scene):
    scene.craft = {"K1": craft("K1", "Teal", "barn")}
    low = replace(heat(Standing.LOW, FOUR), calls_for_act=True)
    hours(scene, 3, heat(Standing.FALLING, scene.clock.now()))
    for _ in range(20):
        hours(scene, 24, low)
    before = len(scene.messages("maren"))
    hours(scene, 4, low, circuit(scene, HEAD, Standing.EXPOSED, in_hours=9))
    (letter,) = letters_since(scene, before)
    assert "ead passages" in letter.text


def silent(scene, urgency):
    return replace(
        circuit(scene, "", Standing.SILENT, hazard=Hazard.SILENCE),
        subject=Subject("shed", "", "shed-corner"),
        urgency=urgency,
    )


def test_silence_that_matters_tonight_is_told_to_who_knows_that_the_sensor_is_silent(scene):
    scene.after(hours=-5)
    hours(scene, 8, silent(scene, Urgency.EXPECTED))
    before = len(scene.messages("maren"))
    assert before
    hours(scene, 3, silent(scene, Urgency.IMMEDIATE))
    assert len(letters_since(scene, before)) == 1


def test_sweat_is_told_again_weeks_later_though_the_air_stayed_damp(scene):
    def damp(part, standing):
        margin_k = -2.0 if standing is Standing.SWEATING else 3.0
        return replace(circuit(scene, part, standing, hazard=Hazard.DAMP), margin_k=margin_k)

    air = replace(damp("", Standing.DAMP), subject=Subject("shed"))
    hours(scene, 30, air, damp(HEAD, Standing.SWEATING))
    for _ in range(4):
        hours(scene, 24, air, damp(HEAD, Standing.DRY))
    scene.after(days=30)
    hours(scene, 1, air, damp(HEAD, Standing.DRY))
    before = len(scene.messages("maren"))
    hours(scene, 26, air, damp(HEAD, Standing.SWEATING))
    assert len(letters_since(scene, before)) == 1


def remember_as_an_older_store_did(scene):
    """Turn what was told into the form of stores that remembered whole craft."""
    with scene.store.transaction() as tx:
        old = []
        for each in tx.conversations.open_threads():
            worst = max(each.told.values(), key=lambda told: told.rank)
            told = {worst.about: replace(worst, about="", night=None)}
            old.append(replace(each, told=told))
        tx.conversations.put(old)
    scene.reopen()


def test_what_an_older_store_remembers_of_a_craft_is_not_told_twice(scene):
    head = circuit(scene, HEAD, Standing.EXPOSED, in_hours=14)
    hours(scene, 2, head)
    remember_as_an_older_store_did(scene)
    hours(scene, 6, head)
    assert len(scene.messages("maren")) == 1


def test_what_an_older_store_remembers_of_a_craft_silences_none_of_its_other_circuits(scene):
    head = circuit(scene, HEAD, Standing.EXPOSED, in_hours=20)
    hours(scene, 2, head)
    remember_as_an_older_store_did(scene)
    hours(scene, 1, head)
    before = len(scene.messages("maren"))
    hours(scene, 3, head, circuit(scene, BOX, Standing.EXPOSED, in_hours=6))
    (letter,) = letters_since(scene, before)
    assert "ater box" in letter.text


def test_more_ice_in_a_craft_that_is_left_alone_is_no_news(scene):
    """Who leaves it alone has nothing else to do; the frost was told of one part alone."""
    dry = circuit(scene, BOX, Standing.HOLDING)
    hours(scene, 4, circuit(scene, HEAD, Standing.EXPOSED, in_hours=4), dry)
    hours(scene, 14, circuit(scene, HEAD, Standing.ICING), dry)
    told = len(scene.messages("maren"))
    assert "Do not start it" in scene.messages("maren")[-1].text
    hours(scene, 8, circuit(scene, HEAD, Standing.ICING), circuit(scene, BOX, Standing.ICING))
    assert letters_since(scene, told) == []


def test_ice_in_the_part_that_was_still_to_be_saved_is_news(scene):
    threatened = circuit(scene, BOX, Standing.EXPOSED, in_hours=22)
    hours(scene, 4, circuit(scene, HEAD, Standing.EXPOSED, in_hours=4), threatened)
    hours(scene, 14, circuit(scene, HEAD, Standing.ICING), threatened)
    told = len(scene.messages("maren"))
    hours(scene, 30, circuit(scene, HEAD, Standing.ICING), circuit(scene, BOX, Standing.ICING))
    assert "Leave Teal alone" in letters_since(scene, told)[0].subject


def sweats(scene, hours, space="shed"):
    """So many hours in which metal sweats in a space, and then a dry day and a half."""
    boat = scene.craft["K1"]
    wet = replace(
        frost(boat, Standing.SWEATING, FOUR, part="engine", hazard=Hazard.DAMP),
        subject=Subject(space, boat.id, "engine"),
        margin_k=-2.0,
    )
    dry = replace(wet, standing=Standing.DRY, margin_k=4.0, calls_for_act=False)
    for judged, lasts in ((wet, hours), (dry, 36)):
        for _ in range(lasts // 2):
            scene.judge(replace(judged, at=scene.clock.now()))
            scene.after(hours=2)


def test_fronts_within_a_week_of_each_other_ask_for_one_thing_and_are_told_once(scene):
    for _ in range(3):
        sweats(scene, 24)
        scene.after(days=2)
    (letter,) = scene.messages("maren")
    assert letter.subject.startswith("Keep Long Shed dry")


def test_a_front_after_a_week_without_one_is_told_anew(scene):
    sweats(scene, 24)
    scene.after(days=8)
    sweats(scene, 24)
    first, *_, last = scene.messages("maren")
    assert first.subject.startswith("Keep Long Shed dry")
    assert last.created_at - first.created_at > timedelta(days=8)
    assert "Keep Long Shed dry" in last.subject


def test_a_space_that_was_told_to_be_damp_and_now_sweats_is_told_for_it_asks_for_another_act(scene):
    air = replace(
        frost(scene.craft["K1"], Standing.DAMP, FOUR, hazard=Hazard.DAMP), subject=Subject("shed")
    )
    hours(scene, 90, air)
    (letter,) = scene.messages("maren")
    sweats(scene, 24)
    _, second, *_ = scene.messages("maren")
    assert letter.subject.startswith("Dry Long Shed")
    assert "Keep Long Shed dry" in second.subject


def with_plan(judged, *steps, by):
    act = PlannedAct(occasion=Occasion.BEFORE_ICE, steps=steps, by=by)
    facts = FrostFacts(layup=LayupState.UNKNOWN, basis=Basis.UNKNOWN, act=act)
    return replace(judged, facts=facts)


RUN = JobStep(kind=StepKind.DRAIN, circuits=(HEAD, BOX), minutes=20.0)
ALSO = JobStep(kind=StepKind.BLOW_OUT, circuits=(BOX,), minutes=10.0)


@pytest.mark.parametrize(
    ("in_hours", "steps", "more"),
    [
        (13.5, (RUN,), 0),  # the told job drains both
        (13.5, (RUN, ALSO), 1),  # a step more
        (5.0, (RUN,), 1),  # an hour much sooner
    ],
)
def test_a_circuit_that_the_told_job_saves_too_is_no_news(scene, in_hours, steps, more):
    head, box = (circuit(scene, part, Standing.EXPOSED, in_hours=14) for part in (HEAD, BOX))
    hours(scene, 2, with_plan(head, RUN, by=head.deadline))
    before = len(scene.messages("maren"))
    assert before == 1
    by = FOUR + timedelta(hours=in_hours)
    box = replace(box, deadline=by)
    for _ in range(8):
        scene.judge(with_plan(head, *steps, by=by), with_plan(box, *steps, by=by))
        scene.after(minutes=30)
    assert len(letters_since(scene, before)) == more


def test_what_the_told_job_left_undone_is_news_once_the_rest_of_it_is_done(scene):
    head, box = (circuit(scene, part, Standing.EXPOSED, in_hours=14) for part in (HEAD, BOX))
    hours(scene, 2, with_plan(head, RUN, by=head.deadline))
    before = len(scene.messages("maren"))
    both = [with_plan(each, RUN, by=each.deadline) for each in (head, box)]
    hours(scene, 1, *both)
    assert letters_since(scene, before) == []
    done = circuit(scene, HEAD, Standing.HOLDING, limit_c=-30.0)
    hours(scene, 4, done, both[1])
    (letter,) = letters_since(scene, before)
    assert "Teal" in letter.subject


def test_new_ice_within_a_week_in_what_is_left_alone_for_its_ice_is_no_news(scene):
    other = circuit(scene, BOX, Standing.HOLDING)
    hours(scene, 4, circuit(scene, HEAD, Standing.EXPOSED, in_hours=4), other)
    hours(scene, 14, circuit(scene, HEAD, Standing.ICING), other)
    before = len(scene.messages("maren"))
    for _ in range(2):
        hours(scene, 72, circuit(scene, HEAD, Standing.SUSPECT), other)
        hours(scene, 12, circuit(scene, HEAD, Standing.ICING), other)
    assert letters_since(scene, before) == []
