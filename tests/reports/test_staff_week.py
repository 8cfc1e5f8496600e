"""The week's letter to the yard's people: what to do first, what changed, what each space holds."""

from dataclasses import replace
from datetime import date, timedelta
from math import inf

import pytest
from starlette.testclient import TestClient

from monitor.clock import ReadingsClock
from monitor.craft.protection import Basis, LayupState, plain_water
from monitor.reports.letter import letter
from monitor.reports.staff_week import compose_staff_week, holds_cold
from monitor.reports.week import compose
from monitor.web.app import create_app
from monitor.web.pages.evening import read_evening_page
from monitor.yard.alarm import AlarmState
from monitor.yard.assessment import Hazard, Standing
from monitor.yard.calibration import Calibration, Point
from monitor.yard.readers import words_for
from monitor.yard.reading import Channel
from tests.bench.letters import WEEK_WORDS, words_of
from tests.reports import kettlemoss as yard_of


def week(store, craft=None, **changes):
    now = yard_of.KETTLEMOSS_NOW
    yard = yard_of.yard(**changes)
    return compose(store, yard, yard_of.craft() if craft is None else craft, date(2026, 11, 9), now)


def said(report):
    return compose_staff_week(report, words_for(report.picture.yard, report.picture.at))


def store_alarm(store, **changes):
    with store.transaction() as tx:
        tx.alarms.put([replace(yard_of.alarms()[0], **changes)])


def judge_again(store, **standing_of_craft):
    """Store the round again with every circuit of some craft at another standing."""
    judged = [
        replace(a, standing=standing_of_craft[a.subject.craft])
        if a.hazard is Hazard.FROST and a.subject.craft in standing_of_craft
        else a
        for a in yard_of.assessments()
    ]
    with store.transaction() as tx:
        tx.assessments.replace_judgements(judged)


def test_craft_with_ice_share_one_line_and_one_reason(store):
    judge_again(store, K2=Standing.SOLID, K8=Standing.ICING, K5=Standing.SUSPECT)
    report = week(store)
    text = " ".join(letter(report, report.picture.yard.person("ines")).text.split())
    assert text.count("Do not start them") == 1
    ice = text.partition("Ice was in ")[2].partition(".")[0]
    assert {"Plover", "Heron", "Pintail"} == set(ice.split(", "))
    # Another errand of theirs, to their battery say, may still stand below.
    assert not [one for one in said(report).errands if "thaw" in one.job.lower()]


def test_ice_in_one_part_is_named_where_another_errand_leads_and_is_not_said_to_be_gone(store):
    judged = yard_of.assessments()
    exposed = next(a for a in judged if a.hazard is Hazard.FROST and a.subject.craft == "K2")
    lost = replace(
        exposed, subject=replace(exposed.subject, part="exhaust-jacket"), standing=Standing.SOLID
    )
    with store.transaction() as tx:
        tx.assessments.replace_judgements([*(a for a in judged if a.subject != lost.subject), lost])
    store_alarm(store, id="iced", cause="ice", craft="K2", raised_at=yard_of.MONDAY)
    week_said = said(week(store))
    assert [e for e in week_said.errands if e.where.startswith("Plover")]
    assert "Plover" in week_said.iced
    (line,) = [line for line in week_said.changes if line.startswith("Ice came into")]
    assert "no more in" not in line or "Plover" not in line.partition("no more in")[2]


def test_an_alarm_that_ended_before_the_week_is_no_change_of_it(store):
    before = yard_of.MONDAY - timedelta(days=20)
    for until, is_told in ((yard_of.MONDAY - timedelta(hours=1), False), (yard_of.MONDAY, True)):
        store_alarm(
            store, id="quiet", cause="silence", craft="K1", part="battery", raised_at=before,
            changed_at=until, cleared_at=until, state=AlarmState.RETURNED,
        )  # fmt: skip
        changes = said(week(store)).changes
        assert any("Teal" in one for one in changes if one.startswith("Silent")) is is_told


def test_a_craft_made_safe_is_told_with_who_did_it_and_when(store):
    # Teal holds all it has, and its alarm of Tuesday is over: nobody's work is on record.
    tuesday = yard_of.MONDAY + timedelta(days=1)
    store_alarm(
        store,
        id="was",
        craft="K1",
        state=AlarmState.NORMAL,
        raised_at=tuesday,
        changed_at=tuesday,
        cleared_at=tuesday + timedelta(hours=2),
    )
    changes = said(week(store)).changes
    assert "In no danger any more: Teal." in changes
    assert not [line for line in changes if line.startswith("Frost") and "Teal" in line]


