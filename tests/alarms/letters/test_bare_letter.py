"""A fault in the words of one letter keeps no warning from anybody."""

import pytest

from monitor.alarms.letters import message as letter_message
from tests.alarms.scene import Scene, cold_night


@pytest.fixture
def words_of_staff_fail(monkeypatch):
    """The words of every letter to the yard's own people fail, as with a step without a word."""

    def fail(*_):
        raise KeyError("a kind of step that has no words")

    monkeypatch.setattr(letter_message, "compose_letter", fail)


@pytest.mark.usefixtures("words_of_staff_fail")
def test_a_letter_whose_words_fail_goes_out_by_names_titles_and_hours(tmp_path):
    scene = Scene(tmp_path)
    scene.judge(*cold_night(scene))
    (mail,) = scene.messages("maren")
    first_line = mail.text.split("\n\n")[1].splitlines()[0]
    assert mail.subject.startswith("Look now: ")
    assert "frost ahead, by" in first_line
    for name in ("Osprey", "Bittern", "Pintail", "Dipper", "Killdeer", "Grebe", "Plover", "Heron"):
        assert name in mail.text


@pytest.mark.usefixtures("words_of_staff_fail")
def test_letters_to_others_are_written_in_full_beside_it(tmp_path):
    scene = Scene(tmp_path)
    scene.judge(*cold_night(scene))
    assert {message.person for message in scene.messages()} == {"maren", "owner-1", "owner-2"}
    assert "Look now" not in scene.messages("owner-1")[0].subject


def test_what_was_told_in_bare_words_is_not_told_again_when_words_return(tmp_path, monkeypatch):
    scene = Scene(tmp_path)
    judged = cold_night(scene)
    with monkeypatch.context() as patched:
        patched.setattr(letter_message, "compose_letter", lambda *_: 1 / 0)
        scene.judge(*judged)
    scene.after(minutes=1)
    scene.judge(*judged)
    assert len(scene.messages("maren")) == 1
