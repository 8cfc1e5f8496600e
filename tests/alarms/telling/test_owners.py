"""Owners hear by day, once the yard has answered or has not for so long; nothing silences it."""

from dataclasses import replace
from datetime import time, timedelta

import hypothesis.strategies as st
import pytest
from hypothesis import given, settings

from monitor.alarms.entry import Standpoint
from monitor.alarms.telling.grouping import letters_due
from monitor.yard.alarm import AlarmState
from monitor.yard.assessment import Standing
from monitor.yard.duty import OwnerTelling, Span
from monitor.yard.message import MessageKind
from tests.alarms.scene import FOUR, OPERATOR, OWNERS, ZONE, Scene, craft, frost, yard
from tests.alarms.telling.test_pace import (
    BOTH,
    HOURS,
    NOON,
    OWNER,
    STEP,
    all_of,
    begun,
    facts,
)
from tests.tried import tried

USUAL = OwnerTelling()  # by day from 08:00 to 20:00, three hours without an answer


def cold_yard(folder, *, owner=OWNERS[0], owners=USUAL, hours=0.0):
    """One craft that frost reaches twelve hours on, and its judgement."""
    scene = Scene(folder, replace(yard((OPERATOR, owner)), owners=owners))
    scene.after(hours=hours)
    boat = craft("K1", "Teal", "shed", owner=owner.id)
    scene.craft = {"K1": boat}
    now = scene.clock.now()
    return scene, frost(boat, Standing.EXPOSED, now, deadline=now + timedelta(hours=12))


def times_told(scene, owner=OWNERS[0].id):
    return [f"{m.created_at.astimezone(ZONE):%H:%M}" for m in scene.messages(owner)]


def let_pass(scene, judged, hours):
    for _ in range(round(4 * hours)):
        scene.judge(judged)
        scene.after(minutes=15)


def test_an_owner_hears_after_the_yard_has_answered(tmp_path):
    scene, judged = cold_yard(tmp_path)
    let_pass(scene, judged, 1)
    assert times_told(scene) == [], "in the operator's second nobody could have answered"
    scene.acknowledge_thread(scene.messages("maren")[0].thread, "maren")
    scene.judge(judged)
    assert times_told(scene) == ["17:00"]
    assert scene.messages("owner-1")[0].subject == "Teal is not safe from frost; the yard is on it"


def test_an_owner_hears_after_three_hours_without_an_answer(tmp_path):
    scene, judged = cold_yard(tmp_path)
    let_pass(scene, judged, 6)
    assert times_told(scene) == ["19:00"]
    assert "Kettlemoss Yard was told at 16:00 and has not answered yet." in " ".join(
        scene.messages("owner-1")[0].text.split()
    )


def test_what_the_night_brings_comes_in_the_morning(tmp_path):
    scene, judged = cold_yard(tmp_path, hours=7)  # 23:00
    scene.judge(judged)
    scene.acknowledge_thread(scene.messages("maren")[0].thread, "maren")
    let_pass(scene, judged, 10)
    assert times_told(scene) == ["08:00"]


def test_of_ice_an_owner_hears_at_once(tmp_path):
    scene, judged = cold_yard(tmp_path, hours=-4)  # noon
    ice = replace(judged, standing=Standing.ICING)
    for _ in range(3):
        scene.judge(ice)  # ice has an on-delay of a quarter of an hour
        scene.after(minutes=15)
    assert scene.messages("owner-1")[0].created_at == scene.messages("maren")[0].created_at
    assert scene.messages("owner-1")[0].subject == "Ice in Teal: please do not start it"


def test_ice_of_the_night_is_told_in_the_morning_for_the_yard_was_warned_of_it(tmp_path):
    # The yard's warning said that it counts as frozen from its hour on, so no further letter has
    # to reach the yard before the owner's.
    scene, judged = cold_yard(tmp_path)
    other = craft("K2", "Coot", "rack", owner="nobody")
    scene.craft |= {"K2": other}
    let_pass(scene, judged, 1)
    scene.acknowledge_thread(scene.messages("maren")[0].thread, "maren")
    let_pass(scene, judged, 3)  # 20:00: what comes up then has the second letter of the night
    late = frost(other, Standing.EXPOSED, FOUR, deadline=FOUR + timedelta(hours=6))
    for _ in range(4 * 9):
        scene.judge(judged, late)
        scene.after(minutes=15)
    for _ in range(4 * 4):  # 05:00 to 09:00
        scene.judge(replace(judged, standing=Standing.SOLID), late)
        scene.after(minutes=15)
    assert len(scene.messages("maren")) == 2
    assert times_told(scene)[-1] == "08:00"
    assert scene.messages("owner-1")[-1].subject == "Ice in Teal: please do not start it"


