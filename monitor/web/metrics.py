"""Figures of the yard in the OpenMetrics format, for a collector that shows a key."""

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Any

from fastapi import APIRouter, Response

from monitor.clock import Clock
from monitor.craft.stored import StoredCraft
from monitor.phrases.names import Names
from monitor.reports.account import account_of_space
from monitor.reports.picture import Picture, read_picture
from monitor.store.store import Store
from monitor.wording import SI, Wording
from monitor.yard.health import HealthAccount
from monitor.yard.space import Yard

METRICS_PATH = "/api/metrics"
_OF_SPACES = {
    "air_c": ("laidup_air_celsius", "air of a space"),
    "dew_point_c": ("laidup_dew_point_celsius", "dew point of a space's air"),
    "rh_pct": ("laidup_humidity_percent", "relative humidity over water"),
    "low_c": ("laidup_low_celsius", "coming low of a space, the middle of its courses"),
    "chance_below_zero": ("laidup_below_zero_ratio", "chance that it passes 0 degrees Celsius"),
}


def metrics_router(
    store: Store,
    yard: Yard,
    clock: Clock,
    craft: Callable[[], Sequence[StoredCraft]],
    health: Callable[[], HealthAccount],
) -> APIRouter | None:
    """Make the route; None where prometheus-client is not installed."""
    try:
        from prometheus_client import CollectorRegistry
        from prometheus_client.openmetrics.exposition import CONTENT_TYPE_LATEST, generate_latest
    except ModuleNotFoundError:
        return None
    router = APIRouter()

    class Collector:
        """Asked once for each answer."""

        def collect(self) -> Iterator[Any]:
            with store.snapshot() as tx:
                picture = read_picture(tx, yard, craft(), clock.now())
                heard = tx.yard_readings.latest_readings()
            newest: dict[str, int] = {}
            for (sensor, _), one in heard.items():
                newest[sensor] = max(one.at_ms, newest.get(sensor, 0))
            yield from _families(picture, newest)
            yield from _health_families(health())
            counted = Counter((str(a.priority), str(a.state)) for a in picture.alarms)
            yield _gauge("laidup_alarms", "open alarms", ("priority", "state"), counted.items())

    @router.get(METRICS_PATH, response_class=Response)
    def metrics() -> Response:
        """Tell the yard's figures as OpenMetrics text: SI, of spaces, sensors and counts."""
        registry = CollectorRegistry(auto_describe=False)
        registry.register(Collector())
        text = generate_latest(registry)  # type: ignore[no-untyped-call]
        return Response(text, media_type=CONTENT_TYPE_LATEST)

    return router


def _gauge(
    name: str, about: str, labels: Sequence[str], samples: Iterable[tuple[Sequence[str], float]]
) -> Any:  # noqa: ANN401  the library has no types
    from prometheus_client.core import GaugeMetricFamily

    family = GaugeMetricFamily(name, about, labels=labels)
    for values, number in samples:
        family.add_metric(values, float(number))
    return family


def _families(picture: Picture, newest: dict[str, int]) -> Iterator[Any]:
    # Of craft only standings are counted: no sentence is made of any.
    names, words = Names(picture.yard), Wording(zone=picture.yard.zone, now=picture.at, units=SI)
    spaces = [account_of_space(one, names, words) for one in picture.spaces]
    for key, (name, about) in _OF_SPACES.items():
        found = [([one.space], value) for one in spaces if (value := getattr(one, key)) is not None]
        yield _gauge(name, about, ("space",), found)
    standings = Counter(
        ("frost", str(circuit.standing)) for one in picture.craft for circuit in one.circuits
    )
    standings.update(
        ("damp", str(surface.standing)) for one in picture.craft for surface in one.surfaces
    )
    standings.update(("battery", str(one.battery.standing)) for one in picture.craft if one.battery)
    yield _gauge(
        "laidup_judged", "circuits, surfaces and batteries, by how they stand",
        ("hazard", "standing"), standings.items(),
    )  # fmt: skip
    judged = max((one.judged_at for one in spaces), default=None)
    if judged is not None:
        yield _gauge(
            "laidup_judged_timestamp_seconds", "when the yard was judged last", (),
            [((), judged.timestamp())],
        )  # fmt: skip
    yield _gauge(
        "laidup_sensor_heard_timestamp_seconds", "time of the newest reading of a sensor",
        ("sensor",), [([sensor], at_ms / 1000.0) for sensor, at_ms in sorted(newest.items())],
    )  # fmt: skip


def _health_families(account: HealthAccount) -> Iterator[Any]:
    yield _gauge("laidup_faults", "faults of laidup itself", (), [((), len(account.faults))])
    yield _gauge(
        "laidup_failing", "1 while a fault keeps laidup from seeing or telling", (),
        [((), account.is_failing)],
    )  # fmt: skip
