"""Times as people write them: ``today 14:30``, ``20 Oct``, ``Mon 9am``, ``2026-11-02T14:30``.

A grammar of our own, because the libraries for this guess: they read ``10`` as a day and ``10/11``
as either of two. What can be read in two ways is refused here.
"""

import re
from datetime import date, datetime, time, timedelta, tzinfo

from monitor.craft.fields import in_our_time
from monitor.errors import BadValueError

_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
_TIME = re.compile(r"(\d{1,2})(?::(\d{2}))?\s*(am|pm|h)?$")
_NUMBERS_ONLY = re.compile(r"\d{1,2}[/.\-]\d{1,2}([/.\-]\d{2,4}|\.)?$")
# Without a year: 22/10 and 22.10. are days where only one of the two can be the month; 10.30 may be
# a time, and 10-30 two of them.
_DAY_WITHOUT_YEAR = re.compile(r"\d{1,2}(/\d{1,2}|\.\d{1,2}\.)$")
_WORDS = re.compile(r"[\s,]+")
_NOON = time(12)
_FIRST_YEAR = 1000  # of four digits: 26 may be a day


def parse_past_time(text: str, now: datetime) -> datetime:
    """Read a moment of the past on the clock that ``now`` stands on.

    Parameters
    ----------
    text : str
        ISO 8601, or a day and a time in either order, or one of them: a time alone is today's, a
        day alone its noon, or now where that is still to come. A day is ``today``, ``yesterday``,
        a weekday (the last one), ``20 Oct``, ``Oct 20``, ``Tue 20 Oct`` or ``20 Oct 2026``;
        without a year it is the last such day.
    now : datetime
        The present, in the yard's zone.

    Raises
    ------
    ValueError
        If it is no time, can be read in two ways, or is of no year that a record can be of; says
        how to write it.
    """
    at = _parse_time(text, now)
    try:
        return at if at.year == now.year else in_our_time(at)
    except BadValueError as error:
        problem = f"{text.strip()!r} is of the year {at.year}"
        raise BadValueError(problem, error.remedy) from error


def _parse_time(text: str, now: datetime) -> datetime:
    words = [word for word in _WORDS.split(text.strip().lower()) if word not in {"", "at", "on"}]
    exact = _parse_iso(text.strip(), now.tzinfo)
    if exact is not None:
        return exact
    if words == ["now"]:
        return minute_of(now)
    words = [
        part for word in words for part in ([word] if _is_time(word) else _day_in_numbers(word))
    ]
    hour, rest = _time_in(words)
    day = _parse_day(rest, now) if rest else now.date()
    if day is None or (hour is None and not rest):
        raise BadValueError(
            f"{text!r} is no time",
            "write it like today 14:30, yesterday, 20 Oct 9:15 or 2026-11-02T14:30",
        )
    at = datetime.combine(day, hour or _NOON, tzinfo=now.tzinfo)
    if day > now.date():
        raise BadValueError(f"{text!r} is still to come", "write a day up to today")
    return minute_of(now) if hour is None and at > now else at


def minute_of(at: datetime) -> datetime:
    """The minute that a moment lies in, which is how exactly people tell the time of work.

    With its seconds, work done "now" would stand behind work of the same minute that was told
    after it: a run on water before the antifreeze that it undid.
    """
    return at.replace(second=0, microsecond=0)


def lasting_time(text: str, now: datetime) -> str:
    """The same time in words that mean it on any later day too: ``today`` does not."""
    at = parse_past_time(text, now)
    day = f"{at.day} {at:%b} {at.year}"
    if is_day_alone(text):
        return day
    told = f"{day} {at:%H:%M}"
    return told if parse_past_time(told, now) == at else at.isoformat()


def is_day_alone(said: object) -> bool:
    """Whether a readable time, as text or as a file's own date, names a day and no hour."""
    if not isinstance(said, str):
        return isinstance(said, date) and not isinstance(said, datetime)
    text = said.strip().lower()
    words = [word for word in _WORDS.split(text) if word not in {"", "at", "on"}]
    iso = len(text) > len("2026-11-02") and text[:4].isdigit() and text[4] == "-"
    return not iso and words != ["now"] and _time_in(words)[0] is None


def is_time_alone(text: str) -> bool:
    """Whether a text names an hour and no day."""
    words = [word for word in _WORDS.split(text.strip().lower()) if word not in {"", "at"}]
    hour, rest = _time_in(words)
    return hour is not None and not rest


