"""What the jobs of the house are called, and what to do about one that fails."""

from collections.abc import Mapping

from monitor.yard.jobs import JobName

JOB_NAME: Mapping[JobName, str] = {
    JobName.BACKUP: "nightly copy of the store",
    JobName.RECORD: "nightly check of the lay-up record",
    JobName.ROLLUPS: "nightly repair of the hourly figures",
    JobName.RETENTION: "nightly clearing of what is kept for a time only",
    JobName.FORECASTS: "fetching of the public forecast",
    JobName.REPORT: "weekly report",
}

_REMEDY: Mapping[JobName, str] = {
    JobName.BACKUP: "`laidup backup` takes one now and says what is in its way.",
    JobName.RECORD: "`laidup verify` checks the record now and says what is in its way.",
    JobName.ROLLUPS: "Nothing is lost: reports work the hours out of the readings. `laidup rollups`"
    " makes them now and says what is in its way.",
    JobName.RETENTION: "Nothing is lost: what should have gone stays for another day. laidup's log"
    " has the reason.",
    JobName.FORECASTS: "The yard's own readings alone make tonight's low; `laidup check` asks the"
    " agency once and says what is wrong.",
    JobName.REPORT: "`laidup report --send` sends it now and says what is in its way.",
}


def job_fault_line(job: JobName, problem: str) -> str:
    """What is wrong with a job, as a sentence."""
    return f"The {JOB_NAME[job]} {problem}."


def job_act(job: JobName) -> str:
    """What to do about it."""
    return f"{_REMEDY[job]} laidup tries again by itself."
