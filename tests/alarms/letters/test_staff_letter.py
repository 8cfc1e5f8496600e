"""A letter's own data: what to do, by when, for which craft, in few words and only what is left."""

import math
from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import given, settings

from monitor.alarms.entry import Standpoint
from monitor.alarms.letters.short_letter import subject_of
from monitor.alarms.letters.staff_letter import compose_letter
from monitor.alarms.letters.work_lines import LINE_WORDS, SHOWN, list_work
from monitor.alarms.round import AlarmRound
from monitor.craft.layup import Liquid
from monitor.craft.plan.shelf import ShelfProduct
from monitor.craft.plan.step import JobStep, StepKind
from monitor.craft.protection import Basis, LayupState
from monitor.phrases.short_job import short_job
from monitor.phrases.step_in_words import CircuitNames
from monitor.reports.picture import compose_picture
from monitor.wording import Units, Wording
from monitor.yard.assessment import Hazard, Standing, WorkTurn
from monitor.yard.frost_facts import FrostFacts, Occasion, PlannedAct
from monitor.yard.message import MessageKind
from monitor.yard.readers import words_for
from tests.alarms.scene import (
    FOUR,
    OPERATOR,
    Scene,
    cold_night,
    craft,
    frost,
    heat,
    judge_lost_heat,
    yard,
)
from tests.alarms.telling.test_pace import YARD, facts, lived
from tests.bench.letters import FRAME_WORDS, lines_of, words_of
from tests.craft.plan.follow import plan
from tests.craft.scene import library, record
from tests.tried import tried
from tests.written import written

PINK = ShelfProduct(id="pink", name="Pink", liquid=Liquid.PROPYLENE, strength=0.5)
METRIC = Wording(units=Units())


def composed(letter, the_yard=YARD):
    words = words_for(the_yard, letter.conversation.sent[-1], letter.person)
    return compose_letter(letter, the_yard, words, {})


@settings(max_examples=tried(6), deadline=None)
@given(facts())
def test_every_letter_says_what_to_do_by_when_and_for_which_craft(found):
    """Whatever comes in whatever order: each thing that is new has its line, and each line all."""
    written, _ = lived(found)
    for _, letter in written:
        if letter.standpoint is Standpoint.OWNER or letter.kind is MessageKind.ALL_CLEAR:
            continue
        said = composed(letter)
        lines = said.lines
        assert lines
        for line in lines:
            assert line.name
            assert line.job
            assert line.due or line.has_ice
            assert line.words <= LINE_WORDS or line.name.startswith("hall-")  # of damp
        names = {line.name for line in lines}
        new = [each for each in (*letter.entries,) if each.news and each.craft is not None]
        lost = {each.alarm.craft for each in letter.listed_entries if each.iced}
        if len(lines) < SHOWN:
            # A craft with ice in it is neither moved nor laid up anew before somebody looked.
            for each in new:
                later = each.alarm.cause in {"moved-out", "voided"}
                asks = not later or each.alarm.craft not in lost
                damp = each.definition.hazard is Hazard.DAMP
                assert each.craft.name in names or damp or not asks


def planned(which, hours, *, steps, order, too_late=False, chance=0.6, standing=Standing.EXPOSED):
    """A judgement with its craft's job, its turn in the work and its chance."""
    by = FOUR + timedelta(hours=hours)
    act = PlannedAct(occasion=Occasion.BEFORE_ICE, steps=steps, by=by)
    return replace(
        frost(which, standing, FOUR, deadline=by),
        facts=FrostFacts(
            layup=LayupState.VOID,
            basis=Basis.NONE,
            chance_first_ice=chance,
            chance_third_ice=chance,
            act=act,
        ),
        turn=WorkTurn(order=order, minutes=90.0, done_in_h=3.0, too_late=too_late),
    )


HAND_FILL = (
    JobStep(kind=StepKind.DRAIN_ENGINE, circuits=("head-passages",), minutes=30.0),
    JobStep(
        kind=StepKind.FILL_BY_HAND,
        circuits=("head-passages",),
        minutes=60.0,
        product=PINK,
        quantity_l=24.0,
    ),
)


