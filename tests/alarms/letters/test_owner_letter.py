"""What the owner of a craft reads: nothing to do, what the yard does, and whom to ask."""

from dataclasses import replace
from datetime import timedelta

import pytest

from monitor.alarms import round as round_module
from monitor.alarms.letters.message import write_message
from monitor.alarms.letters.owner_letter import compose_owner_letter
from monitor.phrases.owner_lines import done_sentence
from monitor.phrases.owner_words import owner_words_for
from monitor.wording import Wording
from monitor.yard.assessment import Hazard, Severity, Standing
from monitor.yard.duty import OwnerTelling
from monitor.yard.message import MessageKind
from monitor.yard.watch import MadeSafe
from tests.alarms.scene import FOUR, Scene, craft, frost, yard
from tests.bench.letters import OWNER_WORDS, OWNERS_FIRST, words_of
from tests.craft.scene import work

NAMED = OwnerTelling(without_answer=timedelta(0), names_staff=True)


def scene_of(folder, **of_yard):
    scene = Scene(folder, replace(yard(), **of_yard))
    boat = craft("K1", "Teal", "shed", owner="owner-1", parts=2)
    scene.craft = {"K1": boat}
    deadline = FOUR + timedelta(hours=9, minutes=40)
    return scene, [frost(boat, Standing.EXPOSED, FOUR, part=each.id, deadline=deadline)
                   for each in boat.circuits]  # fmt: skip


def told(scene, n=-1):
    message = scene.messages("owner-1")[n]
    return message.subject, " ".join(message.text.split())


def test_the_first_line_says_that_there_is_nothing_to_do(tmp_path):
    scene, judged = scene_of(tmp_path)
    scene.judge(*judged)
    subject, text = told(scene)
    assert subject == "Teal is not safe from frost; the yard has been told"
    assert text.startswith("You have nothing to do. Please do not start Teal")
    assert "Ice may form in it from 01:40 on." in text
    assert "What can freeze: head passages; water box." in text


def test_who_answered_is_told_by_name_only_where_the_yard_says_so(tmp_path):
    for names, said in (
        (OwnerTelling(without_answer=timedelta(0)), "Kettlemoss Yard took charge of it at 16:20."),
        (NAMED, "Maren Ulv at Kettlemoss Yard took charge of it at 16:20."),
    ):
        scene, judged = scene_of(tmp_path / str(names.names_staff), owners=names)
        by_night = replace(names, without_answer=timedelta(hours=3))
        scene.yard = replace(scene.yard, owners=by_night)
        scene.reopen()
        scene.judge(*judged)
        scene.after(minutes=20)
        scene.acknowledge_thread(scene.messages("maren")[0].thread, "maren")
        scene.judge(*judged)
        subject, text = told(scene)
        assert subject == "Teal is not safe from frost; the yard is on it"
        assert said in text
        assert ("Maren" in text) is names.names_staff


def test_an_answer_still_counts_when_it_gets_worse_but_not_when_it_comes_back(tmp_path):
    """A graver night asks the yard's people again; that they took it on stays true."""
    yard_waits = OwnerTelling(without_answer=timedelta(minutes=30))
    for comes_back in (False, True):
        scene, judged = scene_of(tmp_path / str(comes_back), owners=yard_waits)
        boat = scene.craft["K1"]
        scene.craft = {"K1": replace(boat, owner="")}  # nobody but the yard is told as yet
        scene.judge(*(replace(each, severity=Severity.MINOR) for each in judged))
        scene.after(minutes=20)
        scene.acknowledge_thread(scene.messages("maren")[0].thread, "maren")
        if comes_back:
            scene.judge(*judged)  # asks again; then it is over, and nobody has answered that
            for _ in range(2):
                scene.judge(*(replace(e, standing=Standing.HOLDING, margin_k=9.0) for e in judged))
                scene.after(hours=33)
        scene.craft = {"K1": boat}
        for _ in range(2):
            scene.judge(*judged)  # graver than what was answered
            scene.after(minutes=40)
        subject, text = told(scene)
        answered = "Kettlemoss Yard took charge of it at 16:20." in text
        assert answered is not comes_back, text
        assert ("the yard is on it" in subject) is not comes_back


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        ({}, "Questions: ask Kettlemoss Yard."),
        ({"telephone": "715-555-0142"}, "Questions: call 715-555-0142."),
        ({"reply_to": "office@yard.example"}, "Questions: reply to this mail."),
        (
            {"telephone": "715-555-0142", "reply_to": "office@yard.example"},
            "Questions: call 715-555-0142 or reply to this mail.",
        ),
    ],
)
def test_whom_to_ask_is_what_the_yards_file_gives(tmp_path, keys, said):
    scene, judged = scene_of(tmp_path, **keys)
    scene.judge(*judged)
    assert said in told(scene)[1]


