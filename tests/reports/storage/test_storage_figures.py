"""A winter of which every figure is known, its quality of storage, and what silence makes of it."""

import csv
import gzip
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pandas as pd
import pytest

from monitor.craft.layup import Act
from monitor.reports.storage.figures import StorageFigures
from monitor.reports.storage.read_storage import read_storage_seasons
from monitor.reports.storage.storage_words import quality_lines, storage_words
from monitor.store.store import Store
from monitor.wording import Wording
from monitor.yard.alarm import LAIDUP, Alarm, AlarmEvent, AlarmState, Priority
from monitor.yard.alarm_facts import Change, ChangeFacts, HeadlineFacts
from monitor.yard.reading import Channel
from monitor.yard.space import Sensor
from monitor.yard.standing import Certainty, Severity, Urgency
from tests.craft.scene import library, work
from tests.reports.season import winter
from tests.reports.season.winter import (
    BARN,
    SHED,
    ZONE,
    cold_nights,
    near,
    put_craft,
    put_readings,
    sensor_of,
)

WEATHER = Path(__file__).parents[2] / "outside" / "data" / "denver_tmy3.csv.gz"
CAME = datetime(2026, 10, 25, 9, tzinfo=ZONE)  # a week before the clocks go back
NOW = datetime(2027, 1, 5, 12, tzinfo=ZONE)
HALF_HOUR = timedelta(minutes=30)
COLD = [date(2026, 11, 14), date(2026, 12, 31)]


@pytest.fixture
def store(tmp_path: Path):
    made = winter.open_store(tmp_path)
    yield made
    made.close()


def storage_of(store: Store, *, year=2026, now=NOW, **changes: object) -> StorageFigures:
    with store.snapshot() as tx:
        return read_storage_seasons(
            tx, winter.yard(**changes), library(), year, now, program="test"
        )[0]


def space_of(figures: StorageFigures, space: str):
    return next(one for one in figures.spaces if one.space == space)


def hours_between(since: datetime, until: datetime) -> float:
    return (until.timestamp() - since.timestamp()) / 3600


def put_alarm(store: Store, raised: datetime, *changes, cause="frost", craft="k1", **facts):
    """An alarm over the hoses of a craft in the shed, and what became of it after hours."""
    why = ChangeFacts(
        change=Change.RAISED,
        headline=HeadlineFacts(
            subject="Teal", deadline=raised + timedelta(hours=6), ice_point_c=0.0
        ),
    )
    alarm = Alarm(
        id=f"{cause}-{craft}-{raised:%d%H}",
        cause=cause,
        space=SHED,
        craft=craft,
        part="hoses",
        state=AlarmState.UNACKNOWLEDGED,
        priority=Priority.HIGH,
        raised_at=raised.astimezone(UTC),
        changed_at=raised.astimezone(UTC),
        urgency=Urgency.EXPECTED,
        severity=Severity.SEVERE,
        certainty=Certainty.LIKELY,
        headline=why.headline,
    )
    events, before = [], AlarmState.NORMAL
    for hours, after, by, change in ((0, AlarmState.UNACKNOWLEDGED, LAIDUP, why), *changes):
        said = change if isinstance(change, ChangeFacts) else ChangeFacts(change=change)
        at = (raised.astimezone(UTC) + timedelta(hours=hours)).astimezone(UTC)
        events.append(
            AlarmEvent(alarm=alarm.id, at=at, before=before, after=after, by=by, why=said)
        )
        before = after
    with store.transaction() as tx:
        tx.alarms.put([replace(alarm, state=before, **facts)])
        tx.alarms.record_changes(events)


TAKEN = AlarmState.ACKNOWLEDGED, "ines", Change.STILL_THERE
MADE_SAFE = AlarmState.NORMAL, LAIDUP, Change.MADE_SAFE
GONE = AlarmState.NORMAL, LAIDUP, Change.GONE
WARM = AlarmState.RETURNED, LAIDUP, Change.GONE


