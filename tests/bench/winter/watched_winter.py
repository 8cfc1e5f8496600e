"""The daemon of a winter drill: `python -m tests.bench.winter.watched_winter YARD STORY FORECAST`.

Wired as `laidup run` wires it, but that the story's time drives it, and that the jobs of the night
come by that time too: the scheduler of the house counts on the machine's own clock.
"""

import logging
import signal
import sys
import threading
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from urllib.parse import urlsplit

from monitor.daemon.daemon import Daemon
from monitor.daemon.housework import house_jobs
from monitor.daemon.opening import open_store
from monitor.daemon.pace import Schedule
from monitor.housekeeping.ledger import Job
from monitor.settings.load import load_settings
from monitor.store.store import Store
from monitor.yard.health import JobName
from tests.bench.winter.story import SharedStory, StoryClock, Word
from tests.line.connected import is_connected

_PACE = Schedule(  # by the machine's seconds, of which a story's hour has less than one
    round_every_s=0.25,
    round_gap_s=0.02,
    settle_s=0.05,
    post_every_s=0.1,
    report_every_s=0.5,
    signs_every_s=0.5,
    upkeep_every_s=1.0,
    probe_every_s=0.5,
    page_old_after=timedelta(hours=3),
)
_HOUR_MS, _DAY_MS = 3_600_000, 86_400_000
# The copy is a process of its own and stands in the conductor's hands; letters have a thread.
_NIGHTLY = (JobName.RECORD, JobName.RETENTION, JobName.ROLLUPS)


class House:
    """Does the jobs that rest at hours, by the story's hours."""

    def __init__(self, jobs: list[Job], story: SharedStory) -> None:
        self._jobs = {job.name: job for job in jobs}
        self._story = story
        self._hour = self._day = 0

    def run(self, stopping: threading.Event) -> None:
        """Look at the story's time, and do what is due; what fails is done the next time."""
        while not stopping.wait(0.02):
            now_ms = self._story[Word.NOW_MS]
            names: list[JobName] = []
            if now_ms // _HOUR_MS != self._hour:
                self._hour = now_ms // _HOUR_MS
                names.append(JobName.FORECASTS)
            if now_ms // _DAY_MS != self._day:
                self._day = now_ms // _DAY_MS
                names.extend(_NIGHTLY)
            for name in names:
                try:
                    self._jobs[name].run()
                except Exception:
                    logging.exception("The job %s failed.", name)
            self._story[Word.JOBS_MS] = now_ms


def hold_rounds(
    whole_round: Callable[[], None], story: SharedStory, stop: threading.Event
) -> Callable[[], None]:
    """A round that waits while the story leaps.

    A real hour has sixty rounds, of which the last sees almost what the first of the next one does.
    In a leap it would hang on chance whether one falls between it and the readings that it brings.
    """

    def held_round() -> None:
        story[Word.ROUND] = 1
        while story[Word.HELD]:
            story[Word.ROUND] = 0
            if stop.wait(0.002):
                return
            story[Word.ROUND] = 1
        try:
            whole_round()
        finally:
            story[Word.ROUND] = 0

    return held_round


def main(yard: Path, story_file: Path, forecast_url: str) -> None:
    """Run until told to stop."""
    logging.basicConfig(level=logging.WARNING, format="%(asctime)s %(message)s")
    settings, story = load_settings(yard), SharedStory(story_file)
    assert settings.forecast is not None
    settings = replace(settings, forecast=replace(settings.forecast, url=forecast_url))
    store: Store = open_store(settings.store_url, settings.yard.id)
    clock = StoryClock(story)
    daemon = Daemon(settings, store, clock, pace=_PACE)
    stop = threading.Event()
    signal.signal(signal.SIGTERM, lambda *_: stop.set())
    watch = daemon._watch  # no part of the product holds rounds up
    watch.judge_and_tell = hold_rounds(watch.judge_and_tell, story, stop)  # type: ignore[method-assign]
    jobs = list(house_jobs(settings, store.beside(3), clock, found_broken=lambda: None))
    daemon.start()
    story[Word.PAGE] = urlsplit(daemon.page_address or "").port or 0
    threading.Thread(target=House(jobs, story).run, args=(stop,), daemon=True).start()
    while not stop.wait(0.005):
        story[Word.CONNECTED] = is_connected(daemon)
        judged = daemon.judged_at
        story[Word.JUDGED_MS] = 0 if judged is None else round(judged.timestamp() * 1000)
    daemon.stop()


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]), sys.argv[3])