def day_of(text: str, now: datetime) -> date:
    """Read a day of the past, in the same words."""
    try:
        day = date.fromisoformat(text.strip())
    except ValueError:
        return parse_past_time(text, now).date()
    return in_our_time(day)


def _parse_iso(text: str, zone: tzinfo | None) -> datetime | None:
    if len(text) < len("2026-11-02") or not text[:4].isdigit():
        return None
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        return None
    if len(text) == len("2026-11-02"):
        at = datetime.combine(at.date(), _NOON)
    return at if at.tzinfo is not None else at.replace(tzinfo=zone)


def _day_in_numbers(word: str) -> list[str]:
    """A day in numbers alone as day, month and year in words, where it can be but one day."""
    if not _NUMBERS_ONLY.fullmatch(word):
        return [word]
    first, second, *year = (int(number) for number in re.findall(r"\d+", word))
    readings = {(day, month) for day, month in ((first, second), (second, first)) if month <= 12}
    if not year and len(readings) == 1 and _DAY_WITHOUT_YEAR.fullmatch(word):
        [(day, month)] = readings
        return [str(day), _MONTHS[month - 1]] if month else [word]
    if len(readings) != 1 or not year or year[0] < _FIRST_YEAR:
        raise BadValueError(
            f"{word!r} may be two different days", "write the month as a word, like 20 Oct 2026"
        )
    [(day, month)] = readings
    return [str(day), _MONTHS[month - 1] if month else "", str(year[0])]


def _is_time(word: str) -> bool:
    return ":" in word or word.endswith(("am", "pm"))


def _time_in(words: list[str]) -> tuple[time | None, list[str]]:
    """The time among the words, and the others: the last ones, or the first."""
    for said, rest in (
        (words[-2:], words[:-2]),
        (words[-1:], words[:-1]),
        (words[:2], words[2:]),
        (words[:1], words[1:]),
    ):
        found = _clock_time("".join(said)) if said and said[0][0].isdigit() else None
        if found is not None:
            return found, rest
    return None, words


def _clock_time(text: str) -> time | None:
    match = _TIME.fullmatch(text)
    if match is None or not (match[2] or match[3]):
        return None  # a bare number is as likely a day
    hour, minute = int(match[1]), int(match[2] or 0)
    if match[3] in {"am", "pm"}:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if match[3] == "pm" else 0)
    return time(hour, minute) if hour < 24 and minute < 60 else None


def _parse_day(words: list[str], now: datetime) -> date | None:
    """The day that words name: ``yesterday``, ``thu``, ``thu 5 nov``, ``5 nov 2026``."""
    today = now.date()
    [first, *rest] = words
    if not rest and first in {"today", "yesterday"}:
        return today - timedelta(days=first == "yesterday")
    weekday = _index_of_name(first, _WEEKDAYS)
    if weekday is None:
        return _calendar_day(words, today)
    if not rest:
        return today - timedelta(days=(today.weekday() - weekday) % 7)
    meant = _parse_day(rest, now)
    return meant if meant is not None and meant.weekday() == weekday else None


def _index_of_name(word: str, names: tuple[str, ...]) -> int | None:
    """Which month or weekday a word names by its first three letters or more; None: none."""
    is_name = len(word) >= 3 and word.isalpha() and word[:3] in names
    return names.index(word[:3]) if is_name else None


def _calendar_day(words: list[str], today: date) -> date | None:
    """The day of ``5 nov`` or ``nov 5 2026``; without a year the last one that has been."""
    months = [word for word in words if _index_of_name(word, _MONTHS) is not None]
    numbers = [re.sub(r"(st|nd|rd|th|\.)$", "", word) for word in words if word not in months]
    if len(months) != 1 or not numbers or not all(one.isdecimal() for one in numbers):
        return None
    month, day = _MONTHS.index(months[0][:3]) + 1, int(numbers[0])
    if len(numbers) == 2 and len(numbers[1]) == 4:
        return _date_or_none(int(numbers[1]), month, day)
    if len(numbers) > 1:
        return None
    this_year = _date_or_none(today.year, month, day)
    if this_year is not None and this_year <= today:
        return this_year
    return _date_or_none(today.year - 1, month, day)


def _date_or_none(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day)
    except (ValueError, OverflowError):
        return None


def in_zone(at: datetime, zone: tzinfo) -> datetime:
    """Read a time without an offset as the yard's wall clock."""
    return at.replace(tzinfo=zone) if at.tzinfo is None else at
