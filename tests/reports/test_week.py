from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from monitor.reports.letter import letter, readers
from monitor.reports.week import compose, only_for_owner
from monitor.yard.alarm import Alarm
from monitor.yard.assessment import Hazard, Standing
from monitor.yard.reading import Channel, Reading
from tests.reports import kettlemoss as yard_of
from tests.reports.test_air import readings
from tests.written import written

MONDAY = date(2026, 11, 9)
AFTER = datetime(2026, 11, 16, 12, tzinfo=UTC)
YARD = yard_of.yard()
SHED = "urn:dev:ops:kettlemoss-long-shed"


def week(store, monday=MONDAY, now=AFTER, yard=YARD, craft=None):
    return compose(store, yard, yard_of.craft() if craft is None else craft, monday, now)


def shed(report):
    return next(one for one in report.spaces if one.space.id == "long-shed")


def put(store, new):
    with store.transaction() as tx:
        tx.reading_writer.add(new)


def test_a_week_begins_on_a_monday(store):
    with pytest.raises(ValueError, match="Tuesday"):
        week(store, MONDAY + timedelta(days=1))


def test_a_week_that_has_not_begun_cannot_be_told_of(store):
    with pytest.raises(ValueError, match="not begun"):
        week(store, date(2026, 11, 23))


def test_the_week_has_its_iso_number(store):
    # ISO 8601: the week with the year's first Thursday is W01, so 28 December 2026 is in W53.
    assert week(store).week == "2026-W46"
    assert week(store, date(2026, 12, 28), AFTER + timedelta(days=60)).week == "2026-W53"


def test_hours_below_zero_are_counted_from_the_readings(empty_store):
    # Sixty readings of −1 °C, ten minutes apart, then +1 °C: the line between crosses zero halfway.
    put(empty_store, readings(SHED, [-1.0] * 60 + [1.0] * 60))
    assert shed(week(empty_store)).air.below_zero_h == pytest.approx(59 / 6 + 1 / 12, abs=5 / 60)


def test_a_wet_hour_needs_more_than_80_percent_and_more_than_zero(empty_store):
    # ISO 9223: relative humidity above 80 % and temperature above 0 °C, both strict.
    put(empty_store, readings(SHED, [5.0] * 61, rh_pct=80.0))
    assert shed(week(empty_store)).air.wet_h == 0.0
    put(empty_store, readings(SHED, [0.0] * 61, rh_pct=90.0, start=yard_of.MONDAY.replace(day=11)))
    assert shed(week(empty_store)).air.wet_h == 0.0
    put(empty_store, readings(SHED, [5.0] * 61, rh_pct=80.5, start=yard_of.MONDAY.replace(day=13)))
    assert shed(week(empty_store)).air.wet_h == pytest.approx(10.0, abs=0.1)  # one step of the grid


def test_hours_without_a_reading_are_told_and_count_as_neither_cold_nor_wet(empty_store):
    put(empty_store, readings(SHED, [-1.0] * 37))  # six hours
    put(empty_store, readings(SHED, [-1.0] * 37, start=yard_of.MONDAY + timedelta(hours=12)))
    found = shed(week(empty_store))
    assert found.air.below_zero_h == pytest.approx(12.0, abs=10 / 60)
    assert found.air.unseen_h == pytest.approx(7 * 24 - 12.0, abs=10 / 60)


def test_the_week_in_which_clocks_go_back_has_169_hours(empty_store):
    # Daylight saving time ends on 1 November 2026 in the United States (first Sunday of November).
    report = week(empty_store, date(2026, 10, 26))
    assert shed(report).air.unseen_h == 169.0
    assert report.unseen


def test_a_week_that_is_still_running_ends_now(store):
    report = week(store, now=yard_of.KETTLEMOSS_NOW)
    assert report.until == yard_of.KETTLEMOSS_NOW


def test_lows_and_highs_are_the_readings_themselves_with_their_time(empty_store):
    put(empty_store, readings(SHED, [3.0] * 40))
    at = yard_of.MONDAY + timedelta(hours=2, minutes=3)  # between two times of the grid
    put(
        empty_store,
        [
            Reading(
                sensor=SHED,
                channel=Channel.TEMPERATURE,
                at_ms=round(at.timestamp() * 1000),
                value=-9.37,
                raw=-9.37,
            )
        ],
    )
    low = shed(week(empty_store)).air.low
    assert (low.value_c, low.at) == (pytest.approx(-9.37), at)


def test_alarms_come_with_who_took_them_on_and_when(store):
    by_id = {one.alarm.id: one for one in week(store).alarms}
    battery = by_id["a-battery"]
    assert battery.acknowledged_by == "Ines Marrow"
    assert battery.acknowledged_at - battery.alarm.raised_at == timedelta(minutes=45)
    assert by_id["a-frost"].acknowledged_at is None


def test_an_alarm_that_still_stands_from_before_is_told_too(store):
    old: Alarm = replace(
        yard_of.alarms()[0], id="a-old", raised_at=yard_of.MONDAY - timedelta(days=3)
    )
    with store.transaction() as tx:
        tx.alarms.put([old])
    assert "a-old" in {one.alarm.id for one in week(store).alarms}


def test_a_craft_that_was_worse_in_the_week_than_now_says_so(store):
    judged = yard_of.assessments()
    was = next(a for a in judged if a.subject.craft == "K1" and a.subject.part == "cylinders")
    icing = replace(was, standing=Standing.ICING, at=yard_of.MONDAY + timedelta(days=1))
    with store.transaction() as tx:
        tx.assessments.replace_judgements([icing])
    with store.transaction() as tx:
        tx.assessments.replace_judgements(judged)
    report = week(store)
    assert report.worse["K1"].standing is Standing.ICING
    assert "K6" not in report.worse


