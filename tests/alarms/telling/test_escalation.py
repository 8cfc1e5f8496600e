"""Who is woken, who is called next, and who may sleep."""

from dataclasses import replace
from datetime import UTC, datetime, time, timedelta

import pytest

from monitor.clock import ReadingsClock
from monitor.yard.assessment import Standing
from monitor.yard.duty import Duty, Shift, Span
from monitor.yard.message import MessageKind
from monitor.yard.space import Person, Role
from tests.alarms.scene import (
    FOUR,
    MECHANIC,
    OPERATOR,
    OWNERS,
    ZONE,
    Scene,
    cold_night,
    craft,
    frost,
    yard,
)

NIGHT = Span(begins=time(18), ends=time(6))
DAY = Span(begins=time(6), ends=time(18))
SECOND = Person(
    id="ansel", name="Ansel Rye", mail="ansel@yard.example", roles=frozenset({Role.OPERATOR})
)


def scene_with(tmp_path, duty, *people):
    return Scene(tmp_path, replace(yard(people), duty=duty))


def let_pass(scene, judged, minutes):
    for _ in range(minutes // 5):
        scene.after(minutes=5)
        scene.judge(*judged)


def told(scene):
    """Person and time of each first message, in minutes after four o'clock."""
    return {
        message.person: (message.created_at - FOUR) / timedelta(minutes=1)
        for message in reversed(scene.messages())
        if message.kind is MessageKind.ALARM
    }


def test_without_a_calendar_everybody_who_has_the_role_is_told_at_once_and_nobody_after(tmp_path):
    scene = scene_with(tmp_path, Duty(), OPERATOR, SECOND, MECHANIC)
    judged = cold_night(scene)
    scene.judge(*judged)
    let_pass(scene, judged, 120)
    assert told(scene) == {"maren": 0, "ansel": 0}


def test_who_is_on_duty_is_told_first_then_the_next_after_a_quarter_of_an_hour(tmp_path):
    duty = Duty(
        shifts=(Shift(person="ansel", hours=DAY), Shift(person="maren", hours=NIGHT)),
        next_called=("joss",),
    )
    scene = scene_with(tmp_path, duty, OPERATOR, SECOND, MECHANIC)
    judged = cold_night(scene)
    scene.judge(*judged)
    let_pass(scene, judged, 45)
    assert told(scene) == {"ansel": 0, "joss": 15, "maren": 30}
    text = " ".join(scene.messages("joss")[0].text.split())
    assert "Ansel Rye did not answer, so it comes to you." in text


def test_nobody_is_called_after_somebody_has_acknowledged(tmp_path):
    duty = Duty(shifts=(Shift(person="maren", hours=DAY),), next_called=("joss",))
    scene = scene_with(tmp_path, duty, OPERATOR, MECHANIC)
    judged = cold_night(scene)
    scene.judge(*judged)
    let_pass(scene, judged, 10)
    scene.acknowledge_thread(scene.messages("maren")[0].thread, "maren")
    let_pass(scene, judged, 180)
    assert told(scene) == {"maren": 0}
    assert len(scene.messages()) == 1


def test_who_was_called_hears_no_all_clear_just_because_another_has_acknowledged(tmp_path):
    duty = Duty(shifts=(Shift(person="maren", hours=DAY),), next_called=("joss",))
    scene = scene_with(tmp_path, duty, OPERATOR, MECHANIC)
    judged = cold_night(scene)
    scene.judge(*judged)
    let_pass(scene, judged, 20)
    scene.acknowledge_thread(scene.messages("maren")[0].thread, "maren")
    let_pass(scene, judged, 60)
    kinds = [message.kind for message in scene.messages("joss")]
    assert kinds == [MessageKind.ALARM, MessageKind.NOTICE]


def test_a_lone_operator_who_does_not_answer_is_reminded_twice_and_no_more(tmp_path):
    duty = Duty(shifts=(Shift(person="maren", hours=Span(begins=time(0), ends=time(0))),))
    scene = scene_with(tmp_path, duty, OPERATOR)
    boat = craft("K1", "Teal", "shed")
    scene.craft = {"K1": boat}
    exposed = frost(boat, Standing.EXPOSED, FOUR, deadline=FOUR + timedelta(hours=9))
    scene.judge(exposed)
    let_pass(scene, [exposed], 12 * 60)
    subjects = [message.subject for message in scene.messages("maren")]
    assert len(subjects) == 3
    assert all(subject.startswith("Not answered: ") for subject in subjects[1:])


def test_a_clock_that_is_put_back_holds_up_neither_the_next_person_nor_the_reminder(tmp_path):
    always = Span(begins=time(0), ends=time(0))
    duty = Duty(shifts=(Shift(person="maren", hours=always),), next_called=("joss",))
    scene = scene_with(tmp_path, duty, OPERATOR, MECHANIC)
    boat = craft("K1", "Teal", "shed")
    scene.craft = {"K1": boat}
    exposed = frost(boat, Standing.EXPOSED, FOUR, deadline=FOUR + timedelta(hours=9))
    ahead = FOUR + timedelta(hours=6)
    scene.clock.advance_to(ahead)
    scene.judge(exposed)
    assert set(told(scene)) == {"maren"}
    scene.clock = scene.round._clock = ReadingsClock(FOUR)
    let_pass(scene, [exposed], 60)
    in_time = [one.person for one in scene.messages() if one.created_at < ahead]
    assert set(in_time) == {"maren", "joss"}
    assert len(in_time) <= 4


def test_an_owner_in_quiet_hours_hears_in_the_morning(tmp_path):
    owner = replace(OWNERS[0], quiet=Span(begins=time(15), ends=time(7)))
    scene = scene_with(tmp_path, Duty(), OPERATOR, owner)
    judged = cold_night(scene)
    for _ in range(16 * 4):
        scene.judge(*judged)
        scene.after(minutes=15)
    (mail,) = scene.messages("owner-1")
    assert mail.created_at.astimezone(ZONE).strftime("%H:%M") == "07:00"
    assert scene.messages("maren")[0].created_at == FOUR


@pytest.mark.parametrize(
    ("quiet", "hour"), [(None, "08:00"), (Span(begins=time(1), ends=time(2)), "22:00")]
)
def test_an_owner_is_written_to_by_day_unless_own_hours_say_otherwise(tmp_path, quiet, hour):
    owner = replace(OWNERS[0], quiet=quiet)
    scene = scene_with(tmp_path, Duty(), OPERATOR, owner)
    boat = craft("K1", "Teal", "shed", owner=owner.id)
    scene.craft = {"K1": boat}
    scene.after(hours=6)
    judged = [frost(boat, Standing.EXPOSED, FOUR, deadline=FOUR + timedelta(hours=20))]
    for _ in range(21):
        scene.judge(*judged)
        scene.after(minutes=30)
    (mail,) = scene.messages(owner.id)
    assert mail.created_at.astimezone(ZONE).strftime("%H:%M") == hour


def test_what_must_never_be_missed_wakes_staff_in_quiet_hours(tmp_path):
    operator = replace(OPERATOR, quiet=Span(begins=time(15), ends=time(7)))
    scene = scene_with(tmp_path, Duty(), operator)
    scene.judge(*cold_night(scene))
    assert len(scene.messages("maren")) == 1


@pytest.mark.parametrize(
    ("local", "day"),
    [
        ("2026-11-14T17:59", None),  # Saturday, before
        ("2026-11-14T18:00", 5),
        ("2026-11-14T23:59", 5),
        ("2026-11-15T00:00", 5),  # still Saturday's night
        ("2026-11-15T05:59", 5),
        ("2026-11-15T06:00", None),
    ],
)
def test_a_night_belongs_to_the_day_on_which_it_began(local, day):
    assert NIGHT.day_of(datetime.fromisoformat(local).replace(tzinfo=ZONE)) == day


def test_the_night_the_clocks_change_has_no_hour_without_duty():
    duty = Duty(shifts=(Shift(person="a", hours=NIGHT), Shift(person="b", hours=DAY)))
    at = datetime(2026, 10, 31, 12, tzinfo=UTC)
    while at < datetime(2026, 11, 2, 12, tzinfo=UTC):
        assert len(duty.on_duty(at.astimezone(ZONE))) == 1
        at += timedelta(minutes=15)


def test_who_looks_after_some_spaces_hears_of_those_and_of_the_rest_only_when_called(tmp_path):
    racks = replace(SECOND, spaces=frozenset({"rack"}))
    scene = scene_with(tmp_path, Duty(next_called=("ansel",)), OPERATOR, racks)
    shed = craft("S1", "Petrel", "shed")
    scene.craft = {"S1": shed}
    judged = [frost(shed, Standing.EXPOSED, FOUR, deadline=FOUR + timedelta(hours=6))]
    scene.judge(*judged)
    assert told(scene) == {"maren": 0}
    let_pass(scene, judged, 20)
    assert told(scene) == {"maren": 0, "ansel": 15}


def test_a_space_that_nobody_looks_after_is_everybodys(tmp_path):
    racks = replace(SECOND, spaces=frozenset({"rack"}))
    scene = scene_with(tmp_path, Duty(), racks)
    shed = craft("S1", "Petrel", "shed")
    scene.craft = {"S1": shed}
    scene.judge(frost(shed, Standing.EXPOSED, FOUR, deadline=FOUR + timedelta(hours=6)))
    assert told(scene) == {"ansel": 0}
