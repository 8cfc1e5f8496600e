"""A thread for each run: one that hangs keeps neither another job nor the process from its end."""

import sys
from datetime import datetime
from threading import Thread
from typing import Any

from apscheduler.executors.base import BaseExecutor, run_job


class ThreadForEach(BaseExecutor):  # type: ignore[misc]  # the library has no types
    """Runs each job in a new thread, which the process's end does not wait for."""

    def _do_submit_job(self, job: Any, run_times: list[datetime]) -> None:  # noqa: ANN401
        Thread(target=self._run, args=(job, run_times), name=job.id, daemon=True).start()

    def _run(self, job: Any, run_times: list[datetime]) -> None:  # noqa: ANN401
        try:
            events = run_job(job, job._jobstore_alias, run_times, self._logger.name)
        except BaseException:
            self._run_job_error(job.id, *sys.exc_info()[1:])
            raise
        else:
            self._run_job_success(job.id, events)
