"""What housekeeping remembers between its runs: each job's last, and which arrivals were told."""

from collections.abc import Iterable
from datetime import datetime
from typing import NamedTuple

from sqlalchemy import Connection, select

from monitor.clock import from_ms, to_ms
from monitor.store.statements import put_in_place
from monitor.store.tables import job_runs, told_arrivals
from monitor.yard.health import JobName, JobRun


class NotifiedArrival(NamedTuple):
    """A craft that came in, and a person for whom it was seen to: listed, or left out for good."""

    craft: str
    came: datetime
    person: str


class NotifiedArrivals:
    """A row for each arrival and reader of one yard."""

    def __init__(self, connection: Connection, yard_id: int) -> None:
        self._connection = connection
        self._yard_id = yard_id

    def put(self, told: Iterable[NotifiedArrival], at: datetime) -> None:
        """Keep that they were seen to at a time."""
        rows = [
            {
                "yard_id": self._yard_id,
                "craft_id": one.craft,
                "came_ms": to_ms(one.came),
                "person": one.person,
                "at_ms": to_ms(at),
            }
            for one in told
        ]
        if rows:
            self._connection.execute(put_in_place(told_arrivals), rows)

    def notified_since(self, came: datetime) -> frozenset[NotifiedArrival]:
        """Those of craft that came from a time on."""
        rows = self._connection.execute(
            select(told_arrivals).where(
                told_arrivals.c.yard_id == self._yard_id, told_arrivals.c.came_ms >= to_ms(came)
            )
        )
        return frozenset(
            NotifiedArrival(row.craft_id, from_ms(row.came_ms), row.person) for row in rows
        )


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