def test_the_hours_are_those_of_the_air_that_was_made(store: Store):
    put_craft(store, stays=((BARN, CAME),), arrived=CAME)
    put_readings(store, CAME, NOW, cold_nights(COLD), space=BARN, rh_pct=lambda _: 90.0)
    figures = storage_of(store)
    barn = space_of(figures, BARN)
    # 19:53:45 to 03:56:15: by the middles of minutes 482 of them, two nights; else damp.
    assert near(barn.hours.too_cold_h, 2 * 482 / 60)
    assert near(barn.hours.of_h, hours_between(CAME, NOW))
    assert near(barn.hours.too_damp_h, barn.hours.of_h - 2 * 482 / 60, within=0.5)
    assert near(barn.hours.inside_h, 0.0, within=0.1)
    assert near(barn.hours.warm_enough_h, barn.hours.of_h - 2 * 482 / 60, within=0.5)
    assert [one.evening for one in barn.worst[:2]] == COLD
    assert near(barn.low_c, -5.0)
    assert figures.whole.hours.of_h == barn.hours.of_h
    assert space_of(figures, SHED).hours.of_h == 0.0


def test_what_was_not_heard_is_inside_nothing(store: Store):
    put_craft(store, stays=((SHED, CAME),), arrived=CAME)
    silent = datetime(2026, 12, 1, 0, tzinfo=ZONE), datetime(2026, 12, 8, 0, tzinfo=ZONE)
    for since, until in ((CAME, silent[0]), (silent[1], NOW)):
        put_readings(store, since, until, lambda _: 3.0, rh_pct=lambda _: 60.0, step=HALF_HOUR)
    shed = space_of(storage_of(store), SHED)
    # The clocks go back within it: a day of 25 hours.
    assert near(shed.hours.of_h, 72 * 24 + 3 + 1)
    assert near(shed.hours.of_h - shed.hours.inside_h, 7 * 24, within=1.01)  # two last half hours
    assert near(shed.hours.inside_h, shed.hours.heard_h)
    assert shed.nights_unheard == 8
    [sensor] = shed.sensors
    assert near(sensor.of_h, shed.hours.of_h)
    assert near(sensor.heard_h, shed.hours.heard_h)


def test_without_humidity_no_hour_is_inside(store: Store):
    put_craft(store, stays=((SHED, CAME),), arrived=CAME)
    put_readings(store, CAME, NOW, lambda _: 3.0, step=HALF_HOUR)
    hours = space_of(storage_of(store), SHED).hours
    assert near(hours.warm_enough_h, hours.of_h, within=0.5)
    assert (hours.heard_h, hours.dry_enough_h, hours.inside_h) == (0.0, 0.0, 0.0)


def test_one_sensors_humidity_says_nothing_of_anothers_air(store: Store):
    other = Sensor(name=sensor_of("bare"), space=SHED, interval_s=600.0)
    put_craft(store, stays=((SHED, CAME),), arrived=CAME)
    put_readings(store, CAME, NOW, lambda _: 3.0, step=HALF_HOUR)
    with store.transaction() as tx:
        tx.series.series_ids([(other.name, Channel.TEMPERATURE)])
    sensors = (*winter.yard().sensors, other)
    assert space_of(storage_of(store, sensors=sensors), SHED).hours.inside_h == 0.0


def test_a_season_has_its_own_hours_over_the_years_end(store: Store):
    put_craft(store, stays=((SHED, CAME),), arrived=CAME)
    put_readings(store, CAME, NOW, lambda _: 3.0, rh_pct=lambda _: 60.0, step=HALF_HOUR)
    assert storage_of(store, year=2025).whole.hours.of_h == 0.0
    later = storage_of(store, year=2026, now=NOW + timedelta(days=400)).whole.hours
    assert near(later.of_h, hours_between(CAME, datetime(2027, 7, 1, tzinfo=ZONE)))
    assert storage_of(store, year=2027).until == storage_of(store, year=2027).since
    few = storage_of(store, now=CAME + timedelta(days=3)).whole
    assert few.hours.is_few
    assert few.skill is None


def test_a_moved_sensor_and_a_doubted_one_vouch_for_their_own_time_alone(store: Store):
    put_craft(store, stays=((BARN, CAME),), arrived=CAME)
    put_readings(store, CAME, NOW, lambda _: 3.0, rh_pct=lambda _: 60.0, step=HALF_HOUR)
    moved = datetime(2026, 12, 1, tzinfo=ZONE)
    [shed, *rest] = winter.yard().sensors
    sensors = (replace(shed, space=BARN, since=moved), *rest)
    barn = space_of(storage_of(store, sensors=sensors), BARN)
    assert near(barn.hours.inside_h, hours_between(moved, NOW), within=0.5)


