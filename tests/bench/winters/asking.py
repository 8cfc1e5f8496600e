"""The product asked evening by evening: readings into a store, and its judgement as it is told.

Readings enter by the store's append that intake uses, a judgement is made by `judge_yard` from what
the store holds up to the hour, as ``laidup assess --at`` does; only the memory of the weeks before
is kept from one evening to the next instead of being read anew.
"""

import math
import os
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np

from monitor.clock import to_ms
from monitor.craft.circuit import Circuit, Drainage
from monitor.craft.protection import LayupState, plain_water
from monitor.craft.stored import StoredCraft
from monitor.judgement.air.grid import series_needed
from monitor.judgement.air.past_weeks import Memory
from monitor.judgement.judge import judge_yard
from monitor.judgement.round import load_forecasts, load_past_weeks
from monitor.phrases.figures import figures_of
from monitor.reports.picture import Picture, compose_picture
from monitor.store.migrate import migrate
from monitor.store.store import Store
from monitor.yard.assessment import Assessment, Standing
from monitor.yard.forecast import PublicForecast
from monitor.yard.losses import Losses
from monitor.yard.reading import Channel, Flag
from monitor.yard.space import Sensor, Space, SpaceKind, Yard
from tests.bench.winters.costs import LOSSES
from tests.bench.winters.places import Weather
from tests.bench.winters.truth import LAGS_H, Truth

MATERIALS = {"block": "aluminium", "fitting": "plastic"}
SPACES = {"row": SpaceKind.OPEN, "shed": SpaceKind.COLD}
ASKED_AT_H = (16, 17)  # local standard time
FORECASTS = ("none", "usual", "no fronts")
_EVERY_H, _AHEAD_H, _FETCHED_AFTER = 6, 48, timedelta(minutes=40)
_BIAS_K, _FIRST_K, _PER_DAY_K = 0.6, 0.9, 0.7  # spreads of an agency's errors (estimates)
_LEARNS_DAYS = 3  # a judgement's readings reach so far back: what it learns has no hole
_FRONT_K = 6.0  # colder than a day before by this: such an hour is missed


@dataclass(frozen=True, kw_only=True)
class SaidOfAir:
    """The coming low of one space: expected, and the ends of its middle four fifths [°C]."""

    now_c: float
    expected_c: float
    cold_c: float
    warm_c: float


@dataclass(frozen=True, kw_only=True)
class SaidOfPart:
    """What was said of one circuit."""

    standing: str
    chance: float  # of ice until noon
    low_c: float
    chance_third: float = math.nan  # of a third of it ice


@dataclass(frozen=True, kw_only=True)
class Asked:
    """All that the product said at one hour; ``day`` counts from the winter's begin."""

    day: int
    hour: int
    air: dict[str, SaidOfAir]
    parts: dict[tuple[str, str], SaidOfPart]


def yard_of(weather: Weather) -> Yard:
    labels = {"temperature": Channel.TEMPERATURE, "humidity": Channel.HUMIDITY}
    return Yard(
        id="winters",
        name="Winters",
        zone=weather.zone,
        latitude=weather.latitude,
        longitude=weather.longitude,
        temperature_unit="C",
        volume_unit="L",
        spaces=tuple(Space(id=one, name=one, kind=kind) for one, kind in SPACES.items()),
        sensors=tuple(
            Sensor(name=f"air-{one}", space=one, labels=labels, interval_s=3600.0) for one in SPACES
        ),
        people=(),
        losses=Losses(metal=LOSSES["block"].damage, fittings=LOSSES["fitting"].damage),
    )


def craft_at(at: datetime) -> list[StoredCraft]:
    """A craft in each space, untreated, and looked into today: what was before is forgiven."""
    return [
        StoredCraft(
            id=f"craft-{space}",
            name=f"Craft {space}",
            profile="two-stroke",
            owner="",
            space=space,
            berth="",
            circuits=tuple(
                Circuit(
                    id=part,
                    name=part,
                    volume_l=0.3,
                    lag_low_h=low,
                    lag_high_h=high,
                    heat_capacity_kj_k=20.0,
                    material=MATERIALS[part],
                    drainage=Drainage.PARTLY,
                )
                for part, (low, high) in LAGS_H.items()
            ),
            protection={
                part: replace(
                    plain_water(part, LayupState.UNKNOWN, "nothing on record"), inspected_at=at
                )
                for part in LAGS_H
            },
        )
        for space in SPACES
    ]


def ask(weather: Weather, truth: Truth, forecast: str, days: Sequence[int]) -> list[Asked]:
    """Fill a store with a winter and ask on these days."""
    with filled_store(weather, truth, forecast) as store:
        return list(_asked(store, weather, days))


@contextmanager
def filled_store(weather: Weather, truth: Truth, forecast: str) -> Iterator[Store]:
    """A store in memory, where there is such a disk, with a winter's readings and forecasts."""
    shared = Path("/dev/shm")
    with tempfile.TemporaryDirectory(dir=shared if os.access(shared, os.W_OK) else None) as folder:
        url = f"sqlite:///{folder}/winter.db"
        migrate(url)
        store = Store(url, "winters")
        try:
            _fill(store, weather, truth)
            if forecast != "none":
                _keep_forecasts(store, weather, truth, misses_fronts=forecast == "no fronts")
            yield store
        finally:
            store.close()


def _asked(store: Store, weather: Weather, days: Sequence[int]) -> Iterator[Asked]:
    yard, memory, before = yard_of(weather), None, -math.inf
    for day in days:
        for hour in ASKED_AT_H:
            at = weather.begin + timedelta(days=day, hours=hour)
            if memory is None or day - before > _LEARNS_DAYS:
                memory = load_past_weeks(store, yard, at)
            before = day
            yield said_of(judged_with(memory, store, yard, craft_at(at), at), day, hour)


