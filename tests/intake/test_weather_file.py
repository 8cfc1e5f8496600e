"""Weather files as people have them: what fits is laid over the winter, what does not is named."""

import gzip
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from monitor.errors import ConfigurationError
from monitor.intake.weather_file import read_weather_file
from monitor.intake.winter_weather import lay_over_winter
from monitor.yard.hard_winter import standard_zone, winter_ahead
from tests.judgement import scene

YARD = scene.yard_of(scene.RACK)
NOW = datetime(2026, 11, 20, 18, tzinfo=UTC)
BEGIN, END = winter_ahead(NOW, YARD)


def clock(*at):
    """A time by a file's own clock."""
    return datetime(*at)  # noqa: DTZ001


def course(at):
    """Warmest at three in the afternoon, coldest in the middle of January."""
    season = -8.0 * np.cos(2 * np.pi * ((at - clock(2027, 1, 15)).days) / 365.0)
    return round(season + 4.0 * np.cos(2 * np.pi * (at.hour + at.minute / 60 - 15) / 24.0), 1)


AUTUMN, JANUARY = clock(2026, 11, 1), clock(2005, 1, 1)


def table(head="time,temperature_c", first=AUTUMN, days=200, step_h=1.0, value=course):
    count = int(days * 24 / step_h)
    times = [first + timedelta(hours=n * step_h) for n in range(count)]
    return [head, *(f"{at:%Y-%m-%dT%H:%M},{value(at)}" for at in times)]


def epw(first=JANUARY, zone_h=-6, latitude=45.0, per_hour=1, value=course):
    head = [
        f"LOCATION,Somewhere,-,-,made,1,{latitude},-97.5,{zone_h},400.0",
        *["COMMENTS 1"] * 6, f"DATA PERIODS,1,{per_hour},Data,Sunday,1/1,12/31",
    ]  # fmt: skip
    rows = []
    for n in range(365 * 24 * per_hour):
        begins = first + timedelta(hours=n / per_hour)
        minute = 60 if per_hour == 1 else begins.minute + 30
        ends = begins + timedelta(hours=1 / per_hour)
        rows.append(
            f"{begins.year},{begins.month},{begins.day},{begins.hour + 1},{minute},?9,"
            f"{value(ends.replace(year=2027))},-40.0,70"
        )
    return head + rows


def laid(tmp_path, lines, name="winter.csv", yard=YARD):
    path = tmp_path / name
    text = "\n".join(lines) + "\n"
    path.write_bytes(gzip.compress(text.encode()) if name.endswith(".gz") else text.encode())
    return lay_over_winter(read_weather_file(path, standard_zone(yard)), yard, BEGIN, END)


def test_every_form_of_one_winter_comes_to_the_same_winter(tmp_path):
    plain = laid(tmp_path, table())
    assert plain.unread_h == 0.0
    assert plain.begin == BEGIN
    assert plain.time_of(plain.hours[-1]) == END
    in_f = table(
        "Time;Temp (F);RH %", value=lambda at: f"{course(at) * 1.8 + 32:.3f}".replace(".", ",")
    )
    in_f = [line.replace(",", ";", 1) if n else line for n, line in enumerate(in_f)]
    in_f = [f"{line};60" if n else line for n, line in enumerate(in_f)]
    quoted = table(value=lambda at: f'"{course(at)}"'.replace(".", ","))
    utc = table("time_utc,air_c", value=lambda at: course(at - timedelta(hours=6)))
    split = ["month,day,hour,t_c"] + [
        f"{at.month},{at.day},{at.hour},{course(at)}"
        for at in (clock(2026, 11, 1) + timedelta(hours=n) for n in range(200 * 24))
    ]
    for lines, name in (
        (table(), "winter.csv.gz"), (in_f, "f.csv"), (utc, "utc.csv"), (split, "split.csv"),
        (epw(), "year.epw"), (epw(per_hour=2), "half.epw"), (table(step_h=0.5), "half.csv"),
        (["A station, somewhere", *in_f], "headed.csv"), (quoted, "quoted.csv"),
    ):  # fmt: skip
        found = laid(tmp_path, lines, name)
        every = round(1.0 / found.step_h)
        assert found.unread_h == 0.0, name
        np.testing.assert_allclose(found.air_c[::every], plain.air_c, atol=0.21, err_msg=name)
        assert (found.step_h == 0.5) == ("half" in name)


def test_a_leap_day_is_never_lost_where_it_is_the_colder(tmp_path):
    def with_cold(day):
        return lambda at: -30.0 if (at.month, at.day) == (2, day) else course(at)

    first = clock(2027, 11, 1)  # the file's winter has a 29 February, the coming one has none
    for day, low in ((29, -30.0), (28, -30.0)):
        found = laid(tmp_path, table(first=first, value=with_cold(day)))
        assert np.nanmin(found.air_c) == low
        assert len(found.remarks) == 1
    leap = winter_ahead(datetime(2027, 11, 20, 18, tzinfo=UTC), YARD)
    path = tmp_path / "common.csv"
    path.write_text("\n".join(table(first=clock(2026, 11, 1))) + "\n")
    found = lay_over_winter(read_weather_file(path, standard_zone(YARD)), YARD, *leap)
    assert found.unread_h == 0.0
    assert "29th" in found.remarks[0]


