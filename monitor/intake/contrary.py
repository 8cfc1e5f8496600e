"""Two values for one time of one series: the first stays, the second is kept aside, not lost."""

import json
from collections.abc import Sequence
from datetime import datetime

from monitor.intake.decode import DecodedReading
from monitor.store.aside import KeptAside
from monitor.store.store import Transaction

CONTRARY = "another value for its time"  # begins the reason of such a row; it is never replayed


def keep_contrary(
    tx: Transaction, taken: Sequence[DecodedReading], at: datetime
) -> tuple[int, int]:
    """Keep aside those readings that say otherwise than what is stored for their series and time.

    What the sensor sent is compared, not what a calibration made of it: a file brought in again
    after a calibration contradicts nothing. A row's topic is the series, its payload a SenML pack.

    Returns
    -------
    count, bytes : int
        How many there were, and what those that were not aside already take there.
    """
    stored = tx.readings.raw_steps({(one.track.series_id, one.at_ms) for one in taken})
    aside: list[KeptAside] = []
    for one in taken:
        sent = one.value if one.raw is None else one.raw
        first = stored.get((one.track.series_id, one.at_ms), sent)
        if sent == first:
            continue
        channel = one.track.channel
        name, unit, step = f"{one.track.sensor}:{channel}", channel.senml_unit, channel.resolution
        value = float(f"{sent * step:.9g}")
        pack = [{"n": name, "u": unit, "t": one.at_ms / 1000, "v": value}]
        reason = f"{CONTRARY}; the first one, {first * step:g} {unit}, stays"
        aside.append(KeptAside(name, reason, json.dumps(pack).encode(), at))
    return len(aside), tx.aside.keep_all(aside)
