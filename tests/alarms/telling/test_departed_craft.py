"""A craft that leaves with an alarm open is told as gone, with its ice, and never as safe."""

import re
from dataclasses import replace
from datetime import timedelta

import pytest

from monitor.alarms.round import AlarmRound
from monitor.craft.stored import DepartedCraft
from monitor.yard.assessment import Standing
from tests.alarms.scene import FOUR, OPERATOR, OWNERS, Scene, craft, frost, yard


@pytest.fixture(params=["en", "de"])
def scene(request, tmp_path):
    """Two craft of one owner; those that are taken out of `craft` have left."""
    owner = replace(OWNERS[0], language=request.param)
    made = Scene(tmp_path, yard(people=(OPERATOR, owner)))
    made.owner = owner
    made.craft = {
        "K1": craft("K1", "Wren", "row", owner.id),
        "K2": craft("K2", "Plover", "shed", owner.id),
    }
    made.gone = {}
    made.round = AlarmRound(
        made.store, made.yard, made.clock,
        read_departed=lambda _, ids: {key: made.gone[key] for key in ids if key in made.gone},
    )  # fmt: skip
    return made


def judge_for(scene, standing, *ids, hours):
    """Have rounds each quarter of an hour on the same judgements."""
    for _ in range(int(hours * 4)):
        scene.judge(*(frost(scene.craft[key], standing, scene.clock.now()) for key in ids))
        scene.after(minutes=15)


def let_leave(scene, craft_id):
    stood = scene.craft[craft_id]
    scene.gone[craft_id] = DepartedCraft(craft=stood, left_at=scene.clock.now())
    scene.craft = {key: one for key, one in scene.craft.items() if key != craft_id}


def last_to_owner(scene):
    return scene.messages(scene.owner.id)[-1]


LEFT_ICED = {
    "en": ("Do not start Wren yet", "nobody had looked inside"),
    "de": ("Wren bitte noch nicht starten", "niemand hat nachgesehen"),
}
LEFT = {
    "en": ("Wren has left the yard", "watches it no longer"),
    "de": ("Wren hat das Lager verlassen", "nicht mehr überwacht"),
}
SAFE = r"\bsafe\b|no danger|außer Gefahr|nicht mehr in Gefahr|nothing|nichts tun"


@pytest.mark.parametrize(
    ("standing", "said"), [(Standing.ICING, LEFT_ICED), (Standing.EXPOSED, LEFT)]
)
def test_the_owner_hears_of_a_craft_that_left_by_name_and_not_that_it_is_safe(
    scene, standing, said
):
    judge_for(scene, standing, "K1", hours=30)
    told_before = len(scene.messages(scene.owner.id))
    assert told_before
    let_leave(scene, "K1")
    judge_for(scene, standing, hours=30)
    assert len(scene.messages(scene.owner.id)) == told_before + 1
    letter = last_to_owner(scene)
    subject, sentence = said[scene.owner.language]
    assert subject in letter.subject
    text = " ".join(letter.text.split())
    assert sentence in text
    assert re.findall(SAFE, f"{letter.subject} {text}") == []


def test_the_yard_reads_its_name_under_those_that_left(scene):
    judge_for(scene, Standing.ICING, "K1", hours=4)
    let_leave(scene, "K1")
    judge_for(scene, Standing.ICING, "K2", hours=12)
    text = "\n".join(letter.text for letter in scene.messages(OPERATOR.id))
    _, _, left = text.partition("LEFT THE YARD, WATCHED NO LONGER")
    assert "Wren" in left
    assert "Ice was in it, nobody looked: tell its owner." in left
    assert "K1" not in left
    safe = text.partition("SAFE SINCE THE LAST LETTER")[2].partition("\n\n")[0]
    assert "Wren" not in safe


def test_an_owner_hears_nothing_where_no_craft_can_be_named(scene):
    """Its row is gone too: an all clear that names none would be read for every craft."""
    judge_for(scene, Standing.ICING, "K1", hours=30)
    told_before = len(scene.messages(scene.owner.id))
    assert told_before
    scene.craft = {"K2": scene.craft["K2"]}
    judge_for(scene, Standing.ICING, hours=30)
    assert len(scene.messages(scene.owner.id)) == told_before


def test_a_craft_that_came_back_is_not_told_as_gone(scene):
    judge_for(scene, Standing.EXPOSED, "K1", "K2", hours=30)
    stood = scene.craft
    let_leave(scene, "K1")
    judge_for(scene, Standing.EXPOSED, "K2", hours=1)
    scene.craft, scene.gone = stood, {}
    judge_for(scene, Standing.EXPOSED, "K1", "K2", hours=24)
    judge_for(scene, Standing.HOLDING, "K1", "K2", hours=48)
    assert LEFT[scene.owner.language][1] not in last_to_owner(scene).text
    assert FOUR + timedelta(days=1) < scene.clock.now()
