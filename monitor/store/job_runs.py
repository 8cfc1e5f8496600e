"""The last run of each job of the house, so that a restart knows what was missed."""

from sqlalchemy import Connection, select

from monitor.clock import from_ms, to_ms
from monitor.store.statements import put_in_place
from monitor.store.tables import job_runs
from monitor.yard.health import JobName, JobRun


class JobRuns:
    """The last runs of one yard's jobs."""

    def __init__(self, connection: Connection, yard_id: int) -> None:
        self._connection = connection
        self._yard_id = yard_id

    def put(self, run: JobRun) -> None:
        """Keep a run in place of the one before of the same job."""
        row = {
            "yard_id": self._yard_id,
            "job": str(run.job),
            "began_ms": to_ms(run.began_at),
            "took_s": run.took_s,
            "problem": run.problem,
        }
        self._connection.execute(put_in_place(job_runs), [row])

    def last_runs(self) -> dict[JobName, JobRun]:
        """The last run of each job that ever ran; jobs of another program are left out."""
        rows = self._connection.execute(select(job_runs).where(job_runs.c.yard_id == self._yard_id))
        return {
            JobName(row.job): JobRun(
                job=JobName(row.job),
                began_at=from_ms(row.began_ms),
                took_s=row.took_s,
                problem=row.problem,
            )
            for row in rows
            if row.job in set(JobName)
        }