def test_what_is_missing_stays_unknown(tmp_path):
    lines = table()
    del lines[2000:2030]
    lines[3000] = lines[3000].partition(",")[0] + ","
    found = laid(tmp_path, lines)
    # One hour between two known ones runs straight; thirty and the hours up to them do not.
    assert found.unread_h == 30.0


BAD = {
    "no header": (lambda: table()[1:], ["line 1", "no header", "temperature_c"]),
    "no unit": (lambda: table("time,temperature"), ["line 1", "temperature", "unit", "_c or _f"]),
    "wrong columns": (lambda: table("time,bar"), ["line 1", "bar", "temperature_c"]),
    "no times": (lambda: table("when,temperature_c"), ["line 1", "time", "2026-01-14T05:00"]),
    "Fahrenheit called Celsius": (
        lambda: table(value=lambda at: round(course(at) * 1.8 + 50, 1)),
        ["temperature_c", "°C", "unit"],
    ),
    "a word": (lambda: [*table()[:50], "2026-12-01T00:00,cold"], ["line 51", "'cold'", "number"]),
    "a bad time": (lambda: [*table()[:50], "1/12/2026,3.0"], ["line 51", "'1/12/2026'", "no time"]),
    "a short row": (lambda: [*table()[:50], "2026-12-01T00:00"], ["line 51", "1 field", "2"]),
    "Fahrenheit of a cold place called Celsius": (
        lambda: table(value=lambda at: round(course(at) * 1.8 + 32, 1)), ["mean", "unit"],
    ),
    "a summer": (
        lambda: table(first=clock(2026, 5, 1), days=120, value=lambda _: 18.0),
        ["0%", "1 May", "winter"],
    ),
    "a mild place": (
        lambda: table(value=lambda at: course(at) + 18.0), ["line ", "coldest hour", "unit"],
    ),
    "another clock": (
        lambda: table(value=lambda at: course(at - timedelta(hours=10))),
        ["warmest at 01:00", "time_utc"],
    ),
    "two winters": (
        lambda: [*table(), *table(first=clock(2027, 11, 1), value=lambda _: -3.0)[1:]],
        ["stands there twice", "line", "one winter"],
    ),
    "empty": (lambda: [""], ["is empty"]),
    "binary": (lambda: ["\0\1"], ["no text"]),
    "a header alone": (lambda: table()[:1], ["no row", "winter"]),
    "quotation marks that nothing closes": (
        lambda: ['"time,temperature_c', *table(days=330)[1:]], ["line ", "quotation marks"],
    ),
    "a line that swells": (
        lambda: [*table()[:50], "2026-12-01T00:00," + "9" * 200_000], ["line 51", "longer"],
    ),
    "a dew point above the air": (
        lambda: table("time,temperature_c,dew_point_c", value=lambda at: f"{course(at)},15"),
        ["line 2", "dew_point_c", "15 lies above", "right column"],
    ),
    "a time at the end of time": (
        lambda: [*table()[:50], "9999-12-31T23:00-14:00,3.0"], ["line 51", "no time"],
    ),
    "rows too far apart": (lambda: table(step_h=3.0), ["33%", "3 h apart", "2 h"]),
    "EPW of the south": (lambda: epw(latitude=-40.0), ["line 1", "-40", "half of the earth"]),
    "EPW of a wrong zone": (lambda: epw(zone_h=6), ["line 1", "time zone", "ninth field"]),
    "EPW cut short": (lambda: [*epw()[:40], "2005,1"], ["line 41", "2 fields", "35"]),
    "EPW of a dew point above the air": (
        lambda: [row.replace(",-40.0,70", ",40.5,70") for row in epw()],
        ["line 9", "dew point (field 8)", "40.5 lies above", "99.9"],
    ),
    "EPW of hour 25": (
        lambda: [*epw()[:40], "2005,1,2,25,60,?9,1.0,1.0,70"], ["line 41", "no time", "1 to 24"],
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", BAD)
def test_a_file_that_does_not_fit_is_named_with_line_value_and_remedy(tmp_path, case):
    made, said = BAD[case]
    with pytest.raises(ConfigurationError) as told:
        laid(tmp_path, made(), "bad.csv")
    for each in ("bad.csv", *said):
        assert each in str(told.value), str(told.value)


def test_a_file_full_of_faults_tells_a_few_and_counts_the_rest(tmp_path):
    lines = table(value=lambda _: "x")
    with pytest.raises(ConfigurationError) as told:
        laid(tmp_path, lines)
    assert len(told.value.faults) == 5
    assert "4,795 more rows" in str(told.value)
