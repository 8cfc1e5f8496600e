"""A winter of which every figure is known, its season record, and what silence makes of it."""

import csv
import gzip
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path

import pandas as pd
import pytest

from monitor.craft.layup import Act
from monitor.reports.season.figures import NightVerdict, WorkStatus
from monitor.reports.season.read_season import read_season_figures
from monitor.store.store import Store
from tests.craft.scene import STRONG, library, work
from tests.reports.season import winter
from tests.reports.season.winter import (
    ARRIVED,
    BARN,
    NOW,
    SHED,
    ZONE,
    cold_nights,
    figures_of,
    near,
    put_craft,
    put_readings,
)

COLD = [date(2026, 11, 14), date(2026, 11, 15), date(2026, 12, 31)]
WEATHER = Path(__file__).parents[2] / "outside" / "data" / "denver_tmy3.csv.gz"


@pytest.fixture
def store(tmp_path: Path):
    made = winter.open_store(tmp_path)
    yield made
    made.close()


def hours_between(since: datetime, until: datetime) -> float:
    return (until.timestamp() - since.timestamp()) / 3600


def proof_of_all(at: datetime):
    """Every circuit of the craft drained and seen dry, or filled with a mix that read -30 °C."""
    circuits = ("cylinder-passages", "exhaust-jacket", "water-box", "hoses")
    return work(
        Act.ANTIFREEZE_RUN_THROUGH,
        0.0,
        *circuits,
        at=at,
        product=STRONG,
        quantity_l=8.0,
        outflow="full colour",
        ice_point_c=-30.0,
        engine_hot=True,
        by="ines",
        zeroed_on=at.date(),
    )


def test_hours_and_extremes_are_those_of_the_air_that_was_made(store: Store):
    put_craft(store)
    put_readings(store, ARRIVED, NOW, cold_nights(COLD), rh_pct=lambda _: 90.0)
    [air] = figures_of(store).air
    # 19:53:45 to 03:56:15: by the middles of minutes 482 of them, three nights.
    assert near(air.below_h[0.0], 3 * 482 / 60)
    # Seven whole hours, and that from 03:00 whose mean is -4.3 °C.
    assert near(air.below_h[-4.0], 3 * 8.0)
    assert near(air.below_h[-12.0], 0.0)
    assert near(air.low_c, -5.0)
    assert near(air.high_c, 3.0)
    assert air.low_at == datetime(2026, 11, 14, 20, tzinfo=ZONE)
    assert near(air.wet_h + air.below_h[0.0], air.heard_h, within=0.2)
    assert near(sum(air.hours_by_bin.values()), air.heard_h)
    assert near(air.heard_h, hours_between(ARRIVED, NOW), within=0.5)


def test_each_night_says_what_came_and_what_the_craft_held(store: Store):
    noon = datetime(2026, 11, 15, 12, tzinfo=ZONE)
    oil = work(Act.OIL_CHANGED, 0.0, "pump-housing", at=noon, oil="clear", by="ines")
    put_craft(store, proof_of_all(noon), oil)
    put_readings(store, ARRIVED, NOW, cold_nights(COLD))
    nights = {one.evening: one for one in figures_of(store).nights}
    before, after = nights[date(2026, 11, 14)], nights[date(2026, 11, 15)]
    assert near(before.low_c, -5.0)
    assert before.ice_point_c == 0.0
    assert before.verdict is NightVerdict.PASSED
    # Hoses lag by half an hour: after eight hours they are as cold as the air.
    assert near(before.inside_low_c, -5.0, within=0.01)
    assert after.verdict is NightVerdict.HELD
    assert near(after.ice_point_c, -30.0)
    assert nights[date(2026, 12, 31)].verdict is NightVerdict.HELD  # over the year's end
    assert max(nights) == date(2027, 1, 9)


def test_without_any_reading_nothing_is_fine(store: Store):
    put_craft(store)
    figures = figures_of(store)
    [air] = figures.air
    assert (air.low_c, air.high_c, air.heard_h) == (None, None, 0.0)
    assert near(air.stood_h, hours_between(ARRIVED, NOW))
    assert {one.verdict for one in figures.nights} == {NightVerdict.NOT_KNOWN}
    [gap] = figures.gaps
    assert (gap.since, gap.until) == (ARRIVED, NOW)


def test_one_reading_tells_its_hour_and_no_more(store: Store):
    put_craft(store)
    at = datetime(2026, 12, 1, 5, tzinfo=ZONE)
    put_readings(store, at, at + timedelta(minutes=1), lambda _: -7.0)
    figures = figures_of(store)
    [air] = figures.air
    assert near(air.low_c, -7.0)
    assert air.heard_h == 0.0
    night = next(one for one in figures.nights if one.evening == date(2026, 11, 30))
    assert night.verdict is NightVerdict.PASSED  # what was heard of it is enough for that
    assert {one.verdict for one in figures.nights if one is not night} == {NightVerdict.NOT_KNOWN}