@pytest.fixture
def scene(tmp_path):
    made = Scene(tmp_path)
    made.craft = {
        "K1": craft("K1", "Wren", "row"),
        "K2": craft("K2", "Plover", "shed"),
        "K3": craft("K3", "Heron", "shed"),
    }
    return made


@pytest.mark.parametrize(
    ("standing", "part", "asked"),
    [
        (Standing.UNREADABLE, "record", "Put right what cannot be read"),
        (Standing.NOT_TAKEN_IN, "craft file", "Correct the craft file"),
        (Standing.SNOWED, "cover", "Clear it from the ground"),
    ],
)
def test_ice_in_a_craft_hides_nothing_that_its_record_asks_for_meanwhile(
    scene, standing, part, asked
):
    """Who is to leave a craft alone is still told that its record was rewritten, or its load."""
    heron = scene.craft["K3"]
    iced = frost(heron, Standing.SOLID, FOUR)
    for _ in range(3):
        scene.judge(iced)
        scene.after(hours=1)
    told = len(scene.messages(OPERATOR.id))
    assert told
    found = replace(
        frost(heron, standing, FOUR, part=part, hazard=Hazard.RECORD),
        margin_k=math.nan,
        **written("So it was found.", asked),
    )
    for _ in range(24):
        scene.judge(iced, found)
        scene.after(hours=1)
    new = scene.messages(OPERATOR.id)[told:]
    assert new
    assert any(asked in " ".join(one.text.split()) for one in new), [one.text for one in new]
    assert not any(one.subject.startswith("Not answered") for one in new)


def test_a_subject_says_of_one_craft_either_to_save_it_or_to_leave_it(scene, monkeypatch):
    """A part of it has ice and another can still be saved: the body tells both."""
    letters, usual = [], AlarmRound._write
    monkeypatch.setattr(
        AlarmRound,
        "_write",
        lambda self, one, *rest: letters.append(one) or usual(self, one, *rest),
    )
    scene.judge(planned(scene.craft["K3"], 9, steps=HAND_FILL, order=1))
    (letter,) = letters
    said = composed(letter, scene.yard)
    left = replace(said.to_do[0], has_ice=True, by=None, call="leave {name} alone, ice inside")
    words = words_for(scene.yard, FOUR, letter.person)
    subject = subject_of(letter, replace(said, to_leave=(left,)), scene.yard, words, {})
    assert subject.count("Heron") == 1


def test_a_line_holds_the_whole_job_with_its_quantity_time_and_chance(scene):
    scene.judge(planned(scene.craft["K3"], 9, steps=HAND_FILL, order=1))
    (mail,) = scene.messages("maren")
    text = " ".join(mail.text.split())
    line = (
        "01:00 Heron, Long Shed shed-K3, 1 h 30 min Probe every engine drain, pour in 24 L."
        " Ice breaks it 6 in 10."
    )
    assert line in text
    assert "Take along 24 L of Pink." in text
    assert mail.subject == "Drain Heron by 01:00"


def begun_unheard(which, *, came, order):
    """Ice that is there only if it began as cold as the air, of which nothing was heard before."""
    judged = planned(which, -1, steps=HAND_FILL, order=order, chance=0.97)
    act = replace(judged.facts.act, occasion=Occasion.IF_IT_RUNS)
    unheard = {"start_is_guessed": True, "start_at": FOUR - timedelta(hours=1)}
    facts = replace(judged.facts, act=act, ice_is_assumed=True, came_then=came, **unheard)
    return replace(judged, facts=facts)


