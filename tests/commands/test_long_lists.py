"""Long lists: taken in at a cost that grows with their rows, up to a length that is stated."""

import sys
from pathlib import Path

import pytest
from sqlalchemy import event
from sqlalchemy.engine import Engine

from monitor.commands import progress
from monitor.craft import work_order
from monitor.settings import craft_list, work_rows
from tests.commands.yard_files import copied_yard, laidup

CRAFT = "id,name,profile,arrived,place\n"
WORK = "craft,when,who,act,circuits,product,liquid,strength,quantity,outflow\n"


def craft_rows(count):
    rows = (f"b{n},Boat {n},pwc-two-stroke,2026-10-20,long-shed\n" for n in range(count))
    return CRAFT + "".join(rows)


def work_rows_of(crafts, each):
    rows = (
        f"b{craft},{1 + n // 24} Nov 2026 {n % 24}:00,Ines,antifreeze-poured,water-box,pink,"
        "propylene,50%,1.5L,seen\n"
        for n in range(each)
        for craft in range(crafts)
    )
    return WORK + "".join(rows)


@pytest.fixture
def take(tmp_path, capsys):
    """Takes in a list of craft or of work, and returns status and all that was said."""
    config = copied_yard(tmp_path)

    def take_in(what, text, *arguments):
        file = tmp_path / f"{what}.csv"
        file.write_text(text)
        status = laidup("import", what, str(file), *arguments, "--config", str(config))
        told = capsys.readouterr()
        return status, " ".join((told.out + told.err).split())

    return take_in


@pytest.fixture
def statements():
    """Every statement that goes to a database meanwhile."""
    seen = []

    def note(_connection, _cursor, statement, *_rest):
        seen.append(statement)

    event.listen(Engine, "before_cursor_execute", note)
    yield seen
    event.remove(Engine, "before_cursor_execute", note)


def test_a_list_on_more_craft_asks_the_store_no_more_often(take, statements):
    take("craft", craft_rows(40))
    take("work", work_rows_of(5, 1), "--try")  # the first command takes in the yard's own files
    asked = []
    for crafts in (5, 40):
        statements.clear()
        assert take("work", work_rows_of(crafts, 1), "--try")[0] == 0
        asked.append(len(statements))
    assert asked[0] == asked[1]


def test_more_rows_of_one_craft_put_no_more_work_in_order_for_each_row(take, monkeypatch):
    take("craft", craft_rows(1))
    ordered = []
    whole = work_order.place_work

    def counted(entries, *rest):
        ordered.append(len(entries))
        return whole(entries, *rest)

    monkeypatch.setattr(work_order, "place_work", counted)
    costs = []
    for each in (40, 160):
        ordered.clear()
        assert take("work", work_rows_of(1, each), "--try")[0] == 0
        costs.append(sum(ordered))
    assert costs[1] < 5 * costs[0]  # four times the rows; it was sixteen times


@pytest.mark.parametrize("extra", [0, 1])
def test_a_list_that_is_too_long_is_refused_with_the_line_to_cut_it_at(take, monkeypatch, extra):
    monkeypatch.setattr(craft_list, "MOST_CRAFT", 30)
    monkeypatch.setattr(work_rows, "MOST_STEPS", 20)
    status, told = take("craft", craft_rows(30 + extra))
    assert status == (2 if extra else 0)
    if extra:
        assert "craft.csv: line 32: it holds more than 30 craft" in told
        assert "the second beginning with line 32" in told
        take("craft", craft_rows(30))
    status, told = take("work", work_rows_of(20 + extra, 1))
    assert status == (2 if extra else 0)
    if extra:
        assert "work.csv: line 22: it holds more than 20 steps" in told
        assert "Cut it in two" in told


def test_the_limits_are_those_that_the_documents_state():
    page = (Path(__file__).parents[2] / "docs" / "record.md").read_text()
    assert f"{craft_list.MOST_CRAFT:,} craft" in page
    assert f"{work_rows.MOST_STEPS:,} steps" in page


def test_a_yards_whole_autumn_is_told_in_a_line_a_craft(take):
    take("craft", craft_rows(60))
    _, told = take("work", work_rows_of(60, 2))
    assert told.count("2 steps, 2 new") == 60
    assert "water-box:" not in told
    assert "`laidup layup list`" in told
    assert told.endswith("120 steps on 60 craft, 120 new.")


def test_how_far_it_is_stands_on_a_terminal_and_nowhere_else(take, monkeypatch):
    assert "rows read" not in take("work", work_rows_of(0, 0) + "k1,,Ines,cover-off,,,,,,\n")[1]
    monkeypatch.setattr(sys.stderr.__class__, "isatty", lambda _: True, raising=False)
    monkeypatch.setattr(progress, "_EACH", 1)
    rows = "k1,13 Nov 2026 10:00,Ines,cover-off,,,,,,\nk1,,,cover-torn,,,,,,\n"
    assert "2 rows read" in take("work", WORK + rows)[1]
