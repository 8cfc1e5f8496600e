"""Metal that a forecast has sweat: one thread tells it ahead, there, and over."""

from dataclasses import replace
from datetime import timedelta

from monitor.yard.assessment import (
    Assessment,
    Certainty,
    Hazard,
    Severity,
    Standing,
    Subject,
    Urgency,
)
from monitor.yard.message import MessageKind
from tests.alarms.scene import FOUR, Scene, craft
from tests.written import written

DEW = FOUR + timedelta(hours=6)
ACT = "Shut the doors of Long Shed by 21:30 and keep them shut until about 09:00."


def ahead(boat, deadline=DEW):
    return Assessment(
        subject=Subject("shed", boat.id, "block"),
        hazard=Hazard.DAMP,
        standing=Standing.DEW_AHEAD,
        at=FOUR,
        **written("By the forecast of the agency it lies below the dew point from 22:00 on.", ACT),
        now_c=-3.0,
        limit_c=5.3,
        margin_k=-6.0,
        deadline=deadline,
        ends=deadline + timedelta(hours=11),
        urgency=Urgency.EXPECTED,
        severity=Severity.MODERATE,
        certainty=Certainty.LIKELY,
    )


def there(told, now):
    return replace(
        told,
        standing=Standing.SWEATING,
        deadline=now,
        urgency=Urgency.IMMEDIATE,
        **written("wet", "Keep shut."),
    )


def fleet(scene):
    boats = [craft(f"B{n}", f"Boat {n}", "shed") for n in range(3)]
    scene.craft = {each.id: each for each in boats}
    return [ahead(each) for each in boats]


def through(scene, judged, hours):
    for _ in range(2 * hours):
        scene.judge(*judged)
        scene.after(minutes=30)


def test_a_front_that_comes_as_told_makes_one_letter_and_one_all_clear(tmp_path):
    scene = Scene(tmp_path)
    told = fleet(scene)
    through(scene, told, 6)
    (letter,) = scene.messages()
    assert letter.subject == "Keep Long Shed dry by 22:00"
    assert "Metal will sweat on 3 craft" in letter.text
    assert letter.text.count("Shut the doors") == 1
    through(scene, [there(each, scene.clock.now()) for each in told], 20)
    assert scene.messages() == [letter]
    dry = [replace(each, standing=Standing.DRY, margin_k=4.0, deadline=None) for each in told]
    through(scene, dry, 48)
    assert scene.messages() == [letter]  # its end asks for no act, and the next front may be near
    for _ in range(15):
        scene.judge(*dry)
        scene.after(hours=24)
    _, over = scene.messages()
    assert over.kind is MessageKind.ALL_CLEAR
    assert over.thread == letter.thread
    assert over.subject.startswith("Metal is dry: ")


def test_where_some_metal_sweats_already_the_letter_leads_with_that(tmp_path):
    scene = Scene(tmp_path)
    first, *others = fleet(scene)
    judged = [replace(there(first, FOUR), margin_k=-1.0), *others]
    through(scene, judged, 1)
    (letter,) = scene.messages()
    assert letter.subject.startswith("Keep Long Shed dry")
    assert "Metal sweats on 1 craft, and will on 2 more; worst on Boat 0" in letter.text


def test_another_space_that_is_told_of_later_is_news(tmp_path):
    scene = Scene(tmp_path)
    told = fleet(scene)
    through(scene, told, 1)
    barn = craft("B9", "Boat 9", "barn")
    scene.craft = {**scene.craft, "B9": barn}
    also = replace(ahead(barn), subject=Subject("barn", "B9", "block"))
    through(scene, [*told, also], 36)
    letters = [message for message in scene.messages() if message.kind is MessageKind.UPDATE]
    assert len(letters) == 1
    assert "Stove Barn" in letters[0].subject