@pytest.mark.parametrize(
    ("came", "why"),
    [
        (False, "Nothing was heard from Long Shed before 15:00."),
        (True, "How cold Plover and Heron came in at 15:00 is not known."),
    ],
)
def test_what_may_be_ice_or_water_is_not_told_to_be_left_but_to_be_tried(scene, came, why):
    scene.judge(
        begun_unheard(scene.craft["K2"], came=came, order=1),
        begun_unheard(scene.craft["K3"], came=came, order=2),
    )
    (mail,) = scene.messages("maren")
    assert mail.subject.startswith("Try the drain of Plover now, try the drain of Heron now")
    text = " ".join(mail.text.split())
    assert "Open a drain. Water runs: probe every engine drain" in text
    assert "Nothing comes: do not start it." in text
    assert text.count(why) == 1, text
    assert "LEAVE ALONE" not in text.upper()


def test_lines_stand_in_the_order_of_the_yards_work_on_the_page_too(scene):
    """A job of three hours has to begin before one that is due sooner, and is quick."""
    judged = [
        planned(scene.craft["K1"], 5, steps=HAND_FILL, order=3),
        planned(scene.craft["K2"], 8, steps=HAND_FILL, order=1),
        planned(scene.craft["K3"], 7, steps=HAND_FILL, order=2),
    ]
    scene.judge(*judged)
    (mail,) = scene.messages("maren")
    places = [mail.text.index(name) for name in ("Plover", "Heron", "Wren")]
    assert places == sorted(places)
    page = compose_picture(scene.yard, list(scene.craft.values()), judged, [], FOUR)
    assert [task.craft[0].name for task in page.tasks] == ["Plover", "Heron", "Wren"]


def test_what_cannot_be_made_in_time_is_named(scene):
    scene.judge(
        planned(scene.craft["K1"], 5, steps=HAND_FILL, order=1),
        planned(scene.craft["K2"], 6, steps=HAND_FILL, order=2, too_late=True),
    )
    text = " ".join(scene.messages("maren")[0].text.split())
    assert "3 h of work for 2 people. You will not make Plover in time: leave it for last." in text


def test_page_and_mail_say_of_the_same_craft_that_ice_is_in_it(scene):
    """In the quarter of an hour in which the alarm of ice waits, frost's stands."""
    judged = [
        planned(scene.craft["K2"], 8, steps=HAND_FILL, order=1),
        replace(frost(scene.craft["K1"], Standing.ICING, FOUR), calls_for_act=True),
    ]
    exposed = [judged[0], frost(scene.craft["K1"], Standing.EXPOSED, FOUR, deadline=FOUR)]
    scene.judge(*exposed)
    scene.after(minutes=31)
    scene.judge(judged[0], replace(judged[1], at=scene.clock.now()),
                frost(scene.craft["K3"], Standing.EXPOSED, FOUR,
                      deadline=FOUR + timedelta(hours=2)))  # fmt: skip
    with scene.store.snapshot() as tx:
        page = compose_picture(
            scene.yard, list(scene.craft.values()), tx.assessments.latest_judgements(), [], FOUR
        )
    iced_on_page = {task.craft[0].name for task in page.tasks if task.has_ice}
    mail = scene.messages("maren")[-1]
    assert iced_on_page == {"Wren"}
    assert "Leave alone: Wren." in mail.text
    assert [task.has_ice for task in page.tasks] == sorted(task.has_ice for task in page.tasks)


def test_each_caution_stands_once_beside_the_act_that_calls_for_it(tmp_path):
    scene = Scene(tmp_path)
    scene.judge(*cold_night(scene))
    (mail,) = scene.messages("maren")
    for text in (mail.text, mail.html):
        assert text.count("Catch what runs out: poison.") == 1
        assert text.count("Engines run outdoors only.") == 1


def test_a_cold_evening_takes_120_words_and_25_for_each_craft(tmp_path):
    scene = Scene(tmp_path)
    scene.judge(*cold_night(scene))
    (mail,) = scene.messages("maren")
    assert lines_of(mail.text) == 8
    assert words_of(mail.text) <= FRAME_WORDS + LINE_WORDS * 8


