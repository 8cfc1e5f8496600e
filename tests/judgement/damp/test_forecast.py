"""A warm front over cold metal, told from a public forecast before it comes."""

from datetime import timedelta

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from monitor.alarms.round import AlarmRound
from monitor.clock import ReadingsClock, to_ms
from monitor.craft.record import stored_craft
from monitor.judgement.air.grid import space_airs
from monitor.judgement.air.past_weeks import Memory
from monitor.judgement.air.public_forecast import Outlook
from monitor.judgement.damp.forecast import vapour_let_in
from monitor.judgement.judge import judge_yard
from monitor.phrases.figures import figures_of
from monitor.physics.moist_air import dew_point
from monitor.settings.load import load_settings
from monitor.store.migrate import migrate
from monitor.store.store import Store
from monitor.yard.assessment import Certainty, Hazard, Standing, Urgency
from monitor.yard.forecast import PublicForecast
from monitor.yard.message import MessageKind
from monitor.yard.readers import wording_for_store
from monitor.yard.reading import Channel
from monitor.yard.space import shelters
from tests.judgement import scene
from tests.judgement.damp.test_damp import BLOCK
from tests.judgement.scene import local
from tests.judgement.test_two_nights import DEMO, outdoors, readings
from tests.tried import tried

HOUR = timedelta(hours=1)
WET = {Standing.SWEATING, Standing.FROSTING}
ISSUED = local(15, 4)
MORNING = local(15, 8)


def forecast(air_c, dew_c, issued=ISSUED, step_h=1.0):
    """One issue; air and dew point are columns, or functions of hours after it."""
    hours = np.arange(0.0, 60.0, step_h)
    air_c, dew_c = (of(hours) if callable(of) else np.full(hours.size, of) for of in (air_c, dew_c))
    return PublicForecast(
        source="agency",
        issued=issued,
        fetched=issued + timedelta(minutes=30),
        at_ms=to_ms(issued) + np.round(hours * 3_600_000).astype(np.int64),
        air_c=air_c,
        dew_point_c=dew_c,
    )


def truth(issued=ISSUED, wetter_k=0.0, step_h=1.0):
    """The second day of Kettlemoss as it comes: 70 % RH until 13:00, then +6 °C and 95 %."""

    def air(hours):
        return outdoors([issued + timedelta(hours=float(hour)) for hour in hours])

    def dew(hours):
        damp = np.where(issued + hours * HOUR >= local(15, 13), 95.0, 70.0)
        return np.minimum(dew_point(air(hours), damp) + wetter_k, air(hours))

    return forecast(air, dew, issued, step_h)


def kettlemoss(now, *issues):
    """What is judged of the demo's yard at a moment, with these forecasts."""
    config = load_settings(DEMO, {})
    memory = Memory()
    memory.outlook.add_issues(issues)
    words = wording_for_store(config.yard, now)
    stored = (stored_craft(one, shelters(config.yard), now, words) for one in config.craft)
    craft = [one for one in stored if one is not None]
    return judge_yard(config.yard, craft, readings(now), now, memory=memory)


KNOWN = truth()


def metal(judged, space="long-shed"):
    return [
        each
        for each in judged
        if each.hazard is Hazard.DAMP and each.subject.space == space and each.subject.craft
    ]


def space_of(judged, space="long-shed"):
    return next(
        each for each in judged if each.hazard is Hazard.AIR and each.subject.space == space
    )


def test_the_front_of_the_second_day_is_told_before_noon_with_what_to_do_until_when():
    # +6 °C and 95 %: dew point 5.3 °C (psychrometric tables); the story's metal is at about -5 °C.
    told = [each for each in metal(kettlemoss(MORNING, KNOWN)) if each.standing not in WET]
    ahead = [each for each in told if each.standing is Standing.DEW_AHEAD]
    assert ahead
    for each in ahead:
        assert each.now_c < 0.1
        assert MORNING + HOUR < each.deadline <= local(15, 18)
        assert each.ends is None or each.ends > each.deadline + 3 * HOUR
        assert each.urgency is Urgency.EXPECTED
        assert each.certainty in {Certainty.POSSIBLE, Certainty.LIKELY}
        assert each.margin_k < 0.0
        assert "By the forecast of agency" in scene.basis_words(each)
        assert scene.act_words(each).startswith("Shut the doors of Long Shed by ")
        assert "run the fans and warm the metal" in scene.act_words(each)
    assert len({scene.act_words(each) for each in ahead}) == 1  # one space, one act


