"""A yard that had a store begins no empty one in its place unless it is told to."""

from datetime import UTC, datetime

import pytest

from monitor.errors import StoreError
from monitor.store.mark import StoreMark
from monitor.store.migrate import migrate
from monitor.store.store import Store

NOW = datetime(2026, 11, 14, 16, 0, tzinfo=UTC)


@pytest.fixture
def mark(tmp_path):
    return StoreMark(tmp_path / "yard.toml")


@pytest.fixture
def url(tmp_path):
    return f"sqlite:///{tmp_path}/laidup.db"


def begin(url):
    migrate(url)
    Store(url, "mill").close()


def test_the_first_start_is_let_through_and_leaves_a_mark_that_explains_itself(mark, url):
    mark.refuse_another(url, "mill")
    mark.set(url, "mill", NOW)
    said = mark.path.read_text(encoding="utf-8")
    assert "mill" in said
    assert "laidup.db since 2026-11-14" in said
    assert "laidup run --new-store" in said


def test_the_store_that_was_there_is_let_through(mark, url):
    begin(url)
    mark.set(url, "mill", NOW)
    mark.refuse_another(url, "mill")


@pytest.mark.parametrize("left", ["nothing", "an empty file", "tables of nobody"])
def test_an_empty_store_in_its_place_is_refused_with_both_ways_out(mark, url, tmp_path, left):
    mark.set(url, "mill", NOW)
    if left == "an empty file":
        (tmp_path / "laidup.db").touch()
    if left == "tables of nobody":
        migrate(url)
    with pytest.raises(StoreError, match=r"Put the store's disk.*laidup run --new-store"):
        mark.refuse_another(url, "mill")


def test_a_yard_whose_id_was_mistyped_is_refused(mark, url):
    begin(url)
    mark.set(url, "mill", NOW)
    with pytest.raises(StoreError, match="nothing of mlil"):
        mark.refuse_another(url, "mlil")


def test_a_lifted_mark_lets_a_new_store_begin(mark, url):
    mark.set(url, "mill", NOW)
    mark.lift()
    mark.refuse_another(url, "mill")


def test_a_database_that_was_emptied_is_refused_too(mark, postgres):
    begin(postgres)
    mark.set(postgres, "mill", NOW)
    mark.refuse_another(postgres, "mill")
    with pytest.raises(StoreError, match="--new-store"):
        mark.refuse_another(postgres, "heron")


def test_a_folder_that_takes_no_mark_is_told_in_the_log_and_stops_nothing(tmp_path, url, caplog):
    mark = StoreMark(tmp_path / "gone" / "yard.toml")
    mark.set(url, "mill", NOW)
    assert "cannot be written" in caplog.text
