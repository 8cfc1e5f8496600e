import csv

import pytest
from bs4 import BeautifulSoup

from monitor.store.store import Store
from tests.commands.yard_files import copied_yard, fill, laidup

PNG = b"\x89PNG\r\n\x1a\n"  # W3C PNG specification, section 5.2


@pytest.fixture(scope="module")
def yard(tmp_path_factory):
    config = copied_yard(tmp_path_factory.mktemp("yard"))
    return config, fill(config, days=9)


def report(yard, *more):
    return laidup("report", "--config", str(yard[0]), *more)


def test_without_more_the_operators_letter_is_printed(yard, capsys):
    assert report(yard, "--week", "this") == 0
    said = capsys.readouterr().out
    assert "THIS WEEK FIRST" in said
    assert "not a life-safety device" in said


def test_plain_text_is_printed_without_drawing_anything(yard, capsys, monkeypatch):
    monkeypatch.setattr("monitor.reports.drawing.subprocess", None)
    assert report(yard, "--week", "this") == 0
    assert "THIS WEEK FIRST" in capsys.readouterr().out


def test_letters_are_written_to_a_folder_each_with_its_plot(yard, tmp_path, capsys):
    folder = tmp_path / "letters"
    operator = yard[1].yard.people[0].id
    assert report(yard, "--week", "this", "--person", operator, "--out", str(folder)) == 0
    (html,) = folder.glob("*.html")
    page = BeautifulSoup(html.read_text(encoding="utf-8"), "html.parser")
    shown = (page.select_one(f"img.{one}")["src"] for one in ("by-day", "by-night"))
    light, by_night = ((folder / name).read_bytes() for name in shown)
    assert light.startswith(PNG)
    assert by_night.startswith(PNG)
    assert light != by_night
    (figures,) = folder.glob("*.csv")
    [first, *_] = csv.DictReader(figures.open(encoding="utf-8"))
    assert float(first["low_c"]) <= float(first["high_c"])
    assert first["from"].endswith("Z")
    assert (folder / f"{html.stem}.txt").read_text(encoding="utf-8").startswith("Week ")
    assert str(html) in capsys.readouterr().out


def test_sending_twice_sends_once(yard, capsys):
    operator = yard[1].yard.people[0].id
    for said in ("1 of 1 letters", "0 of 1 letters"):
        assert report(yard, "--person", operator, "--send") == 0
        assert said in capsys.readouterr().out
    store = Store(yard[1].store_url, yard[1].yard.id)
    with store.snapshot() as tx:
        keys = [message.key for message, _ in tx.outbox.newest_messages()]
    store.close()
    assert len(keys) == len(set(keys)) == 1
    assert keys[0].endswith(f"/{operator}")


@pytest.mark.parametrize(
    ("week", "says"),
    [
        ("46", "2026-W46"),
        ("2026-W54", "has no week 54"),
        ("2998-W01", "not begun"),
    ],
)
def test_a_week_that_is_none_ends_with_2_and_says_why(yard, capsys, week, says):
    assert report(yard, "--week", week) == 2
    assert says in capsys.readouterr().err


def test_a_person_who_gets_no_letter_is_told_apart_from_those_who_do(yard, capsys):
    assert report(yard, "--person", "nobody") == 2
    assert yard[1].yard.people[0].id in capsys.readouterr().err


def test_a_file_where_the_letters_should_lie_is_named_with_its_remedy(yard, tmp_path, capsys):
    file = tmp_path / "letters"
    file.write_text("taken")
    assert laidup("report", "--config", str(yard[0]), "--out", str(file)) == 2
    said = capsys.readouterr().err
    assert str(file) in said
    assert "give a folder" in said
