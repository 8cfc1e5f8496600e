"""What a maintainer, or a space's own monitor, last said of its mains."""

from datetime import datetime

from monitor.clock import to_ms
from monitor.judgement.air import Traces
from monitor.yard.reading import Channel
from monitor.yard.space import Sensor


def mains_said(sensor: Sensor, traces: Traces, now: datetime) -> tuple[int, bool] | None:
    """When mains were last told of [Unix ms], and whether they were on; None: never yet.

    Only usable readings up to ``now`` count; their order does not matter.
    """
    trace = traces.get((sensor.name, Channel.MAINS))
    if trace is None:
        return None
    told = trace.usable()
    past = told.at_ms <= to_ms(now)
    if not past.any():
        return None
    newest = int(told.at_ms[past].argmax())
    return int(told.at_ms[past][newest]), bool(told.value[past][newest] >= 0.5)
