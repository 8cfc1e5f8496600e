"""Has a plot drawn by a child process; a plot that fails never holds up the words."""

import json
import logging
import os
import subprocess
import sys
from collections.abc import Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from monitor.reports.week import STEP_MIN, SpaceWeek
from monitor.units import TemperatureUnit

_log = logging.getLogger(__name__)
_PATIENCE_S = 120
_STEP = 15 // STEP_MIN  # a quarter of an hour is finer than a pixel


def week_figure(
    spaces: Sequence[SpaceWeek],
    since: datetime,
    until: datetime,
    zone: ZoneInfo,
    unit: TemperatureUnit,
) -> str:
    """Describe a week's figure as JSON: times in seconds since 1970, temperatures in °C."""
    return json.dumps(
        {
            "unit": unit,
            "zone": zone.key,
            "since": since.timestamp(),
            "until": until.timestamp(),
            "spaces": [
                {
                    "name": one.space.name,
                    "at": (one.air.at_ms[::_STEP] / 1000).tolist(),
                    "coldest_c": _nullable(one.air.coldest_c[::_STEP]),
                    "dew_point_c": _nullable(one.air.dew_point_c[::_STEP]),
                }
                for one in spaces
            ],
        }
    )


def draw(figure: str) -> bytes | None:
    """Have a figure drawn; None, and a line in the log, if that fails."""
    try:
        drawn = subprocess.run(
            [sys.executable, "-m", "monitor.reports.figures"],
            input=figure.encode(),
            capture_output=True,
            check=True,
            timeout=_PATIENCE_S,
            env={**os.environ, "MPLBACKEND": "Agg"},
        )
    except subprocess.CalledProcessError as error:
        reason = error.stderr.decode(errors="replace").strip().rpartition("\n")[2]
        _log.warning("A plot could not be drawn, the report goes without it: %s", reason)
        return None
    except (OSError, subprocess.TimeoutExpired) as error:
        _log.warning("A plot could not be drawn, the report goes without it: %s", error)
        return None
    return drawn.stdout


def _nullable(values: NDArray[np.float64]) -> list[float | None]:
    return [None if np.isnan(v) else round(float(v), 2) for v in values]
