"""However packs come, in whatever order, how often and in what batches: one and the same store."""

import random
from datetime import UTC, datetime
from pathlib import Path
from shutil import copy

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.clock import from_ms, to_ms
from monitor.intake.decode import Decoder
from monitor.intake.follow import enter_readings
from monitor.intake.inbox import ArrivedMessage
from monitor.intake.quality import bounds_of, quality_flags
from monitor.intake.trust import AS_THEY_COME
from monitor.store.migrate import migrate
from monitor.store.store import Store
from monitor.yard.reading import Channel
from monitor.yard.space import Limits, Sensor
from tests.tried import tried

SENSORS = tuple(
    Sensor(
        name=f"urn:dev:ops:kettlemoss-{place}",
        space="barn",
        limits={Channel.TEMPERATURE: Limits(flat_h=3.0)},
    )
    for place in ("barn", "rack")
)
KEYS = [(sensor.name, Channel.TEMPERATURE) for sensor in SENSORS]
START_S = int(datetime(2026, 1, 10, tzinfo=UTC).timestamp())


@pytest.fixture(scope="module")
def empty(tmp_path_factory) -> Path:
    file: Path = tmp_path_factory.mktemp("store") / "laidup.db"
    migrate(f"sqlite:///{file}")
    store = Store(f"sqlite:///{file}", "kettlemoss")
    with store.transaction() as tx:  # ids given beforehand: they follow the order of arrival
        tx.series.series_ids(KEYS)
    store.close()
    return file


def address(file: Path) -> str:
    return f"sqlite:///{file}"


def message(payload: str) -> ArrivedMessage:
    return ArrivedMessage("kettlemoss/barn", payload.encode(), START_S * 1000, True, 1, 1, 1)


def stored(url: str, batches: list[list[str]], *, restart_after: int = 10**9):
    """Rows after the batches were taken in, with a restart of intake now and then."""
    store = Store(url, "kettlemoss")
    decoder = Decoder(SENSORS, AS_THEY_COME)
    with store.snapshot() as tx:
        held = tx.yard_readings.count_readings()
    for n, batch in enumerate(batches):
        if n % restart_after == restart_after - 1:
            decoder = Decoder(SENSORS, AS_THEY_COME)
        taken = []
        for payload in batch:
            readings, reason = decoder.decode_message(message(payload))
            assert not reason
            taken += readings
        with store.transaction() as tx:
            for one in taken:
                key = (one.track.sensor, one.track.channel)
                one.track.series_id = tx.series.series_ids([key])[key]
            held += enter_readings(tx, taken, from_ms(START_S * 1000)).new
    with store.snapshot() as tx:
        ids = tx.series.series_ids(KEYS)
        rows = [
            tuple(column.tolist() for column in tx.readings.steps_of_series(series_id, 0, 2**60))
            for series_id in ids.values()
        ]
        assert tx.yard_readings.count_readings() == held
    store.close()
    return rows


celsius = st.sampled_from([-127.0, -61.0, 2.0, 2.0, 2.0, 2.5, 4.0, 9.0, 21.0, 85.0])
gaps_min = st.sampled_from([1, 5, 5, 30, 59, 61, 400])


@st.composite
def packs(draw):
    """Packs of both sensors, each with one to five readings, no time twice in one series."""
    made = []
    for sensor in SENSORS:
        at_s = START_S
        for _ in range(draw(st.integers(1, 8))):
            records = []
            for value in draw(st.lists(celsius, min_size=1, max_size=5)):
                at_s += 60 * draw(gaps_min)
                records.append(f'{{"n":"temperature","u":"Cel","t":{at_s},"v":{value}}}')
            records[0] = f'{{"bn":"{sensor.name}:",' + records[0][1:]
            made.append(f"[{','.join(records)}]")
    return made


@settings(max_examples=tried(25), deadline=None)
@given(packs(), st.integers(0, 2**32), st.integers(1, 9), st.integers(2, 5))
def test_any_order_duplication_and_batching_gives_an_identical_store(
    empty, tmp_path_factory, made, seed, size, restart_after
):
    folder = tmp_path_factory.mktemp("order")
    straight = stored(address(copy(empty, folder / "straight.db")), [[pack] for pack in made])
    chance = random.Random(seed)
    again = [*made, *chance.sample(made, len(made) // 2)]
    chance.shuffle(again)
    batches = [again[n : n + size] for n in range(0, len(again), size)]
    assert (
        stored(address(copy(empty, folder / "shuffled.db")), batches, restart_after=restart_after)
        == straight
    )
    for sensor, (at, value, flag) in zip(SENSORS, straight, strict=True):
        bounds = bounds_of(Channel.TEMPERATURE, sensor.limits[Channel.TEMPERATURE])
        want = quality_flags(np.array(at), np.array(value, dtype=np.int64), bounds)
        assert flag == want.tolist()


def test_a_late_reading_long_before_the_newest_changes_only_flags_around_it(
    empty, tmp_path_factory
):
    file = tmp_path_factory.mktemp("late") / "laidup.db"
    copy(empty, file)
    name = SENSORS[0].name

    def pack(*readings):
        records = ",".join(
            f'{{"n":"{name}:temperature","u":"Cel","t":{START_S + 60 * minute},"v":{v}}}'
            for minute, v in readings
        )
        return f"[{records}]"

    calm = pack(*((5 * n, 2 + n % 2) for n in range(400)))
    (_, _, before), _ = stored(address(file), [[calm]])
    assert set(before) == {1}
    after = stored(address(file), [[pack((1002, 30.0))]])[0]
    changed = [minute for minute, flag in zip(after[0], after[2], strict=True) if flag != 1]
    assert changed == [(START_S + 60 * 1002) * 1000]
    assert to_ms(datetime(2026, 1, 10, 16, 42, tzinfo=UTC)) == changed[0]


def test_postgresql_keeps_the_same_rows_in_any_order(empty, postgres, tmp_path):
    migrate(postgres)
    store = Store(postgres, "kettlemoss")
    with store.transaction() as tx:
        tx.series.series_ids(KEYS)
    store.close()
    chance = random.Random(20260110)
    made = []
    for minute in range(0, 600, 5):
        for sensor in SENSORS:
            value = chance.choice([2.0, 2.5, 2.5, 21.0, -127.0, 85.0])
            made.append(
                f'[{{"n":"{sensor.name}:temperature","u":"Cel",'
                f'"t":{START_S + 60 * minute},"v":{value}}}]'
            )
    straight = stored(address(copy(empty, tmp_path / "straight.db")), [made])
    again = [*made, *made[::3]]
    chance.shuffle(again)
    batches = [again[n : n + 50] for n in range(0, len(again), 50)]
    assert stored(postgres, batches, restart_after=3) == straight
    assert {1, 3, 4, 9} == {flag for _, _, flags in straight for flag in flags}
