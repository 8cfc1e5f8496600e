"""A past night in words: what was said of it in the evening, what it came to, what judged it."""

from collections.abc import Iterable
from datetime import date, datetime

from monitor.phrases.names import plain
from monitor.phrases.numbers import nights_in_words
from monitor.wording import Wording
from monitor.yard.assessment import Origin
from monitor.yard.forecast import SaidNight

NOTHING_SAID = "Nothing was said of it that evening, or it was not kept."
ALL_HELD = "Every craft held what that night was expected to bring."
NOBODY_THERE = "No craft was in the yard's care then."
NOTHING_JUDGED = "Nothing was judged by then."
HOW_KEPT = (
    "A judgement is kept when its standing changes: its figures are of that hour. The record of"
    " work is read as it stands now, for that hour."
)
_DIGEST = 12  # signs of one that tell settings apart


def said_of_night(said: SaidNight, words: Wording, seen_at: datetime) -> str:
    """What was said of a space's night: its median, where it most likely lies, its chance.

    Parameters
    ----------
    said : SaidNight
    words : Wording
    seen_at : datetime
        Hour of which the whole page is; one that was said at another tells it.
    """
    cold, middle, warm = (
        words.temperature(each) for each in (said.cold_c, said.expected_c, said.warm_c)
    )
    ice = ""
    if said.below_zero is not None:
        point = words.temperature(0.0, 0)
        ice = f" Below {point} {nights_in_words(said.below_zero)}."
    hour = "" if said.said_at == seen_at else f"at {words.day_and_hour(said.said_at)[1]} "
    return f"{hour}down to {middle}, most likely {cold} to {warm}.{ice}"


def came_to(said: SaidNight, words: Wording) -> str:
    """What the night came to, and how that lies to what was said."""
    if said.low_c is None:
        return "What it came to is not known: it is not over, or too little of it was read."
    low = words.temperature(said.low_c)
    if said.low_c < said.cold_c:
        return f"It came to {low}: colder than the range."
    if said.low_c > said.warm_c:
        return f"It came to {low}: milder than the range."
    return f"It came to {low}: within the range."


def night_title(evening: date) -> str:
    """What a night is called: ``Night from Friday 13 November 2026``."""
    return f"Night from {evening:%A} {evening.day} {evening:%B %Y}"


def origin_lines(origins: Iterable[Origin]) -> list[str]:
    """By which programs and settings the judgements were made, each once."""
    lines = []
    for one in dict.fromkeys(origins):
        program = f"laidup {plain(one.program)}" if one.program else "a program that kept no name"
        settings = one.settings[:_DIGEST] or "not kept"
        profile = f", craft profile {one.profile[:_DIGEST]}" if one.profile else ""
        lines.append(f"{program}, yard's file {settings}{profile}")
    return lines
