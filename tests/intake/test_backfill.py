"""Readings from files: units in the header, bad rows aside with their lines, twice is once."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from monitor.errors import ConfigurationError
from monitor.intake.backfill import Backfilled, file_decoder, import_readings_file
from monitor.store.store import Store
from monitor.yard.calibration import Calibration, Point
from monitor.yard.reading import Channel, Flag
from monitor.yard.space import Sensor

NOW = datetime(2026, 3, 1, tzinfo=UTC)
SENSOR = Sensor(name="urn:dev:ops:kettlemoss-barn", space="barn")


@pytest.fixture
def store(store_url: str) -> Iterator[Store]:
    opened = Store(store_url, "kettlemoss")
    yield opened
    opened.close()


def take(store: Store, tmp_path: Path, text: str) -> Backfilled:
    file = tmp_path / "logger.csv"
    file.write_text(text, encoding="utf-8")
    return import_readings_file(store, file_decoder([SENSOR]), file, NOW, lambda _: None)


WIDE = f"""\
at,sensor,temperature [degF],humidity [%]
2026-01-10T00:00:00-06:00,{SENSOR.name},14,81.5
2026-01-10T00:05:00-06:00,{SENSOR.name},15.8,
2026-01-10T06:10:00Z,{SENSOR.name},14,82
"""


def test_units_of_the_header_and_zones_of_the_times_are_minded(store, tmp_path):
    done = take(store, tmp_path, WIDE)
    assert (done.rows, done.readings, done.new, done.aside) == (3, 5, 5, 0)
    with store.snapshot() as tx:
        trace = tx.readings.traces_between([(SENSOR.name, Channel.TEMPERATURE)], 0, 2**60)
    (trace,) = trace.values()
    # 14 °F is -10 °C, 15.8 °F is -9 °C.
    assert trace.value == pytest.approx([-10, -9, -10])
    start = datetime(2026, 1, 10, 6, tzinfo=UTC)
    assert trace.at_ms.tolist() == [
        int((start + timedelta(minutes=5 * n)).timestamp() * 1000) for n in range(3)
    ]
    assert set(trace.flag.tolist()) == {Flag.PASS}


def test_a_sensor_that_is_tied_to_a_gateway_is_taken_from_a_file(store, tmp_path):
    # The tie is to a topic of the broker, and a file has none.
    file = tmp_path / "logger.csv"
    file.write_text(WIDE, encoding="utf-8")
    decoder = file_decoder([replace(SENSOR, topic="+/shedgate/#")])
    done = import_readings_file(store, decoder, file, NOW, lambda _: None)
    assert (done.new, done.aside) == (5, 0)


def test_the_same_file_again_adds_nothing(store, tmp_path):
    take(store, tmp_path, WIDE)
    again = take(store, tmp_path, WIDE)
    assert (again.readings, again.new) == (5, 0)


def test_one_reading_a_row_with_label_and_unit_is_read_too(store, tmp_path):
    text = f"at;sensor;label;unit;value\n2026-01-10T06:00:00Z;{SENSOR.name};voltage;V;12.71\n"
    assert take(store, tmp_path, text).new == 1


def test_bad_rows_are_kept_aside_with_their_lines_and_the_others_are_taken(store, tmp_path):
    text = WIDE + (
        f"2026-01-10T07:00:00,{SENSOR.name},14,\n"
        f"yesterday,{SENSOR.name},14,\n"
        "2026-01-10T07:00:00Z,urn:dev:ops:stranger,14,\n"
        f"2026-01-10T07:00:00Z,{SENSOR.name},cold,\n"
        f"2026-01-10T07:00:00Z,{SENSOR.name},nan,\n"
        f"2026-01-10T07:00:00Z,{SENSOR.name}\n"
        f"2027-01-10T07:00:00Z,{SENSOR.name},14,\n"
        "\n"
        f"2026-01-10T08:00:00Z,{SENSOR.name},14,\n"
    )
    done = take(store, tmp_path, text)
    assert (done.new, done.aside) == (6, 7)
    expected = {
        5: "has no zone",
        6: "'yesterday' is no time",
        7: "no sensor of this yard",
        8: "'cold' is not a number",
        9: "'nan' is not a number",
        10: "2 cells where the header has 4",
        11: "in the future",
    }
    for (line, words), complaint in zip(expected.items(), done.complaints, strict=True):
        assert complaint.startswith(f"line {line}: ")
        assert words in complaint
    with store.snapshot() as tx:
        assert tx.aside.count_messages() == 7
        assert {row.topic for row in tx.aside.newest_by_topic()} == {"file logger.csv"}


@pytest.mark.parametrize(
    ("header", "complaint"),
    [
        ("sensor,temperature [Cel]", "no column 'at'"),
        ("at,sensor,temperature", "'temperature' is none that laidup knows"),
        ("at,sensor,wind [m/s]", "wind"),
        ("at,sensor,temperature [m]", "unit 'm' is none of"),
        ("at,sensor", "no column with readings"),
        ("", "no column 'at'"),
    ],
)
def test_a_header_that_is_not_known_is_refused_before_anything_is_taken(
    store, tmp_path, header, complaint
):
    with pytest.raises(ConfigurationError, match="Name the columns") as caught:
        take(store, tmp_path, f"{header}\n1,2,3\n")
    assert complaint in str(caught.value)
    with store.snapshot() as tx:
        assert tx.yard_readings.count_readings() == 0


def test_a_file_that_is_no_text_is_refused(store, tmp_path):
    (tmp_path / "x.csv").write_bytes("at,sensor,label,unit,value\n".encode("utf-16"))
    with pytest.raises(ConfigurationError, match="Write it in UTF-8"):
        import_readings_file(store, file_decoder([SENSOR]), tmp_path / "x.csv", NOW, lambda _: None)


def test_a_file_that_says_otherwise_changes_nothing_and_is_kept_aside(store, tmp_path):
    take(store, tmp_path, WIDE)
    done = take(store, tmp_path, WIDE.replace(",14,82", ",15,82"))
    assert (done.readings, done.new, done.contrary, done.aside) == (5, 0, 1, 0)
    with store.snapshot() as tx:
        (kept,) = tx.aside.newest_by_topic()
    assert "the first one, -10 Cel, stays" in kept.reason


def test_a_calibration_entered_later_contradicts_no_file_that_is_brought_in_again(store, tmp_path):
    take(store, tmp_path, WIDE)
    ice_bath = Calibration(
        channel=Channel.TEMPERATURE,
        made_on=date(2025, 10, 1),
        standard="ice bath",
        points=(Point(read=0.4, true=0.0),),
    )
    decoder = file_decoder([replace(SENSOR, calibrations=(ice_bath,))])
    done = import_readings_file(store, decoder, tmp_path / "logger.csv", NOW, lambda _: None)
    assert (done.readings, done.new, done.contrary) == (5, 0, 0)


def test_what_is_broken_costs_its_own_line_and_no_other(store, tmp_path):
    file = tmp_path / "logger.csv"
    at, good = "2026-01-10T03:{:02}:00Z", f",{SENSOR.name},1"
    bad = [
        f',{SENSOR.name},"1'.encode(),  # a quote left open
        f",{SENSOR.name},\xb0".encode("latin-1"),
        f",{SENSOR.name},1\0".encode(),
        f",{SENSOR.name},".encode() + b"9" * 200_000,
        f",{SENSOR.name},1,5".encode(),
    ]
    lines = [b"at,sensor,temperature [degC]"]
    for n, one in enumerate(bad):
        lines += [at.format(2 * n).encode() + one, (at.format(2 * n + 1) + good).encode()]
    file.write_bytes(b"\r\n".join(lines))
    done = import_readings_file(store, file_decoder([SENSOR]), file, NOW, lambda _: None)
    assert (done.rows, done.new, done.aside) == (10, 5, 5)
    assert [complaint.split(": ", 1)[0] for complaint in done.complaints] == [
        f"line {2 * n + 2}" for n in range(5)
    ]
    with store.snapshot() as tx:
        kept = {row.payload for row in tx.aside.newest_by_topic()}
    assert lines[3] in kept  # byte for byte


def test_times_and_numbers_as_other_programs_write_them_are_read(store, tmp_path):
    done = take(
        store,
        tmp_path,
        "at;sensor;temperature [degC]\r"  # semicolons, decimal commas, one sign ends a line
        f"2024-02-29t23:59:59z;{SENSOR.name};-1,5\r"
        f"2026-02-29T00:00:00Z;{SENSOR.name};1\r"  # no leap year
        f"2026-11-01T01:30:00-05:00;{SENSOR.name};2\r"  # later than NOW
        f"1969-12-31T00:00:00Z;{SENSOR.name};3\r",
    )
    assert (done.rows, done.new) == (4, 1)
    assert done.complaints == [
        "line 3: at: '2026-02-29T00:00:00Z' is no time",
        "line 4: at: before 1970, or in the future",
        "line 5: at: before 1970, or in the future",
    ]
    with store.snapshot() as tx:
        (newest,) = tx.yard_readings.latest_readings().values()
    assert newest.value == -1.5
    assert newest.at_ms == 1000 * int(datetime(2024, 2, 29, 23, 59, 59, tzinfo=UTC).timestamp())


def test_the_hour_that_comes_twice_gives_two_readings(store, tmp_path):
    # 2 November 2025, 01:30 in Chicago, before and after the clocks go back.
    text = "at,sensor,temperature [degC]\n" + "".join(
        f"2025-11-02T01:30:00-0{zone}:00,{SENSOR.name},{zone}\n" for zone in (5, 6)
    )
    assert take(store, tmp_path, text).new == 2
