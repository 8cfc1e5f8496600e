"""What a printed season record is made of: words, tables and charts, before any layout."""

from dataclasses import dataclass, field
from datetime import date, datetime

from monitor.wording import Wording

MOST_ROWS = 14  # of a table: a record is read by people, and the rest stands in the JSON inside


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """A table: a heading a column, and its rows; ``shares`` are the columns' widths."""

    title: str
    heads: tuple[str, ...]
    rows: list[tuple[str, ...]]
    shares: tuple[float, ...]
    left_out: int = 0  # rows that only the JSON has


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """A chart, and in words what it shows."""

    svg: str
    words: str
    caption: str
    is_half: bool = False  # stands beside the next one


Block = str | Told | Drawn


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One part of the record under its heading."""

    title: str
    blocks: list[Block] = field(default_factory=list)
    on_own_page: bool = False  # a new page begins with it


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordPages:
    """All that a printed report says, in reading order; ``signatures`` empty: nobody signs it."""

    title: str
    yard: str
    made: datetime
    facts: list[tuple[str, str]]
    parts: list[Part]
    signatures: list[str]
    foot: str
    language: str = "en"
    attachment: str = "season-record.json"
    attachment_words: str = "The figures of this record for machines: JSON, SI units, UTC"
    signing: str = ""  # heading above the signatures
    signing_words: str = ""  # what signing means
    left_out: str = "{count} more stand in the JSON inside."
    thousands: str = ","  # between them, in the count of what is left out


def moment_words(at: datetime | None, words: Wording) -> str:
    """``9 Nov 2026, 14:05``; in the night in which clocks go back ``1 Nov 2026, 01:30 CST``."""
    if at is None:
        return "not known"
    return f"{words.day(at)}, {words.hour_of_day(at)}"


def day_words(on: date) -> str:
    """``9 Nov 2026``."""
    return f"{on.day} {on:%b %Y}"


def share_words(share: float) -> str:
    """``97 %``; never 100 for less than all."""
    return f"{min(int(share * 100), 99)} %" if share < 1.0 else "100 %"


def count_words(number: int, noun: str) -> str:
    """``1 night``, ``12 nights``."""
    return f"{number:,} {noun}" if number == 1 else f"{number:,} {noun}s"


def span_words(seconds: float) -> str:
    """``17 min``, ``3 h 05 min``, ``4 d 7 h``."""
    minutes = round(seconds / 60.0)
    if minutes < 60:
        return f"{minutes} min"
    hours = minutes // 60
    return f"{hours} h {minutes % 60:02} min" if hours < 48 else f"{hours // 24} d {hours % 24} h"