def test_craft_with_batteries_elsewhere_count_in_both_spaces(store: Store):
    removed = datetime(2026, 11, 1, 12, tzinfo=ZONE)
    put_craft(
        store,
        work(Act.BATTERY_REMOVED, 0.0, at=removed, by="ines", space=BARN),
        stays=((SHED, CAME),),
        arrived=CAME,
    )
    figures = storage_of(store)
    assert near(space_of(figures, BARN).hours.of_h, hours_between(removed, NOW))
    assert figures.whole.hours.craft == 1
    assert near(figures.whole.hours.span_h, hours_between(CAME, NOW))


def test_each_time_that_an_alarm_asked_is_in_time_late_missed_or_not_due(store: Store):
    put_craft(store, stays=((SHED, CAME),), arrived=CAME)
    for day, changes in enumerate(
        (
            ((5.9, *TAKEN), (30, *GONE)),  # before the hour that it named
            ((6.1, *TAKEN), (30, *GONE)),
            ((30, *WARM),),  # past due, and nobody came
            ((2, *WARM),),  # over by itself
            ((2, *MADE_SAFE),),  # who made it safe has answered it
            ((1, AlarmState.SHELVED, "ines", Change.SHELVED),),
        ),
        start=1,
    ):
        put_alarm(store, datetime(2026, 11, day, 15, tzinfo=ZONE), *changes)
    put_alarm(store, NOW - timedelta(hours=1))
    answers = storage_of(store).whole.answers
    assert (answers.in_time, answers.late, answers.unanswered) == (3, 1, 1)
    assert (answers.over_before_due, answers.open_before_due) == (1, 1)
    assert answers.share == pytest.approx(3 / 5)
    assert answers.waited_s == tuple(3600 * h for h in (1, 2, 5.9, 6.1))


@pytest.mark.parametrize(
    ("night_c", "changes", "ice", "heard", "saved"),
    [
        (-5.0, ((2, *MADE_SAFE),), False, True, "saved"),
        (1.0, ((2, *MADE_SAFE),), False, True, "made_safe"),  # the cold never came
        (-5.0, ((2, *TAKEN), (30, *GONE)), False, True, "alarmed"),  # taken on is no act
        (-5.0, ((2, *MADE_SAFE),), True, True, "iced"),
        (-5.0, ((2, *MADE_SAFE),), False, False, "not_known"),
    ],
)
def test_a_craft_is_saved_by_an_act_before_a_cold_that_came(
    store: Store, night_c, changes, ice, heard, saved
):
    put_craft(store, stays=((SHED, CAME),), arrived=CAME)
    raised = datetime(2026, 11, 14, 15, tzinfo=ZONE)
    put_readings(store, raised - timedelta(days=6), raised, lambda _: 3.0)
    if heard:
        put_readings(store, raised, raised + timedelta(days=2), cold_nights([COLD[0]], night_c))
    put_alarm(store, raised, *changes)
    if ice:
        put_alarm(store, raised + timedelta(hours=8), (30, *TAKEN), cause="ice")
    found = space_of(storage_of(store), SHED).saved
    assert found.alarmed == ("k1",)
    assert getattr(found, saved) == ("k1",)
    assert bool(found.saved) is (saved == "saved")