def test_a_silent_week_is_a_gap_and_its_nights_are_not_known(store: Store):
    put_craft(store, proof_of_all(ARRIVED + timedelta(hours=2)))
    silent = datetime(2026, 12, 1, 0, tzinfo=ZONE), datetime(2026, 12, 8, 0, tzinfo=ZONE)
    put_readings(store, ARRIVED, silent[0], cold_nights(COLD))
    put_readings(store, silent[1], NOW, cold_nights(COLD))
    figures = figures_of(store)
    [gap] = figures.gaps
    assert (gap.since, gap.until) == silent
    unknown = {one.evening for one in figures.nights if one.verdict is NightVerdict.NOT_KNOWN}
    # That of the 30th ends at noon of the 1st, and was heard for half of it.
    assert unknown == {date(2026, 11, 30) + timedelta(days=n) for n in range(8)}
    assert near(figures.stood_h - figures.heard_h, 7 * 24, within=0.5)


@pytest.mark.parametrize(
    ("evening", "hours"), [(date(2026, 10, 31), 25), (date(2027, 3, 13), 23), (COLD[0], 24)]
)
def test_the_nights_of_the_clock_change_have_their_own_length(store: Store, evening, hours):
    put_craft(store)
    noon = datetime(evening.year, evening.month, evening.day, 12, tzinfo=ZONE)
    after = noon + timedelta(days=1)
    put_readings(store, noon, after, lambda _: 5.0)
    figures = figures_of(store, now=datetime(2027, 4, 1, tzinfo=ZONE))
    night = next(one for one in figures.nights if one.evening == evening)
    assert near(night.heard * hours, hours, within=0.5)


def test_a_moved_craft_is_told_by_the_air_where_it_stood(store: Store):
    moved = datetime(2026, 11, 15, 12, tzinfo=ZONE)
    put_craft(store, stays=((SHED, ARRIVED), (BARN, moved)))
    put_readings(store, ARRIVED, NOW, cold_nights(COLD))
    put_readings(store, ARRIVED, NOW, lambda _: 8.0, space=BARN)
    shed, barn = figures_of(store).air
    assert near(shed.below_h[0.0], 482 / 60)  # of the one cold night before
    assert near(barn.below_h[0.0], 0.0)
    assert near(shed.stood_h, hours_between(ARRIVED, moved))
    nights = {one.evening: one for one in figures_of(store).nights}
    assert nights[COLD[0]].space == SHED
    assert nights[COLD[1]].space == BARN
    assert near(nights[COLD[1]].low_c, 8.0)


def test_both_versions_of_corrected_work_are_told_and_withdrawn_work_too(store: Store):
    at = datetime(2026, 11, 2, 10, tzinfo=ZONE)
    first = work(Act.ANTIFREEZE_POURED, 0.0, "water-box", at=at, quantity_l=0.3, by="ines")
    better = work(
        Act.ANTIFREEZE_POURED, 0.0, "water-box", at=at, quantity_l=0.4, by="ines",
        replaces=first.id,
    )  # fmt: skip
    mistaken = work(Act.SPRAYED_DOWN, 2.0, at=at, by="ines")
    gone = work(Act.WITHDRAWN, 3.0, at=at, by="ines", replaces=mistaken.id)
    put_craft(store, first, better, mistaken, gone)
    told = {one.versions[0].entry.id: one for one in figures_of(store).work}
    poured = told[first.id]
    assert poured.status is WorkStatus.CORRECTED
    assert [one.entry.quantity_l for one in poured.versions] == [0.3, 0.4]
    assert told[mistaken.id].status is WorkStatus.WITHDRAWN
    assert len(told) == 2


def test_work_that_the_owner_declined_stands_apart(store: Store):
    said = work(Act.DECLINED, 0.0, note="gearcase seals, 180", by="ines")
    put_craft(store, said)
    figures = figures_of(store)
    assert figures.work == ()
    assert [one.last.note for one in figures.declined] == ["gearcase seals, 180"]


def test_a_craft_of_which_nothing_is_on_record_is_plain_water(store: Store):
    put_craft(store)
    put_readings(store, ARRIVED, NOW, lambda _: 1.5)
    nights = figures_of(store).nights
    assert {one.ice_point_c for one in nights} == {0.0}
    assert {str(one.state) for one in nights} == {"unknown"}
    assert {one.verdict for one in nights} == {NightVerdict.NEAR}


