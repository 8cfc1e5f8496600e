"""The sensors of one space on its page: where they hang, how they are heard, their calibration."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from monitor.clock import to_ms
from monitor.phrases.names import Names
from monitor.phrases.space_tonight import (
    calibration_text,
    heard_text,
    place_of_sensor,
    quality_text,
)
from monitor.phrases.standings import is_well
from monitor.store.store import Transaction
from monitor.wording import Wording
from monitor.yard.assessment import Assessment, Hazard
from monitor.yard.calibration_due import next_calibrations
from monitor.yard.reading import Channel, Flag
from monitor.yard.space import Sensor, Space, Yard


@dataclass(frozen=True, slots=True, kw_only=True)
class SensorRow:
    """One sensor: where it hangs, when it was heard, how its readings come, its calibration."""

    place: str
    heard: str
    quality: str
    calibration: str
    seen: Assessment | None

    @property
    def is_well(self) -> bool:
        """Whether it is heard as it should be."""
        return self.seen is not None and is_well(self.seen)


def sensor_rows(
    tx: Transaction,
    yard: Yard,
    space: Space,
    judged: Iterable[Assessment],
    names: Names,
    words: Wording,
) -> Iterable[SensorRow]:
    """A row for each sensor that hangs there, in the order of the yard's file."""
    heard = {a.subject.part: a for a in judged if a.hazard is Hazard.SILENCE}
    today = words.now.astimezone(yard.zone).date()
    for sensor in yard.sensors:
        if sensor.space != space.id:
            continue
        seen = heard.get(sensor.name)
        yield SensorRow(
            place=place_of_sensor(sensor, names),
            heard=heard_text(seen, words),
            quality=quality_text(_flag_counts(tx, sensor, words.now)),
            calibration=calibration_text(next_calibrations([sensor], yard.calibration_days), today),
            seen=seen,
        )


def _flag_counts(tx: Transaction, sensor: Sensor, now: datetime) -> list[tuple[str, int]]:
    """How many readings of the last day have which flag."""
    channels = list(dict.fromkeys(sensor.labels.values())) or list(Channel)
    keys = [(sensor.name, channel) for channel in channels]
    traces = tx.readings.traces_between(keys, to_ms(now - timedelta(days=1)), to_ms(now))
    flags = np.concatenate([trace.flag for trace in traces.values()] or [np.empty(0, np.int8)])
    return [(str(flag.name).lower().replace("_", " "), int((flags == flag).sum())) for flag in Flag]
