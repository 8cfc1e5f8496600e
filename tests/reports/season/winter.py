"""A yard with one winter of readings of which every figure is known beforehand.

Fictional. A reading every ten minutes, on the minute; the tests say what the air was.
"""

from collections.abc import Callable, Iterable
from datetime import date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np

from monitor.clock import to_ms
from monitor.craft.craft_stays import Craft, Stay
from monitor.craft.layup import LayupEntry
from monitor.reports.season.figures import SeasonFigures
from monitor.reports.season.read_season import read_season_figures
from monitor.store.reading_rows import ReadingRow
from monitor.store.store import Store
from monitor.yard.reading import Channel, Flag
from monitor.yard.space import Mount, Person, Role, Sensor, Space, SpaceKind, Yard
from tests.craft.scene import library
from tests.real.stores import scene_url

ZONE = ZoneInfo("America/Chicago")
YEAR = 2026
ARRIVED = datetime(2026, 10, 20, 9, tzinfo=ZONE)
NOW = datetime(2027, 1, 10, 12, tzinfo=ZONE)
SHED, BARN = "long-shed", "stove-barn"


def yard(**changes: object) -> Yard:
    """Three spaces with a thermometer each, an operator and an owner."""
    spaces = (
        Space(id=SHED, name="Long Shed", kind=SpaceKind.COLD),
        Space(id=BARN, name="Stove Barn", kind=SpaceKind.HEATED),
        Space(id="lee-rack", name="Lee Rack", kind=SpaceKind.OPEN),
    )
    facts: dict[str, object] = {
        "id": "kettlemoss",
        "name": "Kettlemoss Yard",
        "zone": ZONE,
        "latitude": 46.1,
        "longitude": -92.3,
        "temperature_unit": "C",
        "volume_unit": "L",
        "spaces": spaces,
        "sensors": tuple(
            Sensor(name=sensor_of(one.id), space=one.id, mount=Mount.AIR, interval_s=600.0)
            for one in spaces
        ),
        "people": (
            Person(
                id="ines",
                name="Ines Marrow",
                mail="ines@kettlemoss.example",
                roles=frozenset({Role.OPERATOR}),
            ),
            Person(
                id="wren",
                name="Wren Halloway",
                mail="wren@lake.example",
                roles=frozenset({Role.OWNER}),
            ),
        ),
    }
    return Yard(**(facts | changes))  # type: ignore[arg-type]


def sensor_of(space: str) -> str:
    return f"urn:dev:ops:kettlemoss-{space}"


def open_store(folder: Path) -> Store:
    return Store(scene_url(folder), "kettlemoss")


def put_craft(
    store: Store,
    *entries: LayupEntry,
    craft: str = "k1",
    name: str = "Teal",
    stays: Iterable[tuple[str, datetime]] = ((SHED, ARRIVED),),
    profile: str = "pwc-two-stroke",
    owner: str = "wren",
    arrived: datetime = ARRIVED,
    written: datetime | None = None,
) -> None:
    """A craft with its stays and work, as if written down when it was done."""
    with store.transaction() as tx:
        tx.layup.put_craft(
            [Craft(id=craft, name=name, profile=profile, arrived_at=arrived, owner=owner)], arrived
        )
        for space, since in stays:
            stay = Stay(craft=craft, space=space, since=since, berth="3", by="ines")
            tx.layup.add_stays([stay], since)
        for entry in entries:
            tx.layup.append_entries([entry], written or entry.at)


def put_readings(
    store: Store,
    since: datetime,
    until: datetime,
    air_c: Callable[[datetime], float],
    *,
    space: str = SHED,
    rh_pct: Callable[[datetime], float] | None = None,
    step: timedelta = timedelta(minutes=10),
) -> None:
    """Readings of one space's thermometer, each at its time of the yard's clock."""
    channels = (Channel.TEMPERATURE, Channel.HUMIDITY)
    with store.transaction() as tx:
        keys = [(sensor_of(space), channel) for channel in channels]
        known = tx.series.series_ids(keys)
        ids = [known[key] for key in keys]
        rows = []
        for at_ms in range(to_ms(since), to_ms(until), int(step.total_seconds() * 1000)):
            local = datetime.fromtimestamp(at_ms / 1000, ZONE)
            values = [air_c(local)] + ([] if rh_pct is None else [rh_pct(local)])
            rows += [
                ReadingRow(series, at_ms, round(value * 100), None, Flag.PASS)
                for series, value in zip(ids, values, strict=False)
            ]
        tx.reading_writer.append_rows(rows)


def cold_nights(cold: Iterable[date], night_c: float = -5.0, day_c: float = 3.0):
    """-5 °C from 20:00 to 04:00 of these nights, by the yard's clock; else +3 °C."""
    nights = frozenset(cold)

    def air_c(local: datetime) -> float:
        evening = local.date() if local.hour >= 20 else local.date() - timedelta(days=1)
        is_night = local.hour >= 20 or local.hour < 4
        return night_c if is_night and evening in nights else day_c

    return air_c


def figures_of(
    store: Store, craft: str = "k1", *, year: int = YEAR, now: datetime = NOW, **changes: object
) -> SeasonFigures:
    """The one record that there is of a craft and season."""
    with store.snapshot() as tx:
        [found] = read_season_figures(
            tx, yard(**changes), library(), [craft], year, now, program="test"
        )
    return found


def near(value: float | None, expected: float, within: float = 1e-6) -> bool:
    return value is not None and bool(np.isclose(value, expected, atol=within))
