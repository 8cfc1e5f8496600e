"""A letter says nothing that its own figures deny at the moment it goes."""

from dataclasses import replace
from datetime import timedelta

import hypothesis.strategies as st
import pytest
from hypothesis import given, settings

from monitor.alarms.entry import Entry
from monitor.alarms.telling.grouping import letters_due
from monitor.craft.stored import BatteryPlace
from monitor.phrases.alarm_lines import headline_text
from monitor.yard.alarm import AlarmState
from monitor.yard.assessment import Assessment, Certainty, Hazard, Severity, Standing, Subject
from monitor.yard.battery_facts import BatteryFacts, ChargeSource
from monitor.yard.readers import words_for
from monitor.yard.watch import WatchKey
from tests.alarms.scene import FOUR, Scene, craft, frost
from tests.alarms.telling.test_pace import BOTH, YARD, Fact
from tests.tried import tried
from tests.written import written

NIGHT = FOUR + timedelta(hours=7)


def metal(at, margin_k, *, film_until=None, point_c=-5.0):
    """How bare metal stands so many kelvin above the frost point, by the rules of `damp`."""
    wet = margin_k < 0.0
    return Assessment(
        subject=Subject("shed", "K1", "block"),
        hazard=Hazard.DAMP,
        standing=Standing.FROSTING if wet else Standing.DRY,
        at=at,
        **written("The block follows the air.", "Keep the doors shut." if wet else ""),
        now_c=point_c + margin_k,
        limit_c=point_c,
        margin_k=margin_k,
        ends=film_until if film_until is not None and film_until > at else None,
        severity=Severity.MODERATE,
        certainty=Certainty.LIKELY,
    )


@pytest.fixture
def scene(tmp_path):
    made = Scene(tmp_path)
    made.craft = {"K1": craft("K1", "Teal", "shed")}
    made.clock.advance_to(NIGHT)
    return made


def frosted_overnight(scene, film_until=None):
    """Metal below the frost point from eleven to four; then to ten, above it."""
    for hour in range(22):
        now = scene.clock.now()
        margin_k = -1.0 if hour < 10 else 0.8
        scene.judge(metal(now, margin_k, film_until=film_until))
        scene.after(minutes=30)
    return scene.messages("maren")


def test_metal_that_was_wet_at_night_and_is_dry_is_not_told_to_be_wet(scene):
    assert frosted_overnight(scene) == []


def test_metal_that_is_still_wet_in_the_morning_is_told_with_an_act_for_that(scene):
    (letter,) = frosted_overnight(scene, NIGHT + timedelta(hours=14))
    assert letter.subject == "Keep Long Shed dry"
    assert "Metal is still wet on 1 craft" in letter.text
    assert "move the air" in letter.text
    assert "doors shut" not in letter.text


def test_a_battery_that_is_heard_is_not_said_to_give_no_reading(scene):
    facts = BatteryFacts(
        place=BatteryPlace.ABOARD,
        has_lead_cells=True,
        maintained=True,
        capacity_ah=18.0,
        source=ChargeSource.NOTHING,
        voltage_v=13.1,
    )

    def battery(standing):
        teal, now = scene.craft["K1"], scene.clock.now()
        judged = frost(teal, standing, now, part="battery", hazard=Hazard.BATTERY)
        return replace(judged, facts=facts)

    for n in range(32):
        standing = Standing.LOST if n < 28 else Standing.NOT_KNOWN
        scene.judge(battery(standing))
        scene.after(minutes=30)
    with scene.store.snapshot() as tx:
        by_key = {WatchKey.of(alarm): alarm for alarm in tx.alarms.open_alarms()}
    (alarm,) = (alarm for key, alarm in by_key.items() if key.cause == "maintainer-lost")
    headline = headline_text(alarm, words_for(YARD, scene.clock.now()))
    assert "no fresh reading" not in headline
    assert "does not tell its charge" in headline


MARGINS = st.lists(st.sampled_from([-3.0, -0.5, 0.3, 2.0]), min_size=12, max_size=12)


@settings(max_examples=tried(20), deadline=None)
@given(st.lists(MARGINS, min_size=3, max_size=3), st.integers(0, 23))
def test_no_letter_lists_metal_as_wet_that_its_own_figures_put_above_the_point(courses, begin):
    """Three craft's metal through random air, four hours a step, each alarm in its off-delay."""
    threads, written_letters = {}, []
    raised = {}
    for n in range(4 * len(courses[0])):
        now = FOUR + timedelta(hours=begin + n)
        entries = []
        for which, margins in enumerate(courses):
            seen = metal(now, margins[n // 4])
            if seen.standing is Standing.FROSTING:
                raised.setdefault(which, now)
            if which in raised:
                fact = Fact(cause="sweat", standing=seen.standing, which=which, at=raised[which],
                            ends=None, in_hours=None)  # fmt: skip
                entries.append(replace(fact.entry(now), assessment=seen))
        told, changed = letters_due(YARD, entries, threads.values(), now)
        threads |= {each.thread: each for each in changed}
        written_letters += told
    for letter in written_letters:
        listed: list[Entry] = [e for each in (letter, *letter.along) for e in each.entries]
        assert listed
        for entry in listed:
            assert entry.alarm.state is not AlarmState.RETURNED
            assert entry.assessment.margin_k < 0.0, (letter.person is BOTH, entry.alarm)