def test_a_cause_that_is_over_is_told_with_both_its_hours_and_one_that_holds_with_its_first(store):
    tuesday = yard_of.MONDAY + timedelta(days=1)
    lost = {"cause": "heat-loss", "craft": "", "part": "", "space": "stove-barn"}
    store_alarm(
        store,
        id="heat",
        state=AlarmState.NORMAL,
        raised_at=tuesday,
        changed_at=tuesday,
        cleared_at=tuesday + timedelta(hours=2),
        **lost,
    )
    assert "Losing heat: Stove Barn, Tue 00:00 to Tue 02:00." in said(week(store)).changes


@pytest.mark.parametrize(
    ("ice_point_c", "basis", "holds"),
    [
        (-20.0, Basis.MEASURED, True),  # at the limit it just does
        (-19.9, Basis.MEASURED, False),
        (0.0, Basis.MEASURED, False),
        (-inf, Basis.DRAINED, True),
    ],
)
def test_a_craft_holds_a_cold_only_where_every_circuit_is_shown_to(ice_point_c, basis, holds):
    craft = next(one for one in yard_of.craft() if len(one.protection) > 1)
    every = {
        name: replace(
            held,
            state=LayupState.PROVEN,
            basis=Basis.MEASURED,
            ice_point_c=-50.0,
            burst_point_c=-inf,
        )
        for name, held in craft.protection.items()
    }
    last = min(every)
    every[last] = replace(every[last], basis=basis, ice_point_c=ice_point_c)
    assert holds_cold(replace(craft, protection=every), -20.0) is holds


def test_less_evidence_never_makes_more_craft_hold(store):
    # Property: whichever circuit's evidence goes, no space's count of holding craft rises.
    def held_of(craft):
        lines = said(week(store, craft)).spaces
        return [int(line.holds.split(" of ")[0]) for line in lines if " of " in line.holds]

    before = held_of(yard_of.craft())
    for n, one in enumerate(yard_of.craft()):
        for name in one.protection:
            bare = {**one.protection, name: plain_water(name, LayupState.UNKNOWN, "nobody said")}
            craft = yard_of.craft()
            craft[n] = replace(one, protection=bare)
            after = held_of(craft)
            assert all(now <= then for now, then in zip(after, before, strict=True))


def test_the_letter_of_a_large_yard_is_no_longer_than_that_of_a_small_one(store):
    craft = [
        replace(one, id=f"{one.id}x{n}", name=f"{one.name} {n}")
        for n in range(10)
        for one in yard_of.craft()
    ]
    with store.transaction() as tx:
        tx.assessments.replace_judgements(
            replace(a, subject=replace(a.subject, craft=f"{a.subject.craft}x{n}"))
            for n in range(10)
            for a in yard_of.assessments()
            if a.subject.craft
        )
    report = week(store, craft)
    assert words_of(letter(report, report.picture.yard.person("ines")).text) <= WEEK_WORDS


def test_sensors_that_are_due_to_be_compared_are_named_in_letter_and_page(store):
    ice_bath = Calibration(
        channel=Channel.TEMPERATURE, made_on=date(2025, 10, 1), standard="ice bath",
        points=(Point(read=0.2, true=0.0),),
    )  # fmt: skip
    sensors = tuple(replace(one, calibrations=(ice_bath,)) for one in yard_of.yard().sensors)
    assert len(sensors) == 5
    report = week(store, sensors=sensors)
    text = " ".join(letter(report, report.picture.yard.person("ines")).text.split())
    assert text.count("calibration due since 2026-10-01") == 3
    assert "2 more calibrations are due" in text
    yard, now = report.picture.yard, yard_of.KETTLEMOSS_NOW
    page = read_evening_page(store, yard, yard_of.craft(), now, timedelta(hours=1))
    assert len(page.calibrations) == 5
    app = create_app(store, yard, ReadingsClock(now), yard_of.craft)
    shown = TestClient(app, base_url="http://127.0.0.1").get("/").text
    assert shown.count("calibration due since 2026-10-01") == 5
    for made in (week(store), week(store, sensors=sensors, calibration_days=730)):
        assert said(made).calibrations == ()
