"""A rehearsal shows an evening's letter, and is taken for none wherever a screen cuts it off."""

import re

import pytest
from bs4 import BeautifulSoup

from monitor.alarms.letters.rehearsal import rehearse
from tests.alarms.scene import MECHANIC, OPERATOR, OWNERS, Scene, yard


@pytest.fixture
def scene(tmp_path):
    return Scene(tmp_path, yard([OPERATOR, MECHANIC, *OWNERS]))


def rehearsed(scene, person):
    (message,) = rehearse(scene.store, scene.yard, scene.clock, person)
    return message


@pytest.mark.parametrize("person", ["maren", "joss", "owner-1", "owner-2"])
def test_subject_and_first_line_say_that_it_is_a_rehearsal(scene, person):
    message = rehearsed(scene, person)
    assert message.subject.lower().startswith("rehearsal")
    assert message.text.lower().startswith("rehearsal")


def test_every_line_of_work_says_so_too(scene):
    text = rehearsed(scene, "maren").text
    work = re.findall(r"^(?:\d\d:\d\d |       \S).*", text.partition("\n--\n")[0], re.M)
    heads = [line for line in work if re.match(r"\d\d:\d\d ", line) or "made-up" in line]
    assert len(heads) == 3
    assert all("Rehearsal" in line for line in heads)


def test_what_a_mail_program_previews_of_the_html_is_marked(scene):
    page = BeautifulSoup(rehearsed(scene, "maren").html, "html.parser")
    assert page.body.get_text(" ", strip=True).startswith("REHEARSAL")
    assert page.title.get_text().startswith("Rehearsal")


def test_it_shows_what_an_evenings_letter_has(scene):
    text = " ".join(rehearsed(scene, "maren").text.split())
    for part in ("DO, IN THIS ORDER", "pour in 24 L", "LEAVE ALONE, ICE INSIDE", "nothing to do"):
        assert part in text


def test_nothing_of_it_can_be_answered_or_put_into_a_calendar(scene):
    message = rehearsed(scene, "maren")
    assert "alarms ack" not in message.text
    assert message.thread == ""
    assert message.attachments == ()
    with scene.store.snapshot() as tx:
        assert tx.alarms.open_alarms() == []


def test_no_craft_and_no_space_of_the_yard_is_named(scene):
    text = rehearsed(scene, "maren").text
    assert not [space.name for space in scene.yard.spaces if space.name in text]
