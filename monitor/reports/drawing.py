"""Has plots drawn by child processes; a plot that fails never holds up the words."""

import json
import logging
import os
import subprocess
import sys
import time
from collections.abc import Sequence
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from monitor.reports.skill import Skill
from monitor.reports.week import SpaceWeek
from monitor.wording import Wording

_log = logging.getLogger(__name__)
PATIENCE_S = 120.0
_PROGRAM = Path(__file__).with_name("figures.py")


def week_figure(
    spaces: Sequence[SpaceWeek],
    since: datetime,
    until: datetime,
    zone: ZoneInfo,
    words: Wording,
) -> str:
    """Describe a week's figure as JSON: times in seconds since 1970, temperatures in °C.

    Every day has its name, as the reader of ``words`` calls it.
    """
    days = [(since + timedelta(days=n)).astimezone(zone) for n in range((until - since).days + 2)]
    return json.dumps(
        {
            "unit": words.temperature_unit,
            "zone": zone.key,
            "days": {
                day.astimezone(zone).date().isoformat(): words.tick_label(day) for day in days
            },
            "since": since.timestamp(),
            "until": until.timestamp(),
            "spaces": [
                {
                    "name": one.space.name,
                    "at": (one.air.at_ms / 1000).tolist(),
                    "coldest_c": _nullable(one.air.coldest_c),
                    "dew_point_c": _nullable(one.air.dew_point_c),
                }
                for one in spaces
            ],
        }
    )


def skill_figure(skill: Skill) -> str:
    """Describe the figure of said against happened as JSON; shares are 0 to 1."""
    return json.dumps(
        {
            "tenths": [
                {
                    "from": each.low,
                    "said": each.said,
                    "happened": each.happened,
                    "fewest": each.fewest,
                    "most": each.most,
                    "nights": each.nights,
                }
                for each in skill.tenths
            ]
        }
    )


def for_dark_screen(figure: str) -> str:
    """The same figure for a reader whose screen is dark."""
    return json.dumps({**json.loads(figure), "dark": True})


class Plots:
    """The plots of one run of letters: each drawn once, and all of them within one time limit."""

    def __init__(self, within_s: float | None = None) -> None:
        """Begin a run; ``within_s`` counts the time that drawing takes, and nothing else."""
        self._left_s = PATIENCE_S if within_s is None else within_s
        self._drawn: dict[str, bytes | None] = {}

    def plot(self, figure: str) -> bytes | None:
        """A figure as PNG; None, and a line in the log, if it cannot be drawn or time is up."""
        if figure not in self._drawn:
            began = time.monotonic()
            self._drawn[figure] = _draw(figure, self._left_s) if self._left_s > 0 else None
            self._left_s -= time.monotonic() - began
        return self._drawn[figure]


def _draw(figure: str, within_s: float) -> bytes | None:
    try:
        drawn = subprocess.run(  # noqa: S603 - our own program, by its path
            # By its path and with -P, so that Python finds its modules nowhere but where they are
            # installed; and in a folder that holds no settings for matplotlib.
            [sys.executable, "-P", str(_PROGRAM)],
            input=figure.encode(),
            capture_output=True,
            check=True,
            timeout=within_s,
            cwd=_PROGRAM.anchor,
            env=_environment(),
        )
    except subprocess.CalledProcessError as error:
        reason = error.stderr.decode(errors="replace").strip().rpartition("\n")[2]
        _log.warning("A plot could not be drawn, the report goes without it: %s", reason)
        return None
    except (OSError, subprocess.TimeoutExpired) as error:
        _log.warning("A plot could not be drawn, the report goes without it: %s", error)
        return None
    return drawn.stdout


def _environment() -> dict[str, str]:
    """The environment of a child: no folder in its module path depends on where it runs."""
    path = os.environ.get("PYTHONPATH", "").split(os.pathsep)
    return {
        **os.environ,
        "MPLBACKEND": "Agg",
        "PYTHONPATH": os.pathsep.join(each for each in path if Path(each).is_absolute()),
    }


def _nullable(values: NDArray[np.float64]) -> list[float | None]:
    return [None if np.isnan(v) else round(float(v), 2) for v in values]