def test_a_mail_without_a_link_holds_the_alarm_and_the_command_to_answer(scene):
    scene.judge(planned(scene.craft["K3"], 9, steps=HAND_FILL, order=1))
    (mail,) = scene.messages("maren")
    with scene.store.snapshot() as tx:
        (alarm,) = tx.alarms.open_alarms()
    command = f"laidup alarms ack {alarm.id[:8]} --by maren"
    assert command in mail.text
    assert command in mail.html


def test_lost_heat_comes_first_and_the_craft_that_freeze_without_it_in_one_line(scene):
    boat = craft("K1", "Wren", "barn")
    scene.craft = {"K1": boat}
    ice_at = FOUR + timedelta(hours=9)
    judge_lost_heat(scene, boat, ice_at, rounds=3)
    (mail,) = scene.messages("maren")
    assert "FREEZE THERE IF THE HEAT STAYS AWAY\nWren by 01:00" in mail.text


def test_the_last_letter_says_who_made_each_craft_safe(scene):
    scene.judge(planned(scene.craft["K3"], 9, steps=HAND_FILL, order=1))
    scene.after(minutes=40)
    well = frost(scene.craft["K3"], Standing.HOLDING, FOUR, limit_c=-30.0)
    for _ in range(30):
        scene.judge(well)
        scene.after(minutes=40)
    last = scene.messages("maren")[-1]
    assert last.kind is MessageKind.ALL_CLEAR
    assert last.subject == "Safe again: Heron"
    assert "Heron, since Sat 16:40" in last.text
    assert "Nothing else of this is open" in last.text


@pytest.mark.parametrize("profile", sorted(library()))
def test_the_job_of_every_type_of_craft_has_short_words(profile):
    one = record(profile=profile)
    steps = plan(one).frost_steps
    words = short_job(steps, CircuitNames.of_profile(one.profile), METRIC, 13)
    assert len(words.split()) <= 13
    assert "None" not in words


def test_a_job_of_many_steps_is_cut_only_where_it_would_not_fit():
    names = CircuitNames(names={"a": "head", "b": "hull loop"})
    drained = JobStep(kind=StepKind.DRAIN, circuits=("a",))
    both = JobStep(kind=StepKind.DRAIN, circuits=("b",))
    oil = JobStep(kind=StepKind.CHANGE_OIL, circuits=("a",))
    test = JobStep(kind=StepKind.TEST_COOLANT, circuits=("a",), asks=())
    assert short_job([drained], names, METRIC, 10) == "drain the head"
    assert short_job([drained, both, oil], names, METRIC, 10) == "drain 2 parts, change the oil"
    assert short_job([drained, oil, test], names, METRIC, 6) == "drain the head and 2 more"


def test_a_sensor_is_named_by_where_it_hangs(scene):
    noted = replace(scene.yard.sensors[0], note="post 3, 2 m up", name="urn:dev:ops:x-shed-corner")
    the_yard = replace(yard((OPERATOR,)), sensors=(noted,))
    scene.round = AlarmRound(scene.store, the_yard, scene.clock)
    silent = replace(
        heat(Standing.FALLING, FOUR),
        subject=replace(heat(Standing.FALLING, FOUR).subject, space="shed", part=noted.name),
        hazard=Hazard.SILENCE,
        standing=Standing.SILENT,
    )
    for _ in range(30):
        scene.judge(silent)
        scene.after(minutes=30)
    (mail,) = scene.messages("maren")
    assert "urn:" not in mail.text
    assert "post 3, 2 m up" in mail.text


def test_lines_of_a_night_are_all_there_is_to_do(tmp_path):
    """Eight craft of twelve: none is left out, and none of those that hold is asked for."""
    scene = Scene(tmp_path)
    judged = cold_night(scene)
    scene.judge(*judged)
    with scene.store.snapshot() as tx:
        letters = scene.round._draft(tx, scene.craft).letters
    assert letters == [], "told once"
    (mail,) = scene.messages("maren")
    told = [name for name in ("Teal", "Sora", "Coot", "Loon") if name in mail.text]
    assert told == []


