"""The line of an alarm and of each change, made for whoever reads it."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from monitor.phrases.alarm_lines import headline_text, reason_text
from monitor.wording import Units, Wording
from monitor.yard.alarm import Alarm, AlarmEvent, AlarmState, Priority
from monitor.yard.alarm_facts import (
    Blindness,
    Change,
    ChangeFacts,
    FinishedLine,
    HeadlineFacts,
)
from monitor.yard.assessment import Certainty, Severity, Urgency

CHICAGO = ZoneInfo("America/Chicago")  # six hours behind UTC in November
NOW = datetime(2026, 11, 14, 22, 0, tzinfo=UTC)
ICE_AT = NOW + timedelta(hours=3, minutes=40)
CELSIUS = Wording(zone=CHICAGO, now=NOW, units=Units())
FAHRENHEIT = Wording(zone=CHICAGO, now=NOW, units=Units(temperature="F"))
FROST = HeadlineFacts(subject="Teal, head", deadline=ICE_AT, low_c=-5.0, ice_point_c=0.0)


def alarm(headline, cause="frost"):
    return Alarm(
        id="a1", cause=cause, space="shed", craft="K1", part="head",
        state=AlarmState.UNACKNOWLEDGED, priority=Priority.HIGH, raised_at=NOW, changed_at=NOW,
        urgency=Urgency.EXPECTED, severity=Severity.SEVERE, certainty=Certainty.LIKELY,
        headline=headline,
    )  # fmt: skip


def line(headline, words=CELSIUS, cause="frost"):
    return headline_text(alarm(headline, cause), words).replace("\N{NO-BREAK SPACE}", " ")


def reason(why):
    event = AlarmEvent(
        alarm="a1", at=NOW, before=AlarmState.ACKNOWLEDGED, after=AlarmState.NORMAL,
        by="laidup", why=why,
    )  # fmt: skip
    return reason_text(event, alarm(FROST), CELSIUS)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (CELSIUS, "Teal, head: frost ahead, by 19:40, low −5.0 °C, ice point 0 °C"),
        (FAHRENHEIT, "Teal, head: frost ahead, by 19:40, low 23.0 °F, ice point 32 °F"),
    ],
)
def test_one_stored_headline_is_read_in_each_readers_own_units(words, says):
    assert line(FROST, words) == says


def test_a_headline_read_days_later_dates_its_hour():
    later = Wording(zone=CHICAGO, now=NOW + timedelta(days=30), units=Units())
    assert "by 14 Nov 19:40" in line(FROST, later)


def test_a_headline_that_nobody_can_tell_says_why_it_cannot_clear():
    blind = HeadlineFacts(subject="Teal", blind=Blindness.CHARGE_NOT_TOLD)
    said = line(blind, cause="maintainer-lost")
    assert said == (
        "Teal: maintainer lost; its voltage does not tell its charge, so it cannot clear"
    )


def test_dew_that_a_forecast_brings_is_not_said_to_be_there():
    assert line(HeadlineFacts(subject="Shed", ahead=True), cause="sweat").startswith(
        "Shed: metal will sweat"
    )


def test_times_of_changes_are_by_the_yards_clock_alone():
    gone = reason(ChangeFacts(change=Change.GONE, since=NOW - timedelta(hours=1)))
    assert gone == "over since 15:00"
    shelved = reason(ChangeFacts(change=Change.SHELVED, until=ICE_AT, said="being worked on"))
    assert shelved == "until 19:40: being worked on"


@pytest.mark.parametrize("change", Change)
def test_every_change_has_its_words(change):
    facts = ChangeFacts(
        change=change, headline=FROST, since=NOW, until=ICE_AT, before=Severity.MINOR,
        now=Severity.SEVERE, said="told for the whole space",
    )  # fmt: skip
    assert reason(facts).strip()


def test_a_line_of_an_earlier_program_is_read_as_it_was_written():
    assert line(FinishedLine(text="Teal: frost ahead, low ⟦-5.0 Cel⟧"), FAHRENHEIT) == (
        "Teal: frost ahead, low 23.0 °F"
    )
