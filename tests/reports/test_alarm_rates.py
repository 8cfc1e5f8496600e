"""Rate figures against EEMUA 191's own measures, counted by hand."""

from datetime import timedelta
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.alarms.acts.alarm_acts import AlarmActs
from monitor.reports.alarm_rates import AlarmFigures, alarm_figures, floods, rate_lines
from monitor.yard.alarm import Priority
from monitor.yard.readers import words_for
from tests.alarms.scene import FOUR, Scene, cold_night


def times(*minutes):
    return [FOUR + timedelta(minutes=minute) for minute in minutes]


def test_ten_alarms_in_ten_minutes_are_no_flood_eleven_are():
    # EEMUA 191: a flood is more than ten alarms in ten minutes.
    assert floods(times(*[n * 0.9 for n in range(10)])) == []
    (flood,) = floods(times(*[n * 0.9 for n in range(11)]))
    assert flood.alarms == 11


def test_eleven_alarms_over_more_than_ten_minutes_are_no_flood():
    assert floods(times(*range(11))) == []


def test_a_flood_goes_on_while_ten_minutes_bring_five():
    (flood,) = floods(times(*[0.5 * n for n in range(12)], 8, 10, 12, 30))
    assert flood.ends == times(12)[0]
    assert flood.alarms == 15


def test_two_floods_with_a_calm_between_are_two():
    burst = [0.1 * n for n in range(15)]
    assert len(floods(times(*burst, *(120 + at for at in burst)))) == 2


@given(st.lists(st.integers(0, 3 * 24 * 60), max_size=200))
def test_a_flood_always_holds_more_than_ten_alarms_and_none_is_counted_twice(minutes):
    found = floods(times(*sorted(minutes)))
    assert all(flood.alarms > 10 for flood in found)
    assert sum(flood.alarms for flood in found) <= len(minutes)
    for one, two in pairwise(found):
        assert one.ends <= two.begins


def test_a_cold_night_is_a_flood_of_alarms_but_one_message_a_person(tmp_path):
    scene = Scene(tmp_path)
    judged = cold_night(scene)
    scene.judge(*judged)
    scene.after(minutes=12)
    scene.acknowledge_thread(scene.messages("maren")[0].thread, "maren")
    with scene.store.snapshot() as tx:
        figures = alarm_figures(tx, FOUR - timedelta(days=1), FOUR + timedelta(days=1))
    assert figures.raised == 16
    assert figures.per_day == 8.0
    assert figures.messages_per_day == {"maren": 0.5, "owner-1": 0.5, "owner-2": 0.5}
    assert figures.by_priority == {Priority.HIGH: 16, Priority.MEDIUM: 0, Priority.LOW: 0}
    assert [flood.alarms for flood in figures.floods] == [16]
    assert figures.answered_min == 12.0
    assert len(figures.most_frequent) == 10
    assert figures.standing == 16
    assert figures.stale == ()


def test_alarms_that_stand_for_more_than_a_day_are_stale(tmp_path):
    scene = Scene(tmp_path)
    judged = cold_night(scene)
    scene.judge(*judged)
    scene.after(hours=25)
    scene.judge(*judged)
    with scene.store.snapshot() as tx:
        figures = alarm_figures(tx, FOUR, scene.clock.now())
    assert len(figures.stale) == 16


def test_no_stretch_has_no_figures(tmp_path):
    scene = Scene(tmp_path)
    with scene.store.snapshot() as tx, pytest.raises(ValueError, match="stretch"):
        alarm_figures(tx, FOUR, FOUR)


def test_the_sentences_stand_beside_what_the_standard_calls_manageable(tmp_path):
    scene = Scene(tmp_path)
    judged = cold_night(scene)
    scene.judge(*judged)
    scene.after(minutes=14)
    with scene.store.snapshot() as tx:
        first = tx.alarms.open_alarms()[0]
        raised = len(tx.alarms.open_alarms())
    AlarmActs(scene.store, scene.clock).acknowledge(first.id, "maren")
    with scene.store.snapshot() as tx:
        figures = alarm_figures(tx, FOUR - timedelta(days=6), FOUR + timedelta(days=1))
    said = rate_lines(figures, scene.yard, words_for(scene.yard, scene.clock.now()))
    text = "\n".join(said)
    # EEMUA 191: about 150 alarms a day are manageable; more than ten in ten minutes are a flood.
    assert f"{raised} alarms in 7 days, {raised / 7:.1f} a day" in text
    assert "From about 150 a day on one person misses some (EEMUA 191)" in text
    assert "Maren Ulv 0.1" in text  # one mail in seven days
    assert f"Floods (more than 10 alarms in 10 min): 1; the largest 16:00 with {raised}" in text
    assert f"Standing now: {raised}, 0 of them for more than a day; 0 shelved." in text
    assert "Acknowledged after 14 min (median)." in text
    assert "Most frequent" not in text  # each came once


def figures_of(**facts):
    made = {
        "since": FOUR - timedelta(days=7), "until": FOUR, "raised": 4, "per_day": 0.6,
        "messages_per_day": {}, "by_priority": {}, "most_frequent": (), "floods": (),
        "standing": 0, "stale": (), "shelved": 0, "answered_min": None,
    }  # fmt: skip
    return AlarmFigures(**(made | facts))


def test_only_alarms_that_came_again_are_frequent(tmp_path):
    yard = Scene(tmp_path).yard
    often = figures_of(most_frequent=(("Teal: sweat", 3), ("Coot: frost", 1)))
    text = "\n".join(rate_lines(often, yard, words_for(yard, FOUR)))
    assert "Most frequent: Teal: sweat 3." in text
    assert "Coot" not in text


@pytest.mark.parametrize(
    ("people", "said"), [(11, "and 1 more person."), (12, "and 2 more people.")]
)
def test_people_who_are_only_counted_are_counted_in_plain_english(tmp_path, people, said):
    yard = Scene(tmp_path).yard
    many = figures_of(messages_per_day={f"p{n:02}": 1.0 for n in range(people)})
    assert any(line.endswith(said) for line in rate_lines(many, yard, words_for(yard, FOUR)))