def test_a_craft_that_was_not_there_has_no_record(store: Store):
    put_craft(store)
    with store.snapshot() as tx:
        found = winter.read_season_figures(
            tx, winter.yard(), winter.library(), ["k1", "k9"], 2024, NOW, program="test"
        )
        assert list(found) == []


def test_records_of_many_are_those_of_each_alone(store: Store):
    for number in range(3):
        put_craft(store, craft=f"k{number}", name=f"Craft {number}")
    put_readings(store, ARRIVED, NOW, cold_nights(COLD))
    with store.snapshot() as tx:
        several = list(
            winter.read_season_figures(
                tx, winter.yard(), winter.library(), ["k0", "k1", "k2"], 2026, NOW, program="test"
            )
        )
    assert several == [figures_of(store, f"k{number}") for number in range(3)]


def test_an_open_weather_week_comes_to_what_pandas_makes_of_it(store: Store):
    # Denver, TMY3, the week of the set's worst front (tests/outside); the sums by pandas alone.
    with gzip.open(WEATHER, "rt", newline="") as file:
        rows = list(csv.DictReader(file))
    hours = [row for row in rows if row["month"] == "2" and 20 <= int(row["day"]) <= 27]
    begins = pd.Timestamp("2027-02-20T00:00", tz=ZONE)
    air = pd.Series(
        [float(row["t_c"]) for row in hours],
        index=pd.date_range(begins, periods=len(hours), freq="h"),
    )
    damp = pd.Series([float(row["rh_pct"]) for row in hours], index=air.index)
    came = begins.to_pydatetime()
    put_craft(store, stays=((SHED, came),), arrived=came)
    put_readings(
        store,
        came,
        came + timedelta(hours=len(hours)),
        lambda at: float(air[pd.Timestamp(at)]),
        rh_pct=lambda at: float(damp[pd.Timestamp(at)]),
        step=timedelta(hours=1),
    )
    minutes = pd.date_range(begins, air.index[-1], freq="min", inclusive="left") + pd.Timedelta(
        "30s"
    )

    def by_minute(values: pd.Series) -> pd.Series:
        return values.reindex(values.index.union(minutes)).interpolate("time")[minutes]

    cold, wet = by_minute(air), by_minute(damp)
    means = cold.resample("h").mean()
    [told] = figures_of(store, now=air.index[-1].to_pydatetime()).air
    # Half a step of what the store keeps (0.01 °C, 0.01 %) moves a crossing by under a minute.
    assert near(told.below_h[0.0], (cold < 0).sum() / 60, within=0.2)
    assert near(told.wet_h, ((wet > 80) & (cold > 0)).sum() / 60, within=0.2)
    assert near(told.below_h[-4.0], float((means < -4).sum()), within=1e-6)
    assert near(told.below_h[-12.0], float((means < -12).sum()), within=1e-6)
    assert near(told.low_c, float(air.iloc[:-1].min()), within=0.01)
    assert near(told.high_c, float(air.iloc[:-1].max()), within=0.01)
    for share, value in told.quantiles_c.items():
        assert near(value, float(means.quantile(share)), within=0.01)


def test_a_record_made_among_those_of_others_is_the_one_made_alone(store: Store):
    # Nights that are alike are one object for all craft; what differs must not be shared.
    later = ARRIVED + timedelta(days=9, hours=5)
    moved = ARRIVED + timedelta(days=30, hours=3)
    treated = proof_of_all(ARRIVED + timedelta(days=20))
    for space, cold_c in ((SHED, -5.0), (BARN, -2.5)):
        put_readings(store, ARRIVED, NOW, cold_nights(COLD, cold_c), space=space)
    craft = {
        "plain": {},
        "alike": {},
        "treated": {"entries": [treated]},
        "late": {"arrived": later, "stays": ((SHED, later),)},
        "warm": {"stays": ((BARN, ARRIVED),)},
        "moved": {"stays": ((SHED, ARRIVED), (BARN, moved))},
        "other type": {"profile": "tow-boat"},
    }
    for key, said in craft.items():
        entries = [replace(one, craft=key) for one in said.pop("entries", ())]
        put_craft(store, *entries, craft=key, name=key, **said)
    with store.snapshot() as tx:
        told = list(
            read_season_figures(
                tx, winter.yard(), library(), list(craft), winter.YEAR, NOW, program="test"
            )
        )
    assert [one.craft.id for one in told] == list(craft)
    for one in told:
        assert one == figures_of(store, one.craft.id)
    nights = {one.craft.id: one.nights for one in told}
    assert all(a is b for a, b in zip(nights["plain"], nights["alike"], strict=True))
    for key in set(craft) - {"plain", "alike"}:
        assert nights[key] != nights["plain"]