def judged_in_turn(store, *rounds):
    for judged in rounds:
        with store.transaction() as tx:
            tx.assessments.replace_judgements(judged)


def test_that_nothing_was_known_before_the_watch_began_is_not_told_as_worse(empty_store):
    thursday, judged = yard_of.MONDAY + timedelta(days=3), yard_of.assessments()
    frost = [a for a in judged if a.hazard is Hazard.FROST]
    judged_in_turn(
        empty_store,
        [replace(a, standing=Standing.NOT_KNOWN, at=thursday) for a in frost],
        [replace(a, at=thursday + timedelta(hours=1)) for a in frost],
    )
    report = week(empty_store)
    assert report.worse == {}
    # Three days and an hour of seven were not watched.
    assert report.watched["K1"] == pytest.approx(4 * 24 - 1)
    text = letter(report, report.picture.yard.person("ines")).text
    assert "worse this week: not known" not in text
    assert " ".join(text.split()).count("Watched only for 95 h of this week: all 12 craft.") == 1


def test_a_circuit_seen_dry_does_not_begin_the_watch_of_those_that_wait_for_a_reading(empty_store):
    # One that was seen dry holds from the first round on; the others wait for a temperature.
    thursday, judged = yard_of.MONDAY + timedelta(days=3), yard_of.assessments()
    k1 = [a for a in judged if a.hazard is Hazard.FROST and a.subject.craft == "K1"]
    first, *others = k1
    assert others
    judged_in_turn(
        empty_store,
        [
            replace(first, standing=Standing.HOLDING, at=thursday),
            *(replace(a, standing=Standing.NOT_KNOWN, at=thursday) for a in others),
        ],
        [replace(a, at=thursday + timedelta(hours=1)) for a in k1],
    )
    report = week(empty_store)
    assert "K1" not in report.worse
    assert report.watched["K1"] == pytest.approx(4 * 24 - 1)


def test_what_became_unknown_after_it_was_known_is_told(empty_store):
    judged = [a for a in yard_of.assessments() if a.hazard is Hazard.FROST]
    dark = [replace(a, standing=Standing.NOT_KNOWN) for a in judged]
    hours = [yard_of.MONDAY + timedelta(hours=n) for n in (-1, 5, 6)]
    judged_in_turn(
        empty_store,
        *(
            [replace(a, at=at) for a in some]
            for some, at in zip((judged, dark, judged), hours, strict=True)
        ),
    )
    report = week(empty_store)
    assert report.watched == {}  # its watch began before the week
    holding = [one for one in report.picture.craft if one.worst.standing is Standing.HOLDING]
    assert holding
    assert all(report.worse[one.craft.id].standing is Standing.NOT_KNOWN for one in holding)


def test_a_craft_of_which_nothing_was_ever_known_was_not_watched(empty_store):
    report = week(empty_store)
    assert set(report.watched.values()) == {0.0}
    page = letter(report, report.picture.yard.person("ines")).html
    assert "Not watched this week" in page


def test_slush_is_no_alarm_but_stands_in_the_letter_of_the_week(store):
    judged = yard_of.assessments()
    was = next(a for a in judged if a.subject.craft == "K1" and a.subject.part == "cylinders")
    slush = replace(was, standing=Standing.SLUSH, at=yard_of.MONDAY + timedelta(days=1))
    with store.transaction() as tx:
        tx.assessments.replace_judgements([slush])
    with store.transaction() as tx:
        tx.assessments.replace_judgements(judged)
    report = week(store)
    assert set(report.slush) == {"K1"}
    (person,) = [one for one in readers(report) if one.id == "ines"]
    message = letter(report, person)
    for text in (message.text, message.html):
        assert "lush" in text
        assert "read a sample again" in " ".join(text.split())
    assert only_for_owner(report, "wren").slush == {}


def test_an_owner_sees_own_craft_and_nothing_of_others(store):
    report = only_for_owner(week(store), "tobin")
    assert {one.craft.name for one in report.picture.craft} == {"Osprey", "Teal"}
    assert {one.alarm.craft for one in report.alarms} <= {"K11", "K1"}
    assert {one.space.id for one in report.spaces} == {"lee-rack", "long-shed", "bench"}
    assert all(
        task.craft and {c.owner for c in task.craft} == {"tobin"} for task in report.picture.tasks
    )
    assert report.picture.sensors == ()


def test_an_owner_hears_of_own_battery_on_a_bench_that_serves_many(store):
    judged = [
        replace(
            a,
            standing=Standing.LOST,
            **written("lost", f"See to the maintainer of {a.subject.craft}."),
        )
        if a.hazard is Hazard.BATTERY and a.subject.space == "bench"
        else a
        for a in yard_of.assessments()
    ]
    with store.transaction() as tx:
        tx.assessments.replace_judgements(judged)
    everyones = [t for t in week(store).picture.tasks if t.first.hazard is Hazard.BATTERY]
    assert max(len(task.craft) for task in everyones) == 11  # one errand, one cause
    tasks = only_for_owner(week(store), "wren").picture.tasks
    (bench,) = [task for task in tasks if task.first.hazard is Hazard.BATTERY]
    assert {one.name for one in bench.craft} == {"Plover", "Coot"}
    assert {a.subject.craft for a in bench.reasons} == {"K2", "K6"}