def test_without_a_forecast_all_is_as_it_was():
    before = kettlemoss(MORNING)
    assert not [each for each in before if each.standing is Standing.DEW_AHEAD]
    assert not any("forecast of" in scene.basis_words(each) for each in metal(before))


@pytest.mark.parametrize(
    "issue",
    [
        truth(local(14, 18)),  # more than twelve hours old
        truth(step_h=8.0),  # holes of eight hours
        forecast(6.0, np.nan),  # an agency that gives no dew point
    ],
    ids=["old", "with holes", "without dew points"],
)
def test_a_forecast_that_cannot_be_used_changes_nothing(issue):
    assert [(each.subject, each.standing) for each in metal(kettlemoss(MORNING, issue))] == [
        (each.subject, each.standing) for each in metal(kettlemoss(MORNING))
    ]


def test_a_wrong_forecast_does_not_silence_what_is_measured():
    arrived = local(15, 15)
    wrong = forecast(-10.0, -25.0)
    measured = {
        each.subject: each.standing for each in metal(kettlemoss(arrived)) if each.standing in WET
    }
    assert measured
    after = {each.subject: each.standing for each in metal(kettlemoss(arrived, wrong))}
    assert {subject: after[subject] for subject in measured} == measured


def test_nobody_is_told_to_open_up_when_the_front_comes_within_hours():
    # At 08:00 the air outside is far below 0 °C and drier than the shed's.
    alone, told = (space_of(kettlemoss(MORNING, *known)) for known in ((), (KNOWN,)))
    assert figures_of(alone)["vent_drying"] >= 0.0
    assert figures_of(told)["vent_drying"] == -1.0
    assert "Keep Long Shed shut: by the forecast of agency" in scene.basis_words(told)
    assert "Opening" not in scene.basis_words(told)


def test_one_message_over_all_craft_tells_ahead_and_none_follows_when_it_comes_as_told(tmp_path):
    config = load_settings(DEMO, {})
    url = f"sqlite:///{tmp_path / 'yard.db'}"
    migrate(url)
    store, clock = Store(url, config.yard.id), ReadingsClock(MORNING)
    alarms, said = AlarmRound(store, config.yard, clock), []
    for at in (MORNING, MORNING + 0.6 * HOUR, local(15, 11), local(15, 13), local(15, 15)):
        clock.advance_to(at)
        damp = metal(kettlemoss(at, KNOWN))
        words = wording_for_store(config.yard, at)
        stored = (stored_craft(one, shelters(config.yard), at, words) for one in config.craft)
        with store.transaction() as tx:
            tx.assessments.replace_judgements(damp)
        alarms.run({one.id: one for one in stored if one is not None})
        with store.snapshot() as tx:
            said.append([message for message, _ in tx.outbox.newest_messages(100)])
    store.close()
    assert [each.standing in WET for each in damp].count(True) > 1  # it did come
    operators = {message.person for message in said[-1]}
    assert len(said[1]) == len(operators) > 0
    assert said[-1] == said[1]
    for message in said[1]:
        assert message.kind is MessageKind.ALARM
        assert message.subject.startswith("Keep Long Shed dry by ")
        assert "Metal will sweat on " in message.text
        assert message.text.count("Shut the doors of Long Shed by ") == 1


def shed_ahead(dew_c, air_c=6.0):
    """First dew on a block in the shed: at -4 °C and 80 % for days, outdoors as cold."""
    now = local(15, 8)
    since = now - timedelta(hours=90)
    found = {}
    for name in (scene.SHED.id, scene.RACK.id):
        found |= scene.trace(f"air-{name}", Channel.TEMPERATURE, -4.0, since, now)
        found |= scene.trace(f"air-{name}", Channel.HUMIDITY, 80.0, since, now)
    memory = Memory()
    memory.outlook.add_issues(
        [
            forecast(
                lambda hours: np.where(hours < 8.0, -4.0, air_c),
                lambda hours: np.where(hours < 8.0, -6.9, np.minimum(dew_c, air_c)),
            )
        ]
    )
    craft = scene.stored(scene.SHED, (scene.circuit(), scene.water()), surfaces=(BLOCK,))
    judged = judge_yard(scene.yard_of(scene.SHED, scene.RACK), [craft], found, now, memory=memory)
    return scene.pick(judged, Hazard.DAMP, "block", "k1")


@given(dew_c=st.floats(-15.0, 8.0), drier_k=st.floats(0.0, 10.0))
@settings(max_examples=tried(15), deadline=None)
def test_a_drier_forecast_never_sweats_sooner(dew_c, drier_k):
    wetter, drier = shed_ahead(dew_c), shed_ahead(dew_c - drier_k)
    if drier.standing is Standing.DEW_AHEAD:
        assert wetter.standing is Standing.DEW_AHEAD
        assert wetter.deadline <= drier.deadline
        assert figures_of(wetter)["ahead_film_g_m2"] >= figures_of(drier)["ahead_film_g_m2"] - 1e-9


