"""Messages that do not get through are an alarm, told by another way where there is one."""

from dataclasses import replace
from datetime import timedelta

import pytest

from monitor.alarms.causes.own_faults import parts_of_channel, path_part
from monitor.alarms.letters.rehearsal import rehearse
from monitor.delivery.post import Post
from monitor.errors import ActError
from monitor.yard.alarm import AlarmState
from monitor.yard.message import DeliveryOutcome, MessageKind, Receipt
from tests.alarms.scene import MECHANIC, OPERATOR, OWNERS, Scene, cold_night, yard

BOTH = replace(OPERATOR, channels=("mail", "webhook"))


class Way:
    """A channel that is down, up, or refuses one address."""

    def __init__(self, refuses=""):
        self.up = True
        self.refuses = refuses
        self.subjects = []

    def send(self, message):
        if not self.up:
            return Receipt(outcome=DeliveryOutcome.PUT_OFF, detail="421 closed for the night")
        if self.refuses and message.person == self.refuses:
            return Receipt(outcome=DeliveryOutcome.REFUSED, detail="550 5.1.1 no such user")
        self.subjects.append(message.subject)
        return Receipt(outcome=DeliveryOutcome.TAKEN, detail="kept")


def live(scene, post, judged, minutes):
    for _ in range(minutes):
        scene.judge(*judged)
        post.run_once()
        scene.after(minutes=1)


def test_a_dead_mail_server_is_told_by_the_other_way_and_all_clear_follows(tmp_path):
    scene = Scene(tmp_path, yard([BOTH]))
    mail, hook = Way(), Way()
    mail.up = False
    post = Post(scene.store, {"mail": mail, "webhook": hook}, scene.clock)
    judged = cold_night(scene)
    live(scene, post, judged, 20)
    assert "Tell people by telephone, messages fail" in hook.subjects
    mail.up = True
    live(scene, post, judged, 60)
    assert "Messages get through again" not in hook.subjects, "it can wait"
    scene.after(hours=22)  # tonight has had its two letters
    live(scene, post, judged, 30)
    assert "Messages get through again" in hook.subjects
    with scene.store.snapshot() as tx:
        paths = [alarm for alarm in tx.alarms.open_alarms() if alarm.cause == "path-failed"]
    assert [alarm.state for alarm in paths] == [AlarmState.RETURNED]
    assert not [subject for subject in mail.subjects if "essages" in subject]


def test_a_person_whose_address_is_refused_is_named_to_the_operator(tmp_path):
    scene = Scene(tmp_path, yard([OPERATOR, OWNERS[0]]))
    mail = Way(refuses="owner-1")
    post = Post(scene.store, {"mail": mail}, scene.clock)
    live(scene, post, cold_night(scene), 5)
    (told,) = [m for m in scene.messages("maren") if m.subject.startswith("Tell people by")]
    assert "owner-1" in told.text
    assert "550 5.1.1 no such user" in told.text


def test_a_short_trouble_is_no_alarm(tmp_path):
    scene = Scene(tmp_path, yard([OPERATOR]))
    mail = Way()
    post = Post(scene.store, {"mail": mail}, scene.clock)
    mail.up = False
    judged = cold_night(scene)
    live(scene, post, judged, 4)
    mail.up = True
    live(scene, post, judged, 60)
    assert len(scene.messages()) == 1


def test_a_person_is_told_on_every_channel_of_theirs(tmp_path):
    scene = Scene(tmp_path, yard([BOTH]))
    scene.judge(*cold_night(scene))
    assert sorted(message.channel for message in scene.messages()) == ["mail", "webhook"]
    assert len({message.key for message in scene.messages()}) == 2


def test_a_test_message_goes_by_every_way(tmp_path):
    scene = Scene(tmp_path, yard([BOTH]))
    written = rehearse(scene.store, scene.yard, scene.clock, "maren")
    assert [message.channel for message in written] == ["mail", "webhook"]
    ways = {"mail": Way(), "webhook": Way()}
    Post(scene.store, ways, scene.clock).run_once()
    for way in ways.values():
        (subject,) = way.subjects
        assert subject.startswith("Rehearsal: ")
    assert {message.kind for message in scene.messages()} == {MessageKind.TEST}


def test_a_test_for_a_stranger_names_who_there_is(tmp_path):
    scene = Scene(tmp_path, yard([OPERATOR, MECHANIC]))
    with pytest.raises(ActError, match="joss, maren"):
        rehearse(scene.store, scene.yard, scene.clock, "nobody")


def test_two_tests_are_two_messages(tmp_path):
    scene = Scene(tmp_path, yard([OPERATOR]))
    rehearse(scene.store, scene.yard, scene.clock, "maren")
    scene.clock.advance_to(scene.clock.now() + timedelta(seconds=1))
    rehearse(scene.store, scene.yard, scene.clock, "maren")
    assert len(scene.messages()) == 2


def test_a_channel_with_to_in_its_name_is_told_from_the_person_whom_another_refuses():
    people = yard([OPERATOR, OWNERS[0]])
    assert path_part("mail to gate") not in parts_of_channel("mail", people)
    assert path_part("mail", OWNERS[0].id) in parts_of_channel("mail", people)
