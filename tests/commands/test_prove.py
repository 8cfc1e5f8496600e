"""``laidup prove``: one answer as text, JSON and pages, and a store that nothing is written to."""

import json
import signal
import subprocess
import sys
from datetime import UTC, datetime, timedelta, timezone
from io import BytesIO
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pypdf
import pytest

from monitor.clock import to_ms
from monitor.phrases.hard_winter import late_craft
from monitor.phrases.supplies import minutes_words
from monitor.reports.hard_winter.winter_pages import lows_of_nights
from monitor.store.reading_rows import ReadingRow
from monitor.store.store import Store
from monitor.yard.hard_winter import WinterOutcome, WinterWeather
from monitor.yard.reading import Channel, Flag
from tests.commands.yard_files import copied_yard, fill, laidup
from tests.reports.season import winter

DENVER = Path(__file__).parents[1] / "outside" / "data" / "denver_tmy3.csv.gz"
SINCE = "2026-11-20"
CHICAGO = winter.ZONE


@pytest.fixture(scope="module")
def yard(tmp_path_factory):
    """The demo's yard with five days of readings, and a winter two years ago in one row."""
    config = copied_yard(tmp_path_factory.mktemp("prove"))
    settings = fill(config)
    store = Store(settings.store_url, settings.yard.id)
    name = next(one.name for one in settings.yard.sensors if one.space == "lee-rack")
    year = datetime.now(UTC).year - 2
    begin = datetime(year, 10, 1, tzinfo=UTC)
    hours = np.arange(230 * 24)
    air_c = -4.0 + 5.0 * np.cos(2 * np.pi * (hours - 21) / 24.0)
    air_c[hours // 24 == 100] -= 12.0
    with store.transaction() as tx:
        (series,) = tx.series.series_ids([(name, Channel.TEMPERATURE)]).values()
        step = Channel.TEMPERATURE.resolution
        tx.reading_writer.append_rows(
            [
                ReadingRow(
                    series, to_ms(begin + timedelta(hours=h + m)), round(c / step), None, Flag.PASS
                )
                for h, c in zip(hours.tolist(), air_c.tolist(), strict=True)
                for m in (0.0, 0.5)
            ]
        )
    store.close()
    return config, settings


def asked(yard, capsys, *more, weather=("--weather", str(DENVER), "--from", SINCE)):
    config, _ = yard
    assert laidup("prove", "--config", str(config.parent), *weather, *more) == 0
    return capsys.readouterr().out


def tables_of(settings):
    """Every row of every table, as far as a count and the newest change tell them."""
    store = Store(settings.store_url, settings.yard.id, only_looking=True)
    try:
        with store.snapshot() as tx:
            judged = tx.assessments.latest_judgements()
            return tx.yard_readings.count_readings(), len(judged), max(each.at for each in judged)
    finally:
        store.close()


def test_text_and_pages_say_what_the_figures_say_and_nothing_is_written(yard, capsys, tmp_path):
    before = tables_of(yard[1])
    body = json.loads(asked(yard, capsys, "--json", "--out", str(tmp_path / "test.pdf")))
    text = asked(yard, capsys, "--out", str(tmp_path / "test.json"))
    assert tables_of(yard[1]) == before

    pdf = pypdf.PdfReader(BytesIO((tmp_path / "test.pdf").read_bytes()))
    pages = " ".join(" ".join(page.extract_text() for page in pdf.pages).split())
    inside = json.loads(pdf.attachments["hard-winter-test.json"][0])
    written = json.loads((tmp_path / "test.json").read_text(encoding="utf-8"))
    for each in (inside, written):
        assert {**each, "made_at": None} == {**body, "made_at": None}

    danger = [one for one in body["craft"] if one["steps"]]
    assert danger
    assert sum(body["counts"].values()) == len(body["craft"])
    assert sum(one["minutes"] for one in danger) == body["work"]["minutes"]
    assert sorted(one["due_night"] for one in danger) == [one["due_night"] for one in danger]
    flat = " ".join(text.split())
    days = -(-body["work"]["minutes"] // 240)  # of 4 h
    assert days > 3
    for said in (flat, pages):
        assert f"{days:.0f} days of work for one person, 4 h a day" in said
        for outcome, count in body["counts"].items():
            assert count == sum(one["outcome"] == outcome for one in body["craft"])
        for one in danger:
            night = datetime.fromisoformat(one["due_night"])
            assert f"{night.day} {night:%b} {one['name']}" in said
            assert minutes_words(one["minutes"]) in said
        for one in body["work"]["products"]:
            assert f"{one['containers']} container" in said
        assert "It is one winter and no forecast" in said
        assert "Batteries, damp and snow are not in this test" in said
    without_quantities = [one for one in body["assumptions"] if "°" not in one]
    assert without_quantities
    assert all(one in text for one in without_quantities)


def test_a_heater_that_fails_endangers_no_fewer_and_a_colder_winter_neither(yard, capsys):
    def in_danger(*more):
        body = json.loads(asked(yard, capsys, "--json", *more))
        return {one["craft"] for one in body["craft"] if one["steps"]}, body

    whole, _ = in_danger()
    off, told = in_danger("--heater-off", "Stove Barn=2027-01-10")
    assert whole <= off
    barn = next(one for one in told["spaces"] if one["space"] == "stove-barn")
    assert barn["heat_off_from"] == "2027-01-10T18:00+00:00"
    assert "as asked" in barn["says"]
    colder, told = in_danger("--colder-by", "9F")
    assert whole <= colder
    assert told["weather"]["colder_by_k"] == pytest.approx(5.0)


def test_the_yard_s_own_worst_winter_is_stood_and_its_gaps_are_told(yard, capsys):
    body = json.loads(asked(yard, capsys, "--json", weather=("--own-winter",)))
    assert "own winter" in body["weather"]["source"]
    assert body["weather"]["low_c"] == pytest.approx(-21.0, abs=0.1)


# Killed by itself, as nothing else meets the very moment: half through the file, or the winter.
_KILLED = """
import os, signal, sys
from pathlib import Path
from monitor.cli import main
from monitor.commands import prove

def kill():
    os.kill(os.getpid(), signal.SIGKILL)

def write_half(path, content):
    with open(path, "wb") as file:
        file.write(content[: len(content) // 2])
        file.flush()
        kill()

if sys.argv[1] == "file":
    Path.write_bytes = write_half
else:
    prove.prove_winter = lambda *_, **__: kill()
main(sys.argv[2:])
"""


@pytest.mark.parametrize("moment", ["file", "winter"])
@pytest.mark.parametrize("earlier", [None, b"the one of last year"])
def test_a_test_that_is_killed_leaves_no_half_file_and_runs_again(
    yard, capsys, tmp_path, moment, earlier
):
    out, before = tmp_path / "test.json", tables_of(yard[1])
    if earlier is not None:
        out.write_bytes(earlier)
    flags = ("prove", "--config", str(yard[0].parent), "--own-winter", "--out", str(out))
    killed = subprocess.run(
        [sys.executable, "-c", _KILLED, moment, *flags], capture_output=True, check=False
    )
    assert killed.returncode == -signal.SIGKILL
    assert (out.read_bytes() if out.exists() else None) == earlier
    assert [one.name for one in tmp_path.iterdir() if not one.name.startswith(".")] == (
        [] if earlier is None else [out.name]
    )
    asked(yard, capsys, "--out", str(out), weather=("--own-winter",))
    assert "own winter" in json.loads(out.read_text(encoding="utf-8"))["weather"]["source"]
    assert [one.name for one in tmp_path.iterdir()] == [out.name], "the half of before is gone"
    assert tables_of(yard[1]) == before


@pytest.mark.parametrize(
    ("ends", "nights"),
    [
        (datetime(2027, 3, 13, 12, tzinfo=CHICAGO), 3),
        (datetime(2027, 3, 15, 13, tzinfo=CHICAGO), 3),  # noon by standard time, a summer's one
        (datetime(2027, 3, 15, 18, tzinfo=CHICAGO), 4),  # a night that has begun
    ],
)
def test_the_noon_at_which_a_winter_ends_is_no_night_of_its_own(ends, nights):
    # Nights run from noon to noon by the yard's clock (docs/hard-winter.md).
    begins = datetime(ends.year, 3, ends.day - 3, 12, tzinfo=CHICAGO)
    hours = round((ends.timestamp() - begins.timestamp()) / 3600)
    air_c = np.full(hours + 1, -3.0)
    air_c[-1] = 9.0  # of the last noon
    weather = WinterWeather(
        source="made up",
        begin=begins.astimezone(UTC),
        step_h=1.0,
        air_c=air_c,
        dew_point_c=np.full(hours + 1, np.nan),
    )
    lows_c, unread = lows_of_nights(weather, winter.yard())
    assert lows_c == {begins.date() + timedelta(days=n): -3.0 for n in range(nights)}
    assert unread == set()


@pytest.mark.parametrize(
    ("hour", "minutes", "due_hour", "in_time", "days"),
    [
        (12, 240.0, 18, True, 0),  # a whole day's work is through by four in the afternoon
        (17, 90.0, 18, False, 0),  # through at half past six, and its ice begins at six
        (17, 90.0, 20, True, 0),
        (22, 240.0, 30, False, 1),  # of this day two hours are left
    ],
)
def test_the_first_day_of_work_is_no_longer_than_what_is_left_of_it(
    hour, minutes, due_hour, in_time, days
):
    zone = timezone(timedelta(hours=-6))
    begin = datetime(2026, 11, 30, hour, tzinfo=zone)
    due = datetime(2026, 11, 30, tzinfo=zone) + timedelta(hours=due_hour)
    craft = SimpleNamespace(outcome=WinterOutcome.LOST, minutes=minutes, due_at=due)
    winter = SimpleNamespace(
        yard=SimpleNamespace(duty=SimpleNamespace(hands=1), zone=zone),
        weather=SimpleNamespace(begin=begin), made_at=begin, craft=(craft,),
    )  # fmt: skip
    late, done_on = late_craft(winter)
    assert (not late) == in_time
    assert done_on == begin.date() + timedelta(days=days)


@pytest.mark.parametrize(
    ("flags", "said"),
    [
        ((), "--weather FILE"),
        (("--weather", "nowhere.epw"), "cannot be read"),
        (("--own-winter", "--colder-by", "40K"), "0K to 25K"),
        (("--own-winter", "--heater-off", "lee-rack"), "no heated space"),
        (("--own-winter", "--heater-off", "stove-barn=2090-01-10"), "give an earlier day"),
        (("--own-winter", "--out", "report.txt"), ".pdf"),
    ],
)
def test_what_cannot_be_used_is_told_with_its_remedy(yard, capsys, flags, said):
    config, _ = yard
    assert laidup("prove", "--config", str(config.parent), *flags) == 2
    assert said in capsys.readouterr().err
