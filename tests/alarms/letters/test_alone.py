"""Nobody alone is sent out onto ice at night; how many hands there are is the yard's to say."""

from dataclasses import replace
from datetime import time, timedelta

import pytest

from monitor.yard.assessment import Standing, WorkTurn
from monitor.yard.duty import Duty, Shift, Span
from tests.alarms.scene import MECHANIC, OPERATOR, Scene, craft, frost, yard

SAM = replace(OPERATOR, id="sam", name="Sam Lorne", phone="715-555-0142")
LATE = Span(begins=time(18), ends=time(6))


def mail_of(
    folder, duty, *, hours=0.0, space="rack", people=(OPERATOR, MECHANIC), first_in_h=7, **of_yard
):
    """The words of one letter about three craft, whose jobs take an hour each."""
    scene = Scene(folder, replace(yard(people), duty=duty, **of_yard))
    scene.after(hours=hours)
    now = scene.clock.now()
    fleet = [craft(f"K{n}", name, space) for n, name in enumerate(("Teal", "Sora", "Coot"))]
    scene.craft = {each.id: each for each in fleet}
    scene.judge(
        *(
            replace(
                frost(each, Standing.EXPOSED, now, deadline=now + timedelta(hours=first_in_h + n)),
                turn=WorkTurn(order=n + 1, minutes=60.0, done_in_h=n + 1.0, too_late=False),
            )
            for n, each in enumerate(fleet)
        )
    )
    return " ".join(scene.messages("maren")[0].text.split())


@pytest.mark.parametrize(
    ("duty", "said"),
    [
        (Duty(), "3 h of work for 2 people, all can be made."),
        (Duty(hands=1), "3 h of work for 1 person, all can be made."),
        (
            Duty(shifts=(Shift(person="maren", hours=LATE, hands=1),), hands=3),
            "3 h of work for 3 people until 18:00, then 1, all can be made.",
        ),
    ],
)
def test_the_letter_tells_the_hands_that_the_yard_has(tmp_path, duty, said):
    assert said in mail_of(tmp_path, duty)


def test_at_night_one_person_alone_is_told_whom_to_call_and_what_to_leave(tmp_path):
    duty = Duty(shifts=(Shift(person="maren", hours=LATE, hands=1),), next_called=("maren", "sam"))
    said = mail_of(tmp_path, duty, hours=6, people=(OPERATOR, SAM, MECHANIC))  # 22:00
    assert (
        "One person alone: do not go out onto ice by yourself at night. Call Sam Lorne"
        " (715-555-0142) to come along, or leave Teal, Sora, Coot until daylight." in said
    )


def test_before_the_night_only_what_cannot_be_done_by_then_is_to_be_left(tmp_path):
    # 18:30: the first two hours of work end by 20:30, the third only at 21:30.
    said = mail_of(tmp_path, Duty(hands=1), hours=2.5)
    assert "One person alone from 21:00: do not go out onto ice" in said
    assert "or leave Coot until daylight" in said


def test_under_a_roof_the_work_is_not_forbidden_but_somebody_is_to_know_of_it(tmp_path):
    duty = Duty(shifts=(Shift(person="maren", hours=LATE, hands=1),), next_called=("maren", "sam"))
    said = mail_of(tmp_path, duty, hours=6, space="shed", people=(OPERATOR, SAM, MECHANIC))
    assert (
        "One person alone: before you go into Long Shed, tell Sam Lorne (715-555-0142), and again"
        " when you are out." in said
    )
    assert "until daylight" not in said


def test_under_a_roof_too_nobody_is_asked_where_the_yard_has_no_other(tmp_path):
    said = mail_of(tmp_path, Duty(hands=1), hours=6, space="shed", people=(OPERATOR,))
    assert "before you go into Long Shed, tell somebody, and again when you are out." in said


def test_who_has_nobody_to_call_is_given_the_yards_telephone(tmp_path):
    said = mail_of(tmp_path, Duty(hands=1), hours=6, people=(OPERATOR,), telephone="715-555-0100")
    assert "Call 715-555-0100 for somebody, or leave Teal" in said


@pytest.mark.parametrize(
    ("duty", "hours", "space"),
    [
        (Duty(hands=2), 6.0, "rack"),  # two of them
        (Duty(hands=1), 0.0, "rack"),  # all is done by 19:00
    ],
)
def test_nobody_is_held_back_without_need(tmp_path, duty, hours, space):
    assert "One person alone" not in mail_of(tmp_path, duty, hours=hours, space=space)


def test_beside_a_line_that_says_now_the_hands_are_told_where_to_begin(tmp_path):
    said = mail_of(tmp_path, Duty(), first_in_h=-0.5)
    assert "3 h of work for 2 people. Begin with Teal: all can be made." in said
    assert ", all can be made" not in said
