"""The season record for machines: what it holds of the figures, and what it never holds."""

import json
from datetime import datetime, timedelta

import pytest
import rfc8785

from monitor.craft.canonical import canonical_bytes
from monitor.craft.layup import Act
from monitor.reports.season.making import record_name
from monitor.reports.season.season_json import season_json
from tests.craft.scene import work
from tests.reports.season import winter
from tests.reports.season.winter import ARRIVED, ZONE, figures_of, put_craft, put_readings

SHORT = ARRIVED + timedelta(days=10)


@pytest.fixture
def store(tmp_path):
    made = winter.open_store(tmp_path)
    yield made
    made.close()


def body_of(store, craft="k1"):
    return season_json(figures_of(store, craft, now=SHORT), winter.yard())


def test_every_value_is_what_rfc_8785_takes_and_is_read_back_the_same(store):
    put_craft(store, work(Act.DRAINED, 0.0, "water-box", at=ARRIVED, dry=True, by="ines"))
    put_readings(store, ARRIVED, SHORT, lambda _: -3.0)
    body = body_of(store)
    assert canonical_bytes(body) == rfc8785.dumps(body)
    assert json.loads(canonical_bytes(body)) == body


def test_nothing_of_another_craft_or_its_owner_is_in_it(store):
    put_craft(store)
    put_craft(store, craft="k2", name="Zanzibar", owner="ines")
    assert "Zanzibar" not in json.dumps(body_of(store))
    assert "k2" not in json.dumps(body_of(store))


def test_hours_and_nights_add_up_to_the_time_in_the_yard(store):
    put_craft(store)
    put_readings(store, ARRIVED, SHORT, lambda _: -3.0)
    body = body_of(store)
    [air] = body["air"]
    assert air["stood_h"] == body["watch"]["stood_h"] == 240.0
    assert air["below_0c_h"] == pytest.approx(air["heard_h"])
    assert air["heard_h_by_2k_from_c"] == {"-4": air["heard_h"]}
    assert [one["evening"] for one in body["nights"]] == [f"2026-10-{day}" for day in range(20, 29)]


@pytest.mark.parametrize("craft", ["k1", "../../etc", "ק", "🚤", "a b"])
def test_a_files_name_is_made_of_letters_that_every_disk_takes(craft):
    name = record_name({"season": {"year": 2026}, "craft": {"id": craft}}, "pdf")
    assert name.isascii()
    assert not set(name) & set("/\\ :")
    assert name.endswith(".pdf")


def test_an_entry_stands_as_the_chain_holds_it_with_its_photos(store):
    entry = work(
        Act.DRAINED, 0.0, "water-box", at=datetime(2026, 10, 21, 9, tzinfo=ZONE), dry=True,
        photos=("drain.jpg",), by="ines",
    )  # fmt: skip
    put_craft(store, entry)
    [told] = body_of(store)["work"]
    assert told["versions"][0]["entry"]["evidence"]["photos"] == ["drain.jpg"]
    assert body_of(store)["people"] == {"ines": "Ines Marrow", "wren": "Wren Halloway"}
