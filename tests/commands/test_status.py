from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from monitor.commands.status import forecast_line, low_error_lines, status_lines
from monitor.phrases.names import Names
from monitor.store.aside import KeptAside
from monitor.store.store import Store
from monitor.yard.alarm import AlarmState
from monitor.yard.alarm_facts import FinishedLine
from monitor.yard.assessment import Assessment, Hazard, Standing, Subject
from monitor.yard.calibration import Calibration, Point
from monitor.yard.forecast import ForecastAsking
from monitor.yard.health import IntakeFaultKind
from monitor.yard.readers import words_for
from monitor.yard.reading import Channel
from tests.commands.yard_files import copied_yard, fill, laidup
from tests.reports import kettlemoss as yard_of
from tests.written import written


@pytest.fixture
def store(tmp_path):
    filled = yard_of.open_store(tmp_path)
    yard_of.fill(filled)
    yield filled
    filled.close()


def told(store, now=yard_of.KETTLEMOSS_NOW):
    lines = status_lines(store, yard_of.yard(), yard_of.craft(), now)
    return "\n".join(lines).replace("\N{NO-BREAK SPACE}", " ")


@pytest.mark.usefixtures("scenes_in_files")
def test_the_command_tells_a_yard_that_nobody_watches_in_sentences(tmp_path, capsys):
    config = copied_yard(tmp_path)
    fill(config)
    assert laidup("status", "--config", str(config)) == 0
    said = capsys.readouterr().out
    assert "Kettlemoss Yard" in said
    assert "laidup is not running here: nobody is warned. Start `laidup run`." in said
    assert "The store is" in said
    assert "MB" in said


def test_an_empty_store_is_told_with_the_next_step(tmp_path, capsys):
    config = str(copied_yard(tmp_path))
    laidup("migrate", "--config", config)
    assert laidup("status", "--config", config) == 0
    said = capsys.readouterr().out
    assert "No reading has ever come in. `laidup check` tries the broker." in said
    assert "never heard" in said


def test_a_daemon_that_judges_no_more_is_not_called_running(store):
    said = told(store, yard_of.KETTLEMOSS_NOW + timedelta(hours=5))
    assert "is running" not in said
    assert "may have stopped judging" in said


def test_each_sensor_is_told_with_its_last_values_and_their_age(store):
    said = told(store)
    assert "kettlemoss-north-row (North Row):" in said
    assert "3 h ago" in said.split("kettlemoss-north-row (North Row):")[1].splitlines()[0]
    assert "14 min ago" in said.split("kettlemoss-lee-rack (Lee Rack):")[1].splitlines()[0]


def test_what_was_kept_aside_is_told_with_its_reason_and_how_often(store):
    at = datetime(2026, 11, 14, 21, tzinfo=UTC)
    with store.transaction() as tx:
        for _ in range(3):
            tx.aside.keep_all([KeptAside("yard/x\x1b[2J", "no JSON at character 1", b"{", at)])
    said = told(store)
    assert "3 messages could not be used" in said
    assert "no JSON at character 1, 3 times" in said
    assert "\x1b" not in said  # a topic cannot steer the terminal


def test_open_alarms_and_messages_are_counted(store):
    said = told(store)
    assert "2 alarms open" in said
    assert "Osprey: galley fittings freeze from 18:15 (high; not answered yet" in said
    assert "Messages: 0 waiting, 0 delivered, 0 refused." in said


def test_of_hundreds_of_alarms_the_most_pressing_come_before_the_sensors(store):
    first = next(a for a in yard_of.alarms() if a.state is AlarmState.UNACKNOWLEDGED)
    many = [replace(first, id=f"s{n}", state=AlarmState.SUPPRESSED) for n in range(200)]
    many += [
        replace(first, id=f"u{n}", headline=FinishedLine(text="Later"), deadline=None)
        for n in range(30)
    ]
    with store.transaction() as tx:
        tx.alarms.put(many)
    said = told(store).splitlines()
    (at,) = [n for n, line in enumerate(said) if "alarms open: " in line]
    assert "200 not told on purpose" in said[at]
    assert at + 12 < 24  # all within the first screen of a terminal
    assert "which `laidup alarms list` shows" in said[at + 11]
    assert not any("not told" in line for line in said[at + 1 :])


def test_a_sensor_that_left_the_yards_file_is_named(store: Store):
    yard = yard_of.yard(sensors=yard_of.yard().sensors[1:])
    said = "\n".join(status_lines(store, yard, yard_of.craft(), yard_of.KETTLEMOSS_NOW))
    assert "no longer in the yard's file: urn:dev:ops:kettlemoss-stove-barn" in said


