"""Autumn's backlog in words: what is left, done by when at this pace, and what it takes.

Every figure says what it rests on; a pace that nobody can tell is not told.
"""

from collections.abc import Sequence
from datetime import date

from monitor.craft.plan.pace import HARD_NIGHT_C, Finish, HardNight, LayupPace
from monitor.craft.plan.yard import Supply, Workload
from monitor.phrases.supplies import minutes_words, supply_words, work_days_words
from monitor.wording import Wording

ALL_DONE = "Every craft in the yard is laid up."


def undone_words(count: int, in_care: int) -> str:
    """How many of how many are left."""
    return f"{count} of {in_care} craft {'is' if count == 1 else 'are'} not laid up"


def finish_words(finish: Finish | None) -> str:
    """At this pace done by when; that nobody can tell, where the record shows too little."""
    if finish is None:
        return "the record shows too few days of work to tell a pace"
    if finish.early is None:
        return "at this pace not done within a year"
    if finish.late is None:
        return f"at this pace done {day_words(finish.early)} at the soonest, perhaps not this year"
    if finish.early == finish.late:
        return f"at this pace done {day_words(finish.early)}"
    return f"at this pace done {day_words(finish.early)} to {day_words(finish.late)}"


def backlog_line(count: int, in_care: int, finish: Finish | None) -> str:
    """The one line of page and letter."""
    return f"{undone_words(count, in_care)}: {finish_words(finish)}." if count else ALL_DONE


def pace_words(pace: LayupPace | None) -> str:
    """The pace of the last weeks, and how it is reckoned."""
    if pace is None:
        return (
            "Pace: not known. It takes a week since the first craft was finished, and three days on"
            " which one was."
        )
    days = len(pace.per_day)
    return (
        f"Pace: {pace.per_week:.1f} craft a week over the last {days} days, days without work"
        " counted; a day on which far more was entered than on others counts as three of these."
    )


def hard_night_words(hard: HardNight | None, likely: date | None, words: Wording) -> str:
    """Chance of a hard night before the likely end, and what it rests on."""
    if hard is None or likely is None:
        return ""
    return (
        f"A hard night ({words.temperature(HARD_NIGHT_C, 0)} or colder where they stand) before"
        f" {day_words(likely)}: {_chance_words(hard.chance)}."
    )


def basis_words_of(hard: HardNight | None) -> str:
    """What that chance rests on."""
    if hard is None:
        return ""
    near = (
        f"the public forecast for {hard.forecast_nights} nights (its spread is our estimate)"
        if hard.forecast_nights
        else "no public forecast"
    )
    past = (
        f"{hard.past_winters} past winter{'' if hard.past_winters == 1 else 's'} of this yard,"
        " beside what is usual where winters freeze"
        if hard.past_winters
        else "what is usual where winters freeze"
    )
    return f"It rests on {near} and on {past} (common practice, no source)."


def _chance_words(chance: float) -> str:
    if chance >= 0.95:
        return "all but sure"
    if chance < 0.05:
        return "less than 1 autumn in 20"
    if chance < 0.095:
        return "1 autumn in 20"
    return f"{max(1, round(10 * chance))} autumns in 10"


def needed_words(
    load: Workload,
    supplies: Sequence[Supply],
    safe_until: date | None,
    hands: int | None,
    words: Wording,
    *,
    in_cold: bool,
) -> list[str]:
    """What it takes: hours and product by the plan, and hands to be through before the cold."""
    said = [
        f"By the plan {work_days_words(load.minutes, load.day_minutes)}."
        f" With {_people(load.hands)}, {minutes_words(load.day_minutes)} a day each, done"
        f" {day_words(load.done_on)}."
    ]
    if in_cold and safe_until is None:
        said.append("A hard night may come any night now: drain first what needs no product.")
    elif in_cold and safe_until is not None and hands is None:
        said.append(
            f"No crew of a dozen is through before {day_words(safe_until)}, when a hard night gets"
            " likelier than 1 in 10: drain first what needs no product."
        )
    elif in_cold and safe_until is not None and hands is not None:
        said.append(
            f"To be through by {day_words(safe_until)}, before a hard night gets likelier than 1 in"
            f" 10, it takes {_people(hands)}."
        )
    said += [f"{supply_words(one, words)}." for one in supplies]
    return said


def _people(count: int) -> str:
    return "1 person" if count == 1 else f"{count} people"


def day_words(day: date) -> str:
    """A day of this season: ``12 Dec``."""
    return f"{day.day} {day:%b}"
