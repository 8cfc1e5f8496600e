"""How laidup's own store and its jobs fare, in words, and what to do about it."""

from collections.abc import Mapping
from math import isinf

from monitor.wording import Wording
from monitor.yard.facts import DamageFacts, RewrittenFacts, RoomFacts
from monitor.yard.health import JobName, StoreCondition

_LONG_DAYS = 366.0
MAKE_ROOM = (
    "Make room on that disk: remove what is not laidup's, or move the store to a larger disk. Leave"
    " the store's own files alone, its -wal, -shm and -reserve too."
)
MEND = (
    "Stop laidup and keep a copy of the file as it is. Put your last good copy in its place, or"
    " save what can be read with `sqlite3 OLD .dump | sed 's/^ROLLBACK/COMMIT/' | sqlite3 NEW`,"
    " and check the disk (docs/store.md)."
)
COMPARE = (
    "Compare the store with a backup, with the mails since and with the paper, and enter again what"
    " is missing; until then rely on no lay-up of which you are not sure. `laidup verify` says all"
    " of it. If an older backup was put back, that is why."
)
JOB_NAME: Mapping[JobName, str] = {
    JobName.BACKUP: "nightly copy of the store",
    JobName.RECORD: "nightly check of the lay-up record",
    JobName.DAYS: "closing of days in the record",
    JobName.ROLLUPS: "nightly repair of the hourly figures",
    JobName.RETENTION: "nightly clearing of what is kept for a time only",
    JobName.FORECASTS: "fetching of the public forecast",
    JobName.REPORT: "weekly report",
    JobName.CALIBRATIONS: "nightly look for calibrations that are due",
    JobName.SEASON_RECORDS: "mailing of season records that are due",
    JobName.ARCHIVE: "nightly check of the archive's files",
}

_REMEDY: Mapping[JobName, str] = {
    JobName.BACKUP: "`laidup backup` takes one now and says what is in its way.",
    JobName.RECORD: "`laidup verify` checks the record now and says what is in its way.",
    JobName.DAYS: "Nothing is lost: the next run closes what is due. laidup's log has the reason.",
    JobName.ROLLUPS: "Nothing is lost: reports work the hours out of the readings. `laidup rollups`"
    " makes them now and says what is in its way.",
    JobName.RETENTION: "Nothing is lost: what should have gone stays for another day. laidup's log"
    " has the reason.",
    JobName.FORECASTS: "The yard's own readings alone make tonight's low; `laidup check` asks the"
    " agency once and says what is wrong.",
    JobName.REPORT: "`laidup report --send` sends it now and says what is in its way.",
    JobName.CALIBRATIONS: "`laidup status` names those that are due.",
    JobName.SEASON_RECORDS: "`laidup record --due` mails them now and says what is in its way.",
    JobName.ARCHIVE: "These files alone have raw readings of old months: put what is gone or"
    " damaged back from a backup, then `laidup check` reads them again.",
}


def room_basis(facts: RoomFacts, words: Wording) -> str:
    """How much room is left, until when, and what laidup does about it."""
    free = f"{_megabytes(facts.free_bytes)} are free on the disk that holds laidup's store."
    if facts.full_at is not None:
        day = words.weekday(facts.full_at)
        free += f" As it filled up over the last days, it is full on {day}."
    if not facts.given_up_bytes:
        return f"{free} On a full disk no reading is stored and no alarm is kept."
    return (
        f"{free} laidup has given up {_megabytes(facts.given_up_bytes)} of what it keeps for this"
        f" and has {_megabytes(facts.kept_bytes)} left for alarms; readings wait in the broker,"
        " and tonight is judged by those that came before."
    )


def damage_basis(facts: DamageFacts) -> str:
    """What the database says of its file."""
    return (
        f"The file that laidup keeps everything in is damaged: {facts.says}. What was written there"
        " may be lost, and what comes may not be stored."
    )


def rewritten_basis(facts: RewrittenFacts) -> str:
    """Where the lay-up record of the yard is not what was written."""
    return f"The lay-up record in the store is not what was written. {facts.says}."


def store_lines(condition: StoreCondition) -> list[str]:
    """The condition of a store in sentences for whoever asks; the remedy where there is need."""
    lines = []
    if room := room_sentence(condition):
        lines.append(f"{room} {MAKE_ROOM}" if condition.little_room else room)
    if condition.damage:
        lines.append(f"The store's file is damaged: {condition.damage}. {MEND}")
    return lines


def room_sentence(condition: StoreCondition) -> str:
    """How much room the store has; empty where nobody knows."""
    if condition.free_bytes is None:
        return ""
    said = f"{_megabytes(condition.free_bytes)} are free on the store's disk"
    days = condition.days_left
    if not isinf(days) and days < _LONG_DAYS:
        said += f", enough for {days:.0f} days as it fills now"
    if condition.reserve_given_up:
        said += f"; of laidup's own reserve {_megabytes(condition.reserve_bytes or 0)} are left"
    return f"{said}."


def _megabytes(count: int) -> str:
    megabytes = count / 1e6
    if megabytes >= 10_000:
        return f"{megabytes / 1000:.0f} GB"
    return f"{megabytes:.0f} MB" if megabytes >= 10 else f"{megabytes:.1f} MB"


def job_fault_line(job: JobName, problem: str) -> str:
    """What is wrong with a job, as a sentence."""
    return f"The {JOB_NAME[job]} {problem}."


def job_act(job: JobName) -> str:
    """What to do about it."""
    return f"{_REMEDY[job]} laidup tries again by itself."