def test_an_open_weather_week_comes_to_what_pandas_makes_of_it(store: Store):
    # Denver, TMY3, over the clock change of 14 March; the sums by pandas alone.
    with gzip.open(WEATHER, "rt", newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["month"] in {"2", "3"}]
    begins = pd.Timestamp("2027-03-08T00:00", tz=ZONE)
    count = 7 * 24 - 1
    index = pd.date_range(begins, periods=count + 1, freq="h")
    first = next(n for n, row in enumerate(rows) if row["month"] == "2" and row["day"] == "20")
    hours = rows[first : first + count + 1]
    air = pd.Series([float(row["t_c"]) for row in hours], index=index)
    damp = pd.Series([float(row["rh_pct"]) for row in hours], index=index)
    came = begins.to_pydatetime()
    put_craft(store, stays=((BARN, came), (SHED, came + timedelta(hours=90))), arrived=came)
    silent = index[30:40]  # nobody heard these ten
    for space in (BARN, SHED):
        for part in (index[:30], index[40:]):
            put_readings(
                store,
                part[0].to_pydatetime(),
                part[-1].to_pydatetime() + timedelta(minutes=1),
                lambda at: float(air[pd.Timestamp(at)]),
                space=space,
                rh_pct=lambda at: float(damp[pd.Timestamp(at)]),
                step=timedelta(hours=1),
            )
    figures = storage_of(store, now=index[-1].to_pydatetime(), design_low_c=-10.0)
    minutes = pd.date_range(begins, index[-1], freq="min", inclusive="left") + pd.Timedelta("30s")
    frame = pd.DataFrame({"air": air, "damp": damp})
    frame = frame.reindex(frame.index.union(minutes)).interpolate("time").loc[minutes]
    frame["heard"] = (minutes < index[29]) | (minutes >= index[40])
    frame["hour"] = minutes.floor("h")
    frame["space"] = [BARN if at < index[90] else SHED for at in minutes]
    wet = frame.heard & (frame.damp > 80) & (frame.air > 0)
    barn, shed = (frame[frame.space == one] for one in (BARN, SHED))
    barn_cold = barn.heard & (barn.air < 0)
    # Below a limit that is not 0 °C a whole hour counts whose lowest reading or mean passed it.
    means = frame[frame.heard].groupby("hour").air.mean()
    lows = pd.concat([means, air[~air.index.isin(silent)]], axis=1, sort=True).min(axis=1)
    shed_cold = shed.heard & (shed.hour.map(lows) < -10.0)
    for space, rows_of, cold in ((BARN, barn, barn_cold), (SHED, shed, shed_cold)):
        found = space_of(figures, space).hours
        assert near(found.of_h, len(rows_of) / 60)
        assert near(found.heard_h, rows_of.heard.sum() / 60)
        assert near(found.too_cold_h, cold.sum() / 60, within=0.2)
        assert near(found.too_damp_h, wet[rows_of.index].sum() / 60, within=0.2)
        inside = rows_of.heard & ~cold & ~wet[rows_of.index]
        assert near(found.inside_h, inside.sum() / 60, within=0.3)
    whole = figures.whole.hours
    assert near(whole.inside_h, sum(one.hours.inside_h for one in figures.spaces))
    assert near(whole.of_h, 167.0)


def test_humidity_that_stays_the_same_is_not_told_as_never_heard(store: Store):
    """Intake holds a value in doubt once it has not changed for 24 hours (`USUAL`, quality.py)."""
    put_craft(store, stays=((SHED, CAME),))
    put_readings(store, CAME, NOW, lambda at: 2.0 + at.hour / 10.0)
    shed = space_of(storage_of(store), SHED)
    assert (shed.hours.air_heard_h > 0.0, shed.hours.heard_h) == (True, 0.0)
    [said] = [one for one in quality_lines(shed, Wording()) if "humidity" in one]
    assert "never heard" not in said
    assert "stayed the same" in said
    assert "Look at that sensor" in said


def test_a_space_goes_by_the_limit_that_the_yards_file_names_for_it(store: Store):
    put_craft(store, stays=((BARN, CAME),))
    # From 20:00 to 04:00 of two nights at 3 °C, else at 8 °C.
    put_readings(
        store, CAME, NOW, cold_nights(COLD, 3.0, 8.0), space=BARN, rh_pct=lambda at: 50.0 + at.hour
    )
    usual = space_of(storage_of(store), BARN)
    assert (usual.limits.low_c, usual.hours.too_cold_h) == (0.0, 0.0)
    spaces = tuple(
        replace(one, storage_low_c=5.0) if one.id == BARN else one for one in winter.yard().spaces
    )
    own = space_of(storage_of(store, spaces=spaces), BARN)
    assert own.limits.low_c == 5.0
    assert near(own.hours.too_cold_h, 16.0, within=2.0)  # the hours of a change count whole
    assert own.hours.inside_h <= usual.hours.inside_h - 16.0
    [said] = [one for one in _space_lines(storage_of(store, spaces=spaces)) if "Limits" in one]
    assert "Limits: 5 °C (as the yard's file says of it)" in said


def _space_lines(figures: StorageFigures) -> list[str]:
    told = storage_words(figures, (), Wording(zone=ZONE))
    return [line for one in told.spaces for line in one.lines]