def test_a_line_is_made_of_nothing_that_nobody_threatens():
    assert list_work([], YARD, METRIC) == []


def test_of_a_craft_with_ice_in_one_part_and_another_to_save_one_line_tells_both(scene):
    boat = craft("K3", "Heron", "shed", parts=2)
    scene.craft["K3"] = boat
    first, second = (circuit.id for circuit in boat.circuits)
    ahead = planned(boat, 9, steps=HAND_FILL, order=1)
    assert ahead.subject.part == first
    warned = frost(boat, Standing.EXPOSED, FOUR, part=second, deadline=FOUR + timedelta(hours=1))
    scene.judge(ahead, warned)
    scene.after(hours=2)
    ice = replace(frost(boat, Standing.ICING, scene.clock.now(), part=second), calls_for_act=True)
    for _ in range(5):
        scene.judge(ahead, ice)
        scene.after(minutes=10)
    scene.after(hours=12)  # in the morning, when ice that had to wait is told
    for _ in range(3):
        scene.judge(ahead, replace(ice, at=scene.clock.now()))
        scene.after(minutes=10)
    mail = scene.messages("maren")[-1]
    block = mail.text.partition("\n--\n")[0]
    assert block.count("Heron, Long Shed") == 1
    assert "Part has ice: look inside before any start." in " ".join(block.split())
    assert "LEAVE ALONE" not in block


def test_an_update_gives_no_reason_that_an_earlier_letter_gave(scene):
    """Of what is new the reasons are given, of what was told before the name and the hour."""
    first = planned(scene.craft["K3"], 12, steps=HAND_FILL, order=2)
    scene.judge(first)
    scene.after(hours=1)
    second = planned(scene.craft["K2"], 6, steps=HAND_FILL, order=1)
    for _ in range(5):
        scene.judge(first, second)
        scene.after(minutes=10)
    before, update = scene.messages("maren")
    assert "Lay-up undone: Heron." in before.text
    reasons = update.text.partition("\n--\n")[2]
    assert "Plover" in reasons
    assert "Heron" not in reasons
    assert "Heron by 04:00" in update.text


def test_a_subject_names_what_is_to_be_left_alone_in_one_act(scene):
    iced_boats = [
        replace(frost(each, Standing.ICING, FOUR), calls_for_act=True)
        for each in scene.craft.values()
    ]
    for _ in range(4):
        scene.judge(*iced_boats)
        scene.after(minutes=10)
    subject = scene.messages("maren")[-1].subject
    assert subject.count("ice inside") == 1
    assert all(name in subject for name in ("Wren", "Plover", "Heron"))


def test_what_comes_too_late_stands_behind_what_can_be_saved(scene):
    """An order that begins with what is to be left for last sends a crew to the wrong craft."""
    scene.judge(
        planned(scene.craft["K2"], 2, steps=HAND_FILL, order=1, too_late=True),
        planned(scene.craft["K3"], 9, steps=HAND_FILL, order=2),
    )
    text = scene.messages("maren")[-1].text
    assert "You will not make Plover in time" in text
    assert text.index("Heron, Long Shed") < text.index("Plover, Long Shed")


def test_no_engine_is_to_be_run_before_somebody_looked_at_the_ice_in_another_part(scene):
    boat = craft("K3", "Heron", "shed", parts=2)
    scene.craft["K3"] = boat
    first, second = (circuit.id for circuit in boat.circuits)
    run = replace(HAND_FILL[0], kind=StepKind.RUN_ANTIFREEZE, circuits=(first,))
    ahead = planned(boat, 40, steps=(run,), order=1)
    ice = frost(boat, Standing.ICING, FOUR, part=second)
    for _ in range(100):
        scene.judge(ahead, replace(ice, at=scene.clock.now(), calls_for_act=True))
        scene.after(minutes=15)
    blocks = [" ".join(one.text.split()) for one in scene.messages("maren")]
    both = [one for one in blocks if "Part has ice" in one]
    assert both
    assert all("Thaw it, look for leaks, then run" in one for one in both)
