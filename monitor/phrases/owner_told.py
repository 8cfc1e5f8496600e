"""What the yard's people read when an owner told them something from the page."""

from datetime import date

from monitor.craft.layup import Act, LayupEntry
from monitor.wording import Wording
from monitor.yard.caution import NOT_LIFE_SAFETY_NOTE

_COLLECTS = "collects it on "


def collection_note(on: date) -> str:
    """What the record holds of the day on which an owner collects a craft."""
    return f"{_COLLECTS}{on.isoformat()}"


def collection_day(entry: LayupEntry) -> date | None:
    """The day that `collection_note` wrote; None where an entry holds none."""
    if entry.act is not Act.COLLECTION_TOLD or not entry.note.startswith(_COLLECTS):
        return None
    try:
        return date.fromisoformat(entry.note.removeprefix(_COLLECTS))
    except ValueError:
        return None


def told_subject(entry: LayupEntry, craft: str, owner: str, words: Wording) -> str:
    """The notice in a line: who told what of which craft."""
    day = collection_day(entry)
    if day is not None:
        return f"{owner} collects {craft} on {day:%a} {day.day} {day:%b}"
    return f"{owner} ran {craft}, {words.clock(entry.at)}: lay it up again"


def told_text(entry: LayupEntry, craft: str, owner: str, words: Wording) -> str:
    """The whole notice: what was told, and what to do about it."""
    day = collection_day(entry)
    if day is not None:
        act = (
            f"{owner} says: I collect {craft} on {day:%A} {day.day} {day:%B %Y}. Have it ready;"
            f" `laidup layup spring {entry.craft}` has the steps before the first start."
        )
    else:
        act = (
            f"{owner} ran {craft} at {words.full_time(entry.at)}. Water came in, so what was laid"
            " up before no longer counts. Drain or treat it again before the next frost."
        )
    return f"{act}\n\nIt is on record as told by {owner}.\n\n{NOT_LIFE_SAFETY_NOTE}\n"
