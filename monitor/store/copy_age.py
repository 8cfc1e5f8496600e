"""Where copies of the store are kept, what they are called, and whether the newest is too old."""

import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from monitor.wording import span_in_words

_OVERDUE_AFTER = timedelta(hours=36)  # one is taken each night; a night may be late, not missed


@dataclass(frozen=True, slots=True, kw_only=True)
class CopySettings:
    """Where copies are kept, and of how many days and weeks."""

    folder: Path
    days: int = 7
    weeks: int = 8


def copy_name(yard: str, at: datetime) -> str:
    """The file's name of a copy: the yard and the time, UTC."""
    return f"laidup-{yard}-{at.astimezone(UTC):%Y%m%dT%H%M%SZ}.db"


def copies_in(folder: Path, yard: str) -> list[tuple[datetime, Path]]:
    """The yard's copies in a folder, the oldest first; other files are left out.

    Raises
    ------
    OSError
        If the folder cannot be read.
    """
    form = re.compile(rf"laidup-{re.escape(yard)}-(\d{{8}}T\d{{6}}Z)\.db")
    found = (
        (datetime.strptime(match[1], "%Y%m%dT%H%M%SZ").replace(tzinfo=UTC), file)
        for file in folder.iterdir()
        if (match := form.fullmatch(file.name))
    )
    return sorted(found)


@dataclass(frozen=True, slots=True, kw_only=True)
class CopiesSeen:
    """How the copies in a folder stand."""

    newest_at: datetime | None = None
    overdue: str = ""  # why one is, in words; empty where one of this or the last night is there


def check_copies(settings: CopySettings, yard: str, now: datetime) -> CopiesSeen:
    """See how old the newest copy of the store is, and whether one is overdue.

    A copy gets its name only once it has been read back, so a failed one is none.
    """
    try:
        copies = copies_in(settings.folder, yard)
    except OSError as error:
        return CopiesSeen(overdue=f"{settings.folder} cannot be read: {error.strerror}")
    if not copies:
        return CopiesSeen(overdue=f"there is none of {yard} in {settings.folder}")
    newest_at = copies[-1][0]
    age = now - newest_at
    if age <= _OVERDUE_AFTER:
        return CopiesSeen(newest_at=newest_at)
    old = span_in_words(age.total_seconds())
    return CopiesSeen(newest_at=newest_at, overdue=f"the newest in {settings.folder} is {old} old")