@pytest.mark.parametrize(
    ("quiet", "told"),
    [
        (Span(begins=time(18), ends=time(22)), "22:00"),  # own hours stand in place of the yard's
        (Span(begins=time(6), ends=time(6)), "19:00"),  # the whole day: it would silence all
    ],
)
def test_an_owners_own_hours_never_leave_none(tmp_path, quiet, told):
    scene, judged = cold_yard(tmp_path, owner=replace(OWNERS[0], quiet=quiet))
    let_pass(scene, judged, 8)
    assert times_told(scene) == [told]


def test_what_was_safe_again_before_the_owner_heard_is_not_told(tmp_path):
    scene, judged = cold_yard(tmp_path)
    let_pass(scene, judged, 1)
    with scene.store.snapshot() as tx:
        assert len(tx.alarms.open_alarms()) == 1
    scene.craft = {}
    let_pass(scene, judged, 4)
    assert times_told(scene) == []


def test_an_owner_who_was_told_hears_that_it_is_over(tmp_path):
    scene, judged = cold_yard(tmp_path)
    let_pass(scene, judged, 4)
    scene.craft = {}
    let_pass(scene, judged, 16)
    assert [m.kind for m in scene.messages("owner-1")] == [MessageKind.ALARM, MessageKind.ALL_CLEAR]


# How a yard may answer an alarm: after so many half hours, or never.
ANSWERS = st.none() | st.integers(0, 40)
SPANS = st.builds(
    lambda begins, ends: Span(begins=time(begins), ends=time(ends)),
    st.integers(0, 23),
    st.integers(0, 23),
)
TELLINGS = st.builds(
    lambda hours, wait: OwnerTelling(hours=hours, without_answer=timedelta(hours=wait)),
    SPANS,
    st.integers(0, 24),
)


def lived(found, answers, telling, quiet):
    """Every round's letters of a yard that answers each fact so late, or never."""
    the_yard = replace(yard((BOTH, replace(OWNER, quiet=quiet))), owners=telling)
    threads, written, now = {}, [], NOON
    while now <= NOON + timedelta(hours=HOURS + 96):
        entries = []
        for fact, answer in zip(found, answers, strict=True):
            if fact.at > now:
                continue
            entry = fact.entry(now)
            answered = answer is not None and now >= fact.at + answer * STEP
            if answered and entry.alarm.state is AlarmState.UNACKNOWLEDGED:
                alarm = replace(entry.alarm, state=AlarmState.ACKNOWLEDGED)
                entry = replace(entry, alarm=alarm)
            entries.append(entry)
        told, changed = letters_due(the_yard, entries, threads.values(), now)
        threads |= {each.thread: each for each in changed}
        written += [(now, letter) for letter in told]
        now += STEP
    return written


@st.composite
def yards(draw):
    found = draw(facts())
    answers = [draw(ANSWERS) for _ in found]
    return found, answers, draw(TELLINGS), draw(st.none() | SPANS)


@settings(max_examples=tried(20), deadline=None)
@given(yards())
def test_whatever_the_yard_answers_an_owner_hears_of_what_stands(made):
    found, answers, telling, quiet = made
    written = lived(found, answers, telling, quiet)
    told = [e for _, letter in written if letter.standpoint is Standpoint.OWNER
            for e in all_of(letter)]  # fmt: skip
    for fact in found:
        entry = fact.entry(NOON + timedelta(hours=HOURS + 96))
        concerns = entry.definition.cause in {"frost", "ice"}  # as the definitions tell owners
        if concerns and fact.ends is None:
            assert any(e.about == entry.about and e.rank >= entry.rank for e in told), fact


@settings(max_examples=tried(20), deadline=None)
@given(yards())
def test_no_owner_hears_by_night_nor_of_frost_before_the_yard_could_answer(made):
    found, answers, telling, quiet = made
    first_told = {}
    for at, letter in lived(found, answers, telling, quiet):
        if letter.standpoint is not Standpoint.OWNER:
            for entry in all_of(letter):
                first_told.setdefault((entry.definition.topic, entry.about), at)
            continue
        assert telling.may_write_at(at.astimezone(ZONE), quiet)
        for entry in all_of(letter):
            if not entry.news or entry.iced or entry.alarm.state is AlarmState.ACKNOWLEDGED:
                continue
            since = first_told[entry.definition.topic, entry.about]
            assert at - max(since, entry.alarm.raised_at) >= telling.without_answer


def test_a_clock_that_was_set_back_keeps_no_word_from_an_owner():
    the_yard = yard((BOTH, OWNER))
    late = NOON + timedelta(days=2)
    fact = begun("frost", 48, in_hours=10)
    told, threads = letters_due(replace(the_yard, owners=USUAL), [fact.entry(late)], [], late)
    assert [letter.person.id for letter in told] == ["maren"]
    earlier = NOON + timedelta(hours=1)
    told, _ = letters_due(replace(the_yard, owners=USUAL), [fact.entry(earlier)], threads, earlier)
    assert "owner" in [letter.person.id for letter in told]