def test_of_ice_the_one_thing_to_do_is_to_leave_it_alone(tmp_path):
    scene, judged = scene_of(tmp_path)
    for _ in range(3):
        scene.judge(*(replace(each, standing=Standing.SOLID) for each in judged))
        scene.after(minutes=15)
    subject, text = told(scene)
    assert subject == "Ice in Teal: please do not start it"
    assert text.startswith(
        "Please do one thing: leave Teal alone. Do not start it and do not charge its battery"
        " until the yard has looked inside."
    )
    assert "Kettlemoss Yard has just been told as well." in text


def test_it_is_closed_by_a_letter_that_says_it_is_safe(tmp_path):
    scene, judged = scene_of(tmp_path)
    scene.judge(*judged)
    for _ in range(40):
        scene.after(hours=1)
        scene.judge(*(replace(e, standing=Standing.HOLDING, margin_k=9.0) for e in judged))
    subject, text = told(scene)
    assert subject == "Teal is safe again"
    assert text.startswith("You have nothing to do. Kettlemoss Yard")
    assert "We write again" not in text


@pytest.fixture
def letters(monkeypatch):
    """Every letter that a round writes, as data."""
    found = []

    def keep(letter, *rest, **more):
        found.append(letter)
        return write_message(letter, *rest, **more)

    monkeypatch.setattr(round_module, "write_message", keep)
    return found


def test_a_craft_that_was_made_safe_is_named_though_its_alarms_are_gone(tmp_path, letters):
    scene, judged = scene_of(tmp_path)
    scene.judge(*judged)
    warning = next(each for each in letters if each.person.id == "owner-1")
    safe = MadeSafe(craft="K1", name="Teal", at=FOUR + timedelta(hours=1), by="maren")
    words = owner_words_for(scene.yard, FOUR + timedelta(hours=2), warning.person)
    closing = replace(warning, kind=MessageKind.ALL_CLEAR, entries=(), safe=(safe,))
    said = compose_owner_letter(closing, scene.yard, words, {})
    assert said.subject == "Teal is safe again"
    assert said.over == ("Teal is safe since 17:00, as far as laidup can judge.",)
    # In a letter of another craft that is still in danger, too.
    other = replace(safe, craft="K9", name="Heron")
    both = compose_owner_letter(replace(warning, safe=(other,)), scene.yard, words, {})
    assert [line.name for line in both.craft] == ["Teal"]
    assert both.over == ("Heron is safe since 17:00, as far as laidup can judge.",)


def test_what_the_yard_did_is_told_in_the_records_words_and_nothing_that_happened():
    # Names and kinds of work as the record itself has them (monitor/craft/acts.py).
    done = [
        work("antifreeze-poured", 2.0),
        work("drained", 1.0),
        work("run-on-water", 0.5),
    ]
    words = Wording()
    assert done_sentence(done, words) == "Done since: drained, antifreeze poured in."
    assert done_sentence([], words) == ""


def acts_of_the_yard():
    """Verbs of the yard's work (the job plan's own), which no owner is told to do."""
    return (
        "drain", "pour", "run antifreeze", "thaw it", "blow", "pull", "treat", "warm it", "heat",
        "gentle", "lay it up again", "asked to",
    )  # fmt: skip


@pytest.mark.parametrize("standing", [Standing.EXPOSED, Standing.ICING, Standing.SUSPECT])
def test_no_owner_is_told_to_do_what_is_the_yards(tmp_path, standing):
    scene, judged = scene_of(tmp_path)
    for _ in range(3):
        scene.judge(*(replace(each, standing=standing) for each in judged))
        scene.after(minutes=15)
    for message in scene.messages("owner-1"):
        for part in (message.subject, message.text, message.html):
            assert not [verb for verb in acts_of_the_yard() if verb in part.lower()]
        assert message.text.startswith(OWNERS_FIRST)
        assert words_of(message.text) <= OWNER_WORDS


def test_an_undone_lay_up_is_told_in_words_that_an_owner_knows(tmp_path):
    scene, (one, _) = scene_of(tmp_path)
    scene.judge(replace(one, hazard=Hazard.RECORD, standing=Standing.VOIDED, deadline=None))
    subject, text = told(scene)
    assert subject == "Teal: lay-up undone; the yard has been told"
    assert "Its lay-up no longer counts, and has to be done again before a frost." in text
