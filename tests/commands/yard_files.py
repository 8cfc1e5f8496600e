"""The fictional yard of the demo as files in a folder, with a few days of readings in its store."""

import shutil
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np

from monitor.clock import ReadingsClock, to_ms
from monitor.judgement.inputs import CraftInCare
from monitor.judgement.round import Round
from monitor.settings.load import Settings, load_settings, origin_of, shipped_folder
from monitor.store.migrate import migrate
from monitor.store.reading_rows import ReadingRow
from monitor.store.store import Store
from monitor.store.taking_in import take_in
from monitor.yard.reading import Channel, Flag
from monitor.yard.space import Mount
from tests.real.stores import scene_url, scenes_are_on_server

_MEAN_C = {"stove-barn": 7.0, "long-shed": 2.0, "north-row": 0.0, "lee-rack": -1.0, "bench": 8.0}
STEP = timedelta(minutes=10)


def copied_yard(folder: Path) -> Path:
    """The demo's files, copied; tells where ``yard.toml`` is."""
    shutil.copytree(shipped_folder() / "demo", folder, dirs_exist_ok=True)
    file = folder / "yard.toml"
    if scenes_are_on_server():
        text = file.read_text(encoding="utf-8")
        assert "[store]" not in text
        file.write_text(f'{text}\n[store]\nurl = "{scene_url(folder)}"\n', encoding="utf-8")
    return file


def fill(config: Path, until: datetime | None = None, days: int = 4) -> Settings:
    """Take the craft in, store readings up to now, judge once."""
    settings = load_settings(config)
    now = datetime.now(UTC) if until is None else until
    migrate(settings.store_url)
    store = Store(settings.store_url, settings.yard.id)
    clock = ReadingsClock(now)
    with store.transaction() as tx:
        take_in(tx.layup, settings.craft, settings.profiles, now)
    craft = CraftInCare(store, settings.profiles, settings.yard, clock).read_now()
    with store.transaction() as tx:
        for sensor in settings.yard.sensors:
            if sensor.mount is Mount.BATTERY:
                continue
            for channel, mean, swing in (
                (Channel.TEMPERATURE, _MEAN_C[sensor.space], 4.0),
                (Channel.HUMIDITY, 75.0, -6.0),
            ):
                (series,) = tx.series.series_ids([(sensor.name, channel)]).values()
                at = np.arange(
                    to_ms(now - timedelta(days=days)), to_ms(now), STEP.total_seconds() * 1000
                )
                value = mean + swing * np.sin(at / 86_400_000 * 2 * np.pi)
                tx.reading_writer.append_rows(
                    [
                        ReadingRow(series, int(t), round(v / channel.resolution), None, Flag.PASS)
                        for t, v in zip(at, value, strict=True)
                    ]
                )
    Round(store, settings.yard, clock, origin=origin_of(settings)).run(craft)
    store.close()
    return settings


def laidup(*arguments: str) -> int:
    """Run one command as the command line does."""
    from monitor.cli import main

    return main(arguments)
