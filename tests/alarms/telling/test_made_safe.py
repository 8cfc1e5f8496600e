"""What a person did is believed at once: nobody is asked for what is done."""

from dataclasses import replace
from datetime import timedelta

import pytest

from monitor.alarms.acts.answers import Answers
from monitor.alarms.round import AlarmRound
from monitor.yard.assessment import Hazard, Standing
from tests.alarms.acts.test_answers import ADDRESS, secret_of
from tests.alarms.scene import FOUR, Scene, craft, frost


@pytest.fixture
def scene(tmp_path):
    made = Scene(tmp_path)
    made.answers = Answers(made.store, made.clock, ADDRESS)
    made.round = AlarmRound(made.store, made.yard, made.clock, answers=made.answers)
    made.craft = {
        "K1": craft("K1", "Wren", "row"),
        "K2": craft("K2", "Plover", "shed"),
        "K3": craft("K3", "Heron", "shed"),
    }
    return made


def exposed(scene, craft_id, hours):
    which = scene.craft[craft_id]
    return frost(which, Standing.EXPOSED, FOUR, deadline=FOUR + timedelta(hours=hours))


def safe(scene, craft_id):
    """Treated: a mix that holds."""
    return frost(scene.craft[craft_id], Standing.HOLDING, FOUR, limit_c=-30.0)


def test_a_craft_that_was_made_safe_is_in_no_list_of_what_is_to_be_done(scene):
    scene.judge(exposed(scene, "K1", 4), exposed(scene, "K2", 9))
    scene.after(minutes=31)
    scene.judge(safe(scene, "K1"), exposed(scene, "K2", 9), exposed(scene, "K3", 2))
    first, second = scene.messages("maren")
    assert "Wren" in first.text
    assert "Heron" in second.text
    to_do, _, became = second.text.partition("SAFE SINCE THE LAST LETTER")
    assert "Wren" not in to_do
    assert "Wren, since 16:31" in became


def test_the_answer_page_does_not_ask_for_what_is_done(scene):
    scene.judge(exposed(scene, "K1", 4), exposed(scene, "K2", 9))
    secret = secret_of(scene.messages("maren")[0])
    scene.after(minutes=1)
    scene.judge(safe(scene, "K1"), exposed(scene, "K2", 9))
    assert {alarm.craft for alarm in scene.answers.find_answerable(secret).asks} == {"K2"}


def battery_carried_into_the_warm(boat):
    """Judgements of a battery that freezes, and of it once it stands where it is warm."""
    cold = frost(boat, Standing.FREEZING, FOUR, part="battery", hazard=Hazard.BATTERY)
    warm = replace(
        cold,
        subject=replace(cold.subject, space="barn"),
        standing=Standing.NOT_KNOWN,
        margin_k=25.0,
    )
    return cold, warm


def test_a_battery_that_was_carried_into_the_warm_raises_nothing(scene):
    """Nine minutes of cold, then 18 °C, where nobody knows what charge it has."""
    cold, warm = battery_carried_into_the_warm(scene.craft["K1"])
    scene.judge(cold)
    scene.after(minutes=9)
    for _ in range(8):
        scene.judge(warm)
        scene.after(minutes=10)
    assert scene.messages() == []


def test_a_battery_alarm_ends_once_it_stands_in_the_warm(scene):
    cold, warm = battery_carried_into_the_warm(scene.craft["K1"])
    for judged in (cold, cold, cold, cold, cold, warm):
        summary = scene.judge(judged)
        scene.after(minutes=10)
    assert summary.cleared == 1


@pytest.mark.parametrize(("hours", "told_by_min"), [(14, 120), (3, 30)])
def test_what_comes_next_gathers_also_once_what_was_told_before_is_done(scene, hours, told_by_min):
    """Whoever works fast is not written to for every craft that the evening adds."""
    scene.judge(exposed(scene, "K1", 14))
    came = {}
    for minutes in range(5, 150, 5):
        scene.after(minutes=5)
        further = [exposed(scene, "K3", hours)] if minutes >= 20 else []
        scene.judge(safe(scene, "K1"), exposed(scene, "K2", hours), *further)
        for letter in scene.messages("maren")[1:]:
            came.setdefault(letter.key, (minutes, letter.text))
    (minutes, text), *more = came.values()
    assert more == []
    assert 20 < minutes <= told_by_min
    assert "Plover" in text
    assert "Heron" in text
    assert "Wren, since 16:05" in text
