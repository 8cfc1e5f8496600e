"""Numbers and states in one line, as a reader takes them."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from math import inf, nan, sqrt

import pytest

from monitor.craft.protection import Basis, LayupState
from monitor.phrases.frost import frost_basis
from monitor.phrases.names import Names
from monitor.phrases.numbers import margin_words, numbers_in_line
from monitor.reports.picture import compose_picture
from monitor.reports.sentences import state_of_things
from monitor.wording import Units, Wording
from monitor.yard.assessment import Assessment, Hazard, Standing, Subject
from monitor.yard.frost_facts import FrostFacts
from monitor.yard.readers import words_for
from tests.reports import kettlemoss as yard_of
from tests.reports.kettlemoss import yard
from tests.written import written

AT = datetime(2026, 11, 15, 12, 0, tzinfo=UTC)


def damp(**changes) -> Assessment:
    made = {
        "subject": Subject("long-shed", "k1", "engine"),
        "hazard": Hazard.DAMP,
        "standing": Standing.FROSTING,
        "at": AT,
        **written("metal by its lag against the air"),
        "now_c": -9.0,
        "limit_c": -8.7,
        "deadline": AT + timedelta(hours=1),
        "ends": AT + timedelta(hours=3),
    }
    return Assessment(**(made | changes))


def said(assessment: Assessment) -> str:
    return numbers_in_line(assessment, words_for(yard(), AT))


def test_below_freezing_metal_meets_a_frost_point_above_it_a_dew_point():
    assert "frost point" in said(damp())
    assert "dew point" in said(damp(standing=Standing.SWEATING, now_c=3.0, limit_c=4.0))


def test_a_film_that_is_gone_when_it_comes_is_not_told_to_dry():
    assert "dry again" in said(damp())
    assert "dry again" not in said(damp(ends=AT + timedelta(hours=1)))


@pytest.mark.parametrize(
    ("value", "hazard", "says"),
    [
        (24.0, Hazard.FROST, "24.0 °C to spare"),
        (-12.7, Hazard.FROST, "12.7 °C too cold for it"),
        (inf, Hazard.FROST, "seen dry, nothing to freeze"),
        (nan, Hazard.FROST, "margin not known"),
        (3.0, Hazard.DAMP, "3.0 °C above dew point"),
        (-2.0, Hazard.DAMP, "2.0 °C below dew point"),
    ],
)
def test_a_margin_needs_no_sign(value, hazard, says):
    judged = damp(hazard=hazard, standing=Standing.NOT_KNOWN, margin_k=value, limit_c=4.0)
    found = margin_words(judged, Wording(now=AT, units=Units()))
    assert found.replace("\N{NO-BREAK SPACE}", " ") == says


@pytest.mark.parametrize(
    ("margin_k", "says"),
    [
        (1.2, "1.2 °C to spare on the coldest night it must stand"),
        (-2.9, "2.9 °C too cold for it on the coldest night it must stand"),
    ],
)
def test_a_margin_that_is_not_of_the_middle_low_says_of_how_many_nights_it_is(margin_k, says):
    facts = FrostFacts(layup=LayupState.UNKNOWN, basis=Basis.UNKNOWN, act_from_chance=0.05)
    judged = damp(
        hazard=Hazard.FROST, standing=Standing.EXPOSED, margin_k=margin_k, limit_c=0.0, facts=facts
    )
    found = margin_words(judged, Wording(now=AT, units=Units()))
    assert found.replace("\N{NO-BREAK SPACE}", " ") == says


def test_the_middle_of_two_lags_is_told_to_what_anybody_knows_of_it():
    facts = FrostFacts(layup=LayupState.UNKNOWN, basis=Basis.UNKNOWN, lag_h=sqrt(2.0 * 9.0))
    judged = damp(hazard=Hazard.FROST, standing=Standing.EXPOSED, limit_c=0.0, facts=facts)
    words = Wording(now=AT, units=Units())
    assert "with a lag of 4.2 h behind" in frost_basis(facts, judged, Names(yard()), words)


def test_the_margin_below_freezing_is_to_the_frost_point_wherever_it_is_read():
    rime = damp(margin_k=-0.3)
    words = Wording(now=AT, units=Units())
    assert margin_words(rime, words).endswith("below frost point")
    assert "dew point" not in numbers_in_line(rime, words)
    assert "below frost point" in numbers_in_line(rime, words)


def test_an_owner_of_one_craft_reads_its_name_once():
    craft = yard_of.craft()[:1]
    judged = [
        replace(a, standing=Standing.HOLDING, calls_for_act=False, margin_k=22.8)
        for a in yard_of.assessments()
        if a.hazard is Hazard.FROST and a.subject.craft == craft[0].id
    ]
    shown = compose_picture(yard(), craft, judged, (), yard_of.KETTLEMOSS_NOW)
    sentence = state_of_things(shown, words_for(yard(), yard_of.KETTLEMOSS_NOW))
    assert sentence.count(craft[0].name) == 1
    assert "safe to 22.8" in sentence


def test_a_line_of_figures_tells_of_one_night_only():
    # Tonight's low beside a margin of the coldest night read as a wrong sum.
    facts = FrostFacts(layup=LayupState.UNKNOWN, basis=Basis.UNKNOWN, act_from_chance=0.05)
    judged = damp(
        hazard=Hazard.FROST, standing=Standing.EXPOSED, margin_k=-1.5, limit_c=-12.8, low_c=-11.7,
        facts=facts,
    )  # fmt: skip
    words = Wording(now=AT, units=Units())
    said = numbers_in_line(judged, words).replace("\N{NO-BREAK SPACE}", " ")
    assert "1.5 °C too cold for it on the coldest night it must stand" in said
    assert "11.7" not in said
    middle = replace(judged, facts=replace(facts, act_from_chance=nan))
    said = numbers_in_line(middle, words).replace("\N{NO-BREAK SPACE}", " ")
    assert "reaches −11.7 °C" in said
    assert said.count("1.5 °C too cold for it") == 1