def test_a_file_that_cannot_be_used_ends_with_2_and_says_why(tmp_path, capsys):
    config = tmp_path / "yard.toml"
    config.write_text("[yard\n")
    assert laidup("status", "--config", str(config)) == 2
    assert "yard.toml" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("asking", "said"),
    [
        ({}, "No public forecast has come from met-norway yet."),
        ({"confirmed": timedelta(minutes=40)}, "was up to date 40 min ago."),
        ({"confirmed": timedelta(hours=13)}, "13 h ago: older than 12 h, it is stale."),
        (
            {"confirmed": timedelta(hours=3), "problem": "the network is down", "failures": 1},
            "3 h ago. The last attempt failed: the network is down.",
        ),
    ],
)
def test_the_public_forecast_is_told_with_its_age_and_what_hinders_it(asking, said):
    now = yard_of.KETTLEMOSS_NOW
    if "confirmed" in asking:
        asking = {**asking, "confirmed": now - asking["confirmed"]}
    asked = ForecastAsking(source="met-norway", **asking)
    assert said in forecast_line(asked, words_for(yard_of.yard(), now), now)


def test_the_command_tells_of_the_forecast_only_where_one_is_configured(tmp_path, capsys):
    config = copied_yard(tmp_path)
    laidup("migrate", "--config", str(config))
    laidup("status", "--config", str(config))
    assert "forecast" not in capsys.readouterr().out
    with config.open("a") as file:
        file.write('[forecast]\nsource = "met-norway"\ncontact = "watch@kettlemoss.example"\n')
    laidup("status", "--config", str(config))
    assert "No public forecast has come from met-norway yet." in capsys.readouterr().out


def test_a_sensor_whose_clock_is_wrong_is_told_until_it_is_right_again(store):
    at = yard_of.KETTLEMOSS_NOW - timedelta(hours=2)
    name = yard_of.yard().sensors[0].name
    with store.transaction() as tx:
        tx.sensor_clocks.note_clocks({name: 3 * 3600.0, "urn:dev:ops:gone": 900.0}, at)
    said = told(store)
    assert f"The clock of {name} is 3 hours ahead, since" in said
    assert "urn:dev:ops:gone" not in said
    with store.transaction() as tx:
        tx.sensor_clocks.note_clocks({name: None}, at)
    assert "The clock of" not in told(store)


def test_calibrations_are_told_when_overdue_and_which_comes_next(store):
    def ice_bath(year: int, due_on: date | None) -> Calibration:
        return Calibration(
            channel=Channel.TEMPERATURE,
            made_on=date(year, 10, 1),
            standard="ice bath",
            points=(Point(read=0.2, true=0.0),),
            due_on=due_on,
        )

    first, second, third, *others = yard_of.yard().sensors
    sensors = (
        replace(first, calibrations=(ice_bath(2025, date(2026, 10, 1)),)),
        replace(second, calibrations=(ice_bath(2024, date(2025, 10, 1)), ice_bath(2026, None))),
        replace(third, calibrations=(ice_bath(2026, date(2027, 10, 1)),)),
        *others,
    )
    yard = yard_of.yard(sensors=sensors)
    lines = status_lines(store, yard, yard_of.craft(), yard_of.KETTLEMOSS_NOW)
    told = [line for line in lines if "alibration" in line or "Never compared" in line]
    title = Names.of(yard, ()).sensor_title
    overdue, coming, never = told
    assert title(first.name)[1:] in overdue
    assert "due since 2026-10-01." in overdue
    assert "temperature was last compared on 2025-10-01: ice bath." in overdue
    assert f"due on 2027-10-01: {title(second.name)}" in coming, "a year after its last"
    assert f"{len(others)} of {len(sensors)} sensors" in never


def skill(**figures):
    now = yard_of.KETTLEMOSS_NOW
    air = Assessment(
        subject=Subject("lee-rack"),
        hazard=Hazard.AIR,
        standing=Standing.STEADY,
        at=now,
        **written("no matter here", **figures),
    )
    wording = words_for(yard_of.yard(), now)
    told = list(low_error_lines(air, "Lee Rack", wording))
    return [line.replace("\N{NO-BREAK SPACE}", " ") for line in told]


def test_the_skill_of_the_low_is_told_once_it_is_known():
    known = {"low_error_k": 1.4, "persistence_error_k": 2.3, "nights_checked": 31.0}
    own = (
        "Tonight's low in Lee Rack: over 31 past nights such forecasts erred by 1.4 °C on the mean"
    )
    assert skill() == []
    assert skill(**known) == [f"{own}, the low of the night before by 2.3 °C."]
    assert skill(**known, public_share=0.6) == [
        f"{own}, the low of the night before by 2.3 °C; a public forecast counts for 60%."
    ]


def test_messages_that_claimed_a_sensor_are_told_for_a_day(store):
    now = yard_of.KETTLEMOSS_NOW
    with store.transaction() as tx:
        tx.intake_faults.count_more(IntakeFaultKind.FOREIGN_TOPIC, 2, now)
    assert "2 messages claimed a sensor" in told(store)
    assert "claimed a sensor" not in told(store, now + timedelta(hours=25))


def test_sensors_that_nobody_took_in_are_told_with_the_place_to_take_them_in(store):
    with store.transaction() as tx:
        why = "urn:dev:ops:new:temperature: no sensor of this yard"
        tx.aside.keep_all([KeptAside("yard/new", why, b"{}", yard_of.KETTLEMOSS_NOW)])
    assert "Say where each hangs at the page, under /yard/sensors" in told(store)