def judged_with(
    memory: Memory, store: Store, yard: Yard, craft: Sequence[StoredCraft], at: datetime
) -> Picture:
    """`judge_again` of ``laidup assess --at``, but with a memory that goes on from evening to
    evening."""
    until = to_ms(at) + 1
    with store.snapshot() as tx:
        load_forecasts(tx, memory, at - timedelta(days=_LEARNS_DAYS), at)
        traces = tx.readings.traces_between(series_needed(yard), until - 100 * 3_600_000, until)
    return compose_picture(yard, craft, judge_yard(yard, craft, traces, at, (), memory), (), at)


def said_of(picture: Picture, day: int, hour: int) -> Asked:
    air = {}
    for one in picture.spaces:
        figures = figures_of(one.air)
        air[one.space.id] = SaidOfAir(
            now_c=one.air.now_c,
            expected_c=one.air.low_c,
            cold_c=figures.get("low_band_low_c", one.air.low_c),
            warm_c=figures.get("low_band_high_c", math.nan),
        )
    parts = {
        (each.craft.space, one.subject.part): SaidOfPart(
            standing=str(one.standing),
            chance=chance_of_ice(one),
            low_c=one.low_c,
            chance_third=figures_of(one).get("chance_third_ice", math.nan),
        )
        for each in picture.craft
        for one in each.circuits
    }
    return Asked(day=day, hour=hour, air=air, parts=parts)


_SAID_BY_STANDING = {
    Standing.EXPOSED: 1.0, Standing.ICING: 1.0, Standing.SOLID: 1.0, Standing.SUSPECT: 1.0,
    Standing.THIN: 0.5,
}  # fmt: skip


def chance_of_ice(judged: Assessment) -> float:
    """The chance that was said, or what a standing without one comes to."""
    said = figures_of(judged).get("chance_first_ice")
    return _SAID_BY_STANDING.get(judged.standing, 0.0) if said is None else said


def _fill(store: Store, weather: Weather, truth: Truth) -> None:
    hour = np.arange(weather.air_c.size)
    vapour = _vapour(weather.air_c) * weather.rh_pct / 100.0
    for space in SPACES:
        air = truth.air_c[space][::6]
        # Under the roof stands the air from outside: the same water in it.
        rh = np.clip(100.0 * vapour / _vapour(air), 1.0, 100.0)
        for channel, values in (
            (Channel.TEMPERATURE, np.where(np.isfinite(weather.air_c), air, np.nan)),
            (Channel.HUMIDITY, rh),
        ):
            known = np.isfinite(values)
            steps = np.round(np.round(values[known], 1) / channel.resolution).astype(int)
            at = to_ms(weather.begin) + hour[known] * 3_600_000
            with store.transaction() as tx:
                (series,) = tx.series.series_ids([(f"air-{space}", channel)]).values()
                flag = int(Flag.PASS)
                tx.reading_writer.append_rows(
                    [(series, int(t), int(v), None, flag) for t, v in zip(at, steps, strict=True)]
                )


def _vapour(air_c: np.ndarray) -> np.ndarray:
    return 6.112 * np.exp(17.62 * air_c / (243.12 + air_c))


def _keep_forecasts(store: Store, weather: Weather, truth: Truth, *, misses_fronts: bool) -> None:
    """Issues every six hours with an agency's usual error; perhaps blind to fronts."""
    rng = np.random.default_rng([7, *weather.name.encode()])
    air = truth.air_c["row"][::6]
    dew = np.interp(
        np.arange(air.size),
        np.flatnonzero(np.isfinite(weather.dew_point_c)),
        weather.dew_point_c[np.isfinite(weather.dew_point_c)],
    )
    if misses_fronts:
        before = np.concatenate([air[:24], air[:-24]])
        air = np.where(air < before - _FRONT_K, before, air)
        dew = np.where(air > before - 1e-9, np.maximum(dew, air - 15.0), dew)
    bias = rng.normal(0.0, _BIAS_K)
    lasting = _wander(rng, air.size // _EVERY_H + 1, _EVERY_H, 30.0)
    with store.transaction() as tx:
        for number, first in enumerate(range(0, air.size - 2, _EVERY_H)):
            ahead = np.arange(1, min(_AHEAD_H, air.size - 1 - first) + 1)
            wander = 0.8 * lasting[number] + 0.6 * _wander(rng, ahead.size, 1.0, 12.0)
            error = bias + wander * (_FIRST_K + _PER_DAY_K * ahead / 24.0)
            issued = weather.begin + timedelta(hours=first)
            said = np.round(air[first + ahead] + error, 1)
            tx.forecasts.keep_issue(
                PublicForecast(
                    source="agency",
                    issued=issued.astimezone(UTC),
                    fetched=(issued + _FETCHED_AFTER).astimezone(UTC),
                    at_ms=(to_ms(issued) + ahead * 3_600_000).astype(np.int64),
                    air_c=said,
                    dew_point_c=np.minimum(np.round(dew[first + ahead] + 0.7 * error, 1), said),
                )
            )


def _wander(rng: np.random.Generator, count: int, step_h: float, lasts_h: float) -> np.ndarray:
    """A series of unit spread whose correlation fades within some hours."""
    keeps = math.exp(-step_h / lasts_h)
    fresh = rng.normal(0.0, 1.0, count)
    made = np.empty(count)
    made[0] = fresh[0]
    for n in range(1, count):
        made[n] = keeps * made[n - 1] + math.sqrt(1.0 - keeps**2) * fresh[n]
    return made
