"""The daily word that the watch goes on, and its silence when it does not."""

from dataclasses import replace
from datetime import time, timedelta

from monitor.alarms.telling.all_well import AllWell
from monitor.yard.assessment import Assessment, Hazard, Standing, Subject
from tests.alarms.scene import FOUR, OPERATOR, Scene, cold_night, yard
from tests.written import written

WANTS = replace(OPERATOR, all_well_at=time(18, 0))
AIR = Assessment(
    subject=Subject("shed"),
    hazard=Hazard.AIR,
    standing=Standing.STEADY,
    at=FOUR,
    **written("Long Shed is at 3.0 °C."),
    now_c=3.0,
    low_c=1.0,
)


def words(scene):
    return [m for m in scene.messages() if m.key.startswith("all-well/")]


def live(scene, hours, *judged):
    daily = AllWell(scene.store, scene.yard, scene.clock)
    for _ in range(hours * 4):
        scene.judge(*judged)
        daily.run()
        scene.after(minutes=15)


def test_the_word_comes_once_a_day_at_the_hour_asked_for(tmp_path):
    scene = Scene(tmp_path, yard([WANTS]))
    live(scene, 50, AIR)
    assert [m.created_at - FOUR for m in words(scene)] == [
        timedelta(hours=2),
        timedelta(hours=26),
    ]
    assert words(scene)[0].subject == "Watching Kettlemoss Yard: all well"
    assert "3.0\N{NO-BREAK SPACE}°C now" in words(scene)[0].text


def test_the_word_does_not_claim_all_well_while_alarms_stand(tmp_path):
    scene = Scene(tmp_path, yard([WANTS]))
    live(scene, 3, *cold_night(scene), AIR)
    assert words(scene)[0].subject == "Watching Kettlemoss Yard: 16 alarms stand"
    assert "Frost ahead 16" in words(scene)[0].text


def test_the_word_does_not_claim_all_well_of_air_that_nobody_measures(tmp_path):
    scene = Scene(tmp_path, yard([WANTS]))
    blind = replace(AIR, subject=Subject("rack"), standing=Standing.NOT_KNOWN)
    live(scene, 3, AIR, blind)
    assert words(scene)[0].subject == "Watching Kettlemoss Yard: not everything is seen"
    assert "whose air is not known: 1" in words(scene)[0].text


def test_a_watch_that_stands_still_says_nothing(tmp_path):
    scene = Scene(tmp_path, yard([WANTS]))
    scene.judge(AIR)
    daily = AllWell(scene.store, scene.yard, scene.clock)
    for _ in range(20):
        scene.after(minutes=15)
        daily.run()
    assert words(scene) == []


def test_who_did_not_ask_gets_no_word(tmp_path):
    scene = Scene(tmp_path, yard([OPERATOR]))
    live(scene, 26, AIR)
    assert words(scene) == []
