"""Has plots drawn by a child process; a plot that fails never holds up the words."""

import json
import logging
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from contextlib import suppress
from datetime import datetime, timedelta
from pathlib import Path
from threading import Thread
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
    return f'{figure[:-1]}, "dark": true}}'  # read by every letter: not unpacked again


class Plots:
    """The plots of one run of letters: each drawn once, all by one process, within one time limit.

    Closed by ``with`` or `close`; a figure asked for after that is not drawn unless it was before.
    """

    def __init__(self, within_s: float | None = None) -> None:
        """Begin a run; ``within_s`` counts the time that drawing takes, and nothing else."""
        self._left_s = PATIENCE_S if within_s is None else within_s
        self._drawn: dict[str, bytes | None] = {}
        self._child: _DrawingProcess | None = None

    def __enter__(self) -> "Plots":
        """Nothing is started before a figure is asked for."""
        return self

    def __exit__(self, *_: object) -> None:
        """End the process that draws."""
        self.close()

    def close(self) -> None:
        """End the process that draws; no further figure is drawn."""
        self._left_s = 0.0
        self._end_child()

    def plot(self, figure: str) -> bytes | None:
        """A figure as PNG; None, and a line in the log, if it cannot be drawn or time is up."""
        if figure not in self._drawn:
            began = time.monotonic()
            self._drawn[figure] = self._draw(figure) if self._left_s > 0 else None
            self._left_s -= time.monotonic() - began
        return self._drawn[figure]

    def _draw(self, figure: str) -> bytes | None:
        try:
            if self._child is None:
                self._child = _DrawingProcess()
            return self._child.draw_within(figure, self._left_s)
        except _NotDrawnError as error:
            _log.warning("A plot could not be drawn, the report goes without it: %s", error)
        except OSError as error:
            _log.warning("A plot could not be drawn, the report goes without it: %s", error)
            self._end_child()  # the next figure gets a process of its own
        return None

    def _end_child(self) -> None:
        child, self._child = self._child, None
        if child is not None:
            child.end()


class _NotDrawnError(Exception):
    """One figure that cannot be drawn; the process that was asked goes on."""


class _DrawingProcess:
    """The program of the plots: a figure a line on its standard input, a PNG after its length."""

    def __init__(self) -> None:
        self._said = tempfile.TemporaryFile()  # noqa: SIM115 - as long as the process
        self._program = subprocess.Popen(  # noqa: S603 - our own program, by its path
            # By its path and with -P, so that Python finds its modules nowhere but where they are
            # installed; and in a folder that holds no settings for matplotlib.
            [sys.executable, "-P", str(_PROGRAM)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=self._said,
            cwd=_PROGRAM.anchor,
            env=_environment(),
        )

    def draw_within(self, figure: str, within_s: float) -> bytes:
        """Have one figure drawn; OSError if the process does not answer in time, or is gone."""
        answers: list[tuple[bool, bytes]] = []
        # In a thread of its own: a process that hangs may not even read what it is asked.
        asking = Thread(target=self._ask, args=(figure, answers), daemon=True)
        asking.start()
        asking.join(within_s)
        if asking.is_alive():
            self._program.kill()
            asking.join()
            raise TimeoutError(f"it took longer than {within_s:.0f} s")
        if not answers:
            self._program.wait()
            self._said.seek(0)
            reason = self._said.read().decode(errors="replace").strip().rpartition("\n")[2]
            raise OSError(reason or f"the process ended with {self._program.returncode}")
        [(is_drawn, content)] = answers
        if not is_drawn:
            raise _NotDrawnError(content.decode(errors="replace"))
        return content

    def _ask(self, figure: str, answers: list[tuple[bool, bytes]]) -> None:
        asked, answered = self._program.stdin, self._program.stdout
        if asked is None or answered is None:
            return
        with suppress(OSError, ValueError):  # it is gone: there is no answer
            asked.write(figure.encode() + b"\n")
            asked.flush()
            head = answered.readline().split()
            content = answered.read(int(head[1])) if len(head) == 2 else b""
            if len(head) == 2 and len(content) == int(head[1]):
                answers.append((head[0] == b"png", content))

    def end(self) -> None:
        """End it, and give back what it held."""
        self._program.kill()
        for pipe in (self._program.stdin, self._program.stdout, self._said):
            with suppress(OSError):
                if pipe is not None:
                    pipe.close()
        self._program.wait()


def _environment() -> dict[str, str]:
    """The environment of a child: no folder in its module path depends on where it runs."""
    path = os.environ.get("PYTHONPATH", "").split(os.pathsep)
    return {
        **os.environ,
        "MPLBACKEND": "Agg",
        "PYTHONPATH": os.pathsep.join(each for each in path if Path(each).is_absolute()),
    }


def _nullable(values: NDArray[np.float64]) -> list[float | None]:
    known = np.isfinite(values).tolist()
    return [v if k else None for v, k in zip(np.round(values, 2).tolist(), known, strict=True)]
