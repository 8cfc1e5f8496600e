"""The printed hard-winter test: a page with the answer, then the work craft by craft."""

from collections import Counter
from collections.abc import Iterator
from datetime import date, datetime, time, timedelta

import numpy as np

from monitor.phrases.hard_winter import (
    answer_sentences,
    assumption_sentences,
    chance_words,
    craft_place,
    due_words,
    outcome_words,
    parts_in_danger,
    saving_job,
    space_sentence,
    spaces_in_use,
    standing_sentences,
    weather_words,
    winter_title,
)
from monitor.phrases.names import plain
from monitor.phrases.step_in_words import capitalize_first
from monitor.phrases.supplies import minutes_words
from monitor.reports.season.charts import winter_chart
from monitor.reports.season.page_blocks import Block, Drawn, Part, RecordPages, Told, moment_words
from monitor.wording import Wording
from monitor.yard.caution import NOT_LIFE_SAFETY_NOTE
from monitor.yard.hard_winter import CraftWinter, HardWinter, WinterWeather, night_of_time
from monitor.yard.space import Yard

_HEADS = (
    "Before the night of", "Craft", "This winter it", "How often", "In danger", "What saves it",
    "Work",
)  # fmt: skip
_NOON = time(12)
_BEGUN = timedelta(hours=2)  # of which less is known is no night yet
_MOST_ROWS = 400  # of craft: a shop prints no book, and the JSON inside has all


def winter_pages(winter: HardWinter, words: Wording) -> RecordPages:
    """Put a hard-winter test into pages.

    Parameters
    ----------
    winter : HardWinter
    words : Wording
        Zone and units of whoever reads it; without a present, so that every time has its date.
    """
    return RecordPages(
        title=winter_title(winter),
        yard=weather_words(winter, words),
        made=winter.made_at,
        facts=[("Made", f"{moment_words(winter.made_at, words)}, of the record as it was then")],
        parts=[
            Part(title="The answer", blocks=list(_answer_blocks(winter, words))),
            Part(title="It rests on", blocks=list(assumption_sentences(winter, words))),
            Part(
                title="Craft by craft", blocks=list(_craft_blocks(winter, words)), on_own_page=True
            ),
            Part(
                title="How cold it gets, and how that is known",
                blocks=[space_sentence(one, winter, words) for one in spaces_in_use(winter)],
            ),
        ],
        signatures=[],
        foot=NOT_LIFE_SAFETY_NOTE,
        attachment="hard-winter-test.json",
        attachment_words="The figures of this test for machines: JSON, SI units, UTC",
    )


def _answer_blocks(winter: HardWinter, words: Wording) -> Iterator[Block]:
    yield from answer_sentences(winter, words)
    yield from standing_sentences(winter, words)
    lows_c, unread = lows_of_nights(winter.weather, winter.yard)
    due = Counter(
        night_of_time(one.due_at, winter.yard)
        for one in winter.craft
        if one.in_danger and one.due_at is not None
    )
    lowest = min(lows_c.values())
    shaded = " Shaded: nights of which hours are missing." if unread else ""
    yield Drawn(
        svg=winter_chart(lows_c, unread, due, words),
        words=(
            f"Lowest outdoor air of {len(lows_c)} nights, the coldest"
            f" {words.temperature(lowest, 0)}; work on {due.total()} craft is due before"
            f" {len(due)} of them."
        ),
        caption=(
            "Each night's lowest outdoor air. Squares: nights before which work is due, with the"
            f" number of craft.{shaded}"
        ),
    )


def lows_of_nights(weather: WinterWeather, yard: Yard) -> tuple[dict[date, float], set[date]]:
    """Each night's lowest known outdoor air [°C], and the nights of which hours are missing.

    Nights run from noon to noon by the yard's clock. The noon at which the weather ends, which is
    one o'clock in summer time, belongs to the night that it ends.
    """
    last = night_of_time(weather.end, yard)
    noon = datetime.combine(last, _NOON, yard.zone)
    has_begun = weather.end - noon >= _BEGUN
    lows: dict[date, float] = {}
    unread = set()
    for after_h, air_c in zip(weather.hours.tolist(), weather.air_c.tolist(), strict=True):
        evening = night_of_time(weather.time_of(after_h), yard)
        if evening == last and not has_begun:
            evening -= timedelta(days=1)
        if np.isnan(air_c):
            unread.add(evening)
        else:
            lows[evening] = min(air_c, lows.get(evening, air_c))
    return lows, unread


def _craft_blocks(winter: HardWinter, words: Wording) -> Iterator[Block]:
    danger = [one for one in winter.craft if one.in_danger]
    if not danger:
        yield "No craft is in danger in this winter."
        return
    yield Told(
        title="In the order of doing. Each job whole, with every step, its cautions and what to"
        " enter: laidup work-sheet.",
        heads=_HEADS,
        rows=[_craft_row(one, winter, words) for one in danger[:_MOST_ROWS]],
        shares=(0.75, 1.15, 1.25, 0.7, 2.1, 2.1, 0.95),
        left_out=max(len(danger) - _MOST_ROWS, 0),
    )


def _craft_row(told: CraftWinter, winter: HardWinter, words: Wording) -> tuple[str, ...]:
    return (
        due_words(told, winter),
        f"{plain(told.craft.name)}, {craft_place(told, winter)}",
        outcome_words(told, winter),
        chance_words(told),
        capitalize_first(parts_in_danger(told)),
        capitalize_first(saving_job(told, words)),
        minutes_words(told.minutes),
    )
