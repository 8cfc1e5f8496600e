"""A letter as a text: act, craft, place and hour in 160 signs."""

from dataclasses import replace
from datetime import timedelta

import pytest

from monitor.delivery.leaving_forms import text_of
from monitor.yard.assessment import Assessment, Hazard, Severity, Standing, Subject, Urgency
from tests.alarms.scene import FOUR, MECHANIC, OPERATOR, Scene, cold_night, craft, frost, yard
from tests.written import written

PHONED = replace(OPERATOR, channels=("mail", "text-post"), phone="715-555-0142")


def texts(scene):
    return [m for m in scene.messages("maren") if m.channel == "text-post"]


def test_a_text_says_what_to_do_to_which_craft_where_and_by_when(tmp_path):
    scene = Scene(tmp_path, yard((PHONED, MECHANIC)))
    scene.judge(*cold_night(scene))
    (sent,) = texts(scene)
    assert sent.address == "715-555-0142"
    said = text_of(sent)
    assert said == sent.text
    assert len(said) <= 160
    # Of the eight craft of the night those that freeze first, in the order of doing.
    assert said.startswith("Save Osprey, Lee Rack rack-K11, by 18:15. Save Bittern, ")
    assert said.endswith(" more.")
    assert not sent.html
    assert sent.attachments == ()


def test_the_mail_goes_beside_it_whole(tmp_path):
    scene = Scene(tmp_path, yard((PHONED, MECHANIC)))
    scene.judge(*cold_night(scene))
    mail, _ = sorted(scene.messages("maren"), key=lambda one: one.channel)
    assert mail.channel == "mail"
    assert len(mail.text) > 400


@pytest.mark.parametrize("name", ["W" * 200, "Łódź … “the” long one " * 5, "x"])
def test_it_fits_whatever_a_craft_is_called(tmp_path, name):
    scene = Scene(tmp_path, yard((PHONED, MECHANIC)))
    boats = [craft(f"K{n}", f"{n}{name}", "shed") for n in range(4)]
    scene.craft = {each.id: each for each in boats}
    scene.judge(
        *(frost(each, Standing.EXPOSED, FOUR, deadline=FOUR + timedelta(hours=9)) for each in boats)
    )
    (sent,) = texts(scene)
    assert len(sent.text) <= 160
    assert "by 01:00" in text_of(sent)


def test_what_has_ice_is_to_be_left_alone(tmp_path):
    scene = Scene(tmp_path, yard((PHONED, MECHANIC)))
    boat = craft("K1", "Teal", "shed")
    scene.craft = {"K1": boat}
    for _ in range(3):
        scene.judge(frost(boat, Standing.SOLID, scene.clock.now()))
        scene.after(minutes=15)
    assert texts(scene)[0].text.startswith("Leave Teal alone, ice in")


def test_who_has_no_number_gets_no_text(tmp_path):
    scene = Scene(tmp_path, yard((replace(PHONED, phone=""), MECHANIC)))
    scene.judge(*cold_night(scene))
    assert [m.channel for m in scene.messages("maren")] == ["mail"]


def test_a_space_that_two_causes_call_to_read_by_hand_is_named_once(tmp_path):
    scene = Scene(tmp_path)
    scene.craft = {"K1": craft("K1", "Teal", "shed")}
    unheard = Assessment(
        subject=Subject("shed", "", "shed-corner"), hazard=Hazard.SILENCE,
        standing=Standing.SILENT, at=FOUR, urgency=Urgency.IMMEDIATE, severity=Severity.MODERATE,
        **written("shed-corner was last heard at 15:20.", "Look at shed-corner."),
    )  # fmt: skip
    blind = replace(unheard, subject=Subject("shed", "", ""), hazard=Hazard.AIR,
                    standing=Standing.NOT_KNOWN)  # fmt: skip
    for _ in range(4):
        scene.judge(unheard, blind)
        scene.after(hours=1)
    subjects = [one.subject for one in scene.messages("maren")]
    both = [one for one in subjects if "by hand" in one]
    assert both
    assert all(one.count("Long Shed") == 1 for one in both), both