def test_a_front_that_holds_little_water_is_no_news():
    assert shed_ahead(6.0).standing is Standing.DEW_AHEAD
    assert shed_ahead(-8.0).standing is Standing.DRY


HOURS = np.arange(0.0, 49.0, 0.5)
PRESSURES = st.floats(100.0, 2000.0)


@example(outside=[100.0, 100.0], now=115.0, floor=114.0)  # drier than the floor within a step
@given(outside=st.lists(PRESSURES, min_size=2, max_size=6), now=PRESSURES, floor=PRESSURES)
def test_a_floor_takes_of_what_is_damper_than_it_is_cold_and_gives_nothing(outside, now, floor):
    outside_pa = np.interp(HOURS, np.linspace(0.0, 48.0, len(outside)), outside)
    without = vapour_let_in(HOURS, outside_pa, 0.5, now, np.inf)
    taken = vapour_let_in(HOURS, outside_pa, 0.5, now, floor)
    assert (taken <= without + 1e-9).all()
    driest = np.minimum.accumulate(outside_pa)
    assert (taken >= np.minimum(driest, min(now, floor)) - 1e-9).all()


def test_with_steady_air_outdoors_the_water_indoors_comes_to_rest_between_it_and_the_floor():
    # 0.5 air changes an hour bring 1000 Pa in, 0.9 m of air an hour for each metre of height meet
    # a floor of 600 Pa: (0.5 * 1000 + 0.9 * 600) / 1.4 (balance of the two, by hand).
    rest = vapour_let_in(HOURS, np.full(HOURS.size, 1000.0), 0.5, 800.0, 600.0)[-1]
    assert rest == pytest.approx(742.9, abs=0.1)
    alone = vapour_let_in(HOURS, np.full(HOURS.size, 1000.0), 0.5, 800.0, np.inf)
    assert_allclose(alone, 1000.0 - 200.0 * np.exp(-0.5 * HOURS), atol=1e-6)


def outdoor_air(now, air_c, rh_pct=80.0):
    since = now - timedelta(hours=95)
    found = scene.trace("air-lee-rack", Channel.TEMPERATURE, air_c, since, now)
    found |= scene.trace("air-lee-rack", Channel.HUMIDITY, rh_pct, since, now)
    yard = scene.yard_of(scene.RACK)
    return space_airs(yard.spaces, yard.sensors, found, now)["lee-rack"]


def test_what_the_agency_is_off_by_now_fades_to_its_lasting_error_here():
    now = local(15, 12)
    outlook = Outlook()
    # For four days two kelvin too warm; in the last hour the yard is four kelvin below it.
    outlook.add_issues([forecast(2.0, -2.0, now - n * 6 * HOUR) for n in range(1, 18)])
    coming = outlook.coming_air(
        now, outdoor_air(now, lambda hours: np.where(hours > 94.5, -2.0, 0.0), 75.0)
    )
    assert coming.air_c[0] == pytest.approx(-2.0, abs=0.01)
    # Lasting: 96 hours of 2 K and a day's weight of none; after a day e^-4 of the rest is left.
    lasting = 2.0 * 96 / (96 + 24)
    assert coming.air_c[-1] == pytest.approx(2.0 - lasting, abs=0.15)
    assert np.all(np.diff(coming.air_c) > 0.0)
    assert np.all(coming.dew_point_c <= coming.air_c)


def test_where_no_outdoor_air_is_measured_the_agency_stands_as_it_is():
    outlook = Outlook()
    outlook.add_issues([KNOWN])
    coming = outlook.coming_air(MORNING, None)
    at = [MORNING + timedelta(hours=float(hour)) for hour in coming.hours]
    # Hourly values of a course that is straight between the hours, but for its corner at 13:00.
    assert_allclose(coming.air_c, outdoors(at), atol=1e-6)
    assert np.isnan(coming.error_k)


def test_the_hour_told_does_not_move_with_the_minute_of_the_round():
    def first_dew(minute):
        judged = metal(kettlemoss(MORNING + timedelta(minutes=minute), KNOWN))
        return min(each.deadline for each in judged if each.standing is Standing.DEW_AHEAD)

    told = [first_dew(minute) for minute in (0, 10, 20)]
    assert max(told) - min(told) < timedelta(minutes=15)
