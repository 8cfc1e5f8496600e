"""The nights of a season record and the air of its spaces, as blocks of a page."""

from collections.abc import Iterator

from monitor.phrases.names import plain, space_name
from monitor.reports.season.charts import air_chart, nights_chart
from monitor.reports.season.figures import AirStoodIn, NightVerdict, SeasonFigures, SeasonNight
from monitor.reports.season.page_blocks import (
    Block,
    Drawn,
    Told,
    count_words,
    day_words,
    moment_words,
    share_words,
    stretch_words,
)
from monitor.reports.season.short_words import (
    NIGHT_WORDS,
    hours_words,
    nights_line,
    unjudged_line,
)
from monitor.wording import Wording
from monitor.yard.space import Yard

_MOST_NIGHTS = 20
_WORST = list(NightVerdict)


def short_blocks(figures: SeasonFigures, yard: Yard, words: Wording) -> Iterator[Block]:
    """What matters most, in a few sentences."""
    if figures.unreadable:
        yield (
            "Nothing of the record of work counts, and every circuit is taken for plain water:"
            f" {plain(figures.unreadable.rstrip('.'), 300)}."
        )
    yield nights_line(figures)
    lows = [one for one in figures.air if one.low_c is not None]
    if lows:
        coldest = min(lows, key=lambda one: one.low_c or 0.0)
        yield (
            f"Lowest air around it: {words.temperature(coldest.low_c or 0.0)} in"
            f" {space_name(yard, coldest.space)}, in the hour from"
            f" {moment_words(coldest.low_at, words)}."
        )
    unheard = figures.stood_h - figures.heard_h
    share = figures.heard_h / figures.stood_h if figures.stood_h else 0.0
    yield (
        f"Heard {share_words(share)} of its {hours_words(figures.stood_h)} here; of"
        f" {hours_words(unheard)} nothing is known."
        if unheard >= 1.0
        else f"Heard all of its {hours_words(figures.stood_h)} here but for moments."
    )
    asked = [one for one in figures.alarms if not one.is_of_space]
    late = [one for one in asked if one.answered_at is None]
    if asked:
        answers = f"{len(late)} never answered" if late else "each answered"
        yield f"{count_words(len(asked), 'alarm')} of its own, {answers}."
    else:
        yield "No alarm of its own."
    if unjudged := unjudged_line(figures):
        yield unjudged


def night_blocks(figures: SeasonFigures, yard: Yard, words: Wording) -> Iterator[Block]:
    """The nights as a chart, and those that came near, the worst first."""
    if not figures.nights:
        yield "No night has passed yet."
        return
    first, last = (day_words(figures.nights[n].evening) for n in (0, -1))
    yield Drawn(
        svg=nights_chart(figures.nights, words),
        words=(
            f"Lowest air and lowest inside of each night from {first} to {last}, with what the"
            f" craft held. {nights_line(figures)}"
        ),
        caption=(
            "Each night's lowest air (square: colder than it could stand, or ice computed; ring:"
            " near; dot: all else) and lowest inside the circuit with the least to spare"
            " (dash); the heavy line is where ice begins in it. Grey: nights that are not known."
        ),
    )
    near = sorted(
        figures.near_nights,
        key=lambda one: (
            _WORST.index(one.verdict),
            one.room_k if one.room_k is not None else 99.0,
            one.evening,
        ),
    )
    unknown = [one for one in near if one.verdict is NightVerdict.NOT_KNOWN and one.low_c is None]
    told = [one for one in near if one not in unknown]
    if not near:
        yield (
            "On every night it held, as measured and computed; of each, four fifths or more was"
            " heard."
        )
        return
    if unknown:
        yield (
            f"{count_words(len(unknown), 'night')} without any reading:"
            f" {stretch_words([one.evening for one in unknown])}. Nobody knows how cold they were."
        )
    if told:
        shown = told[:_MOST_NIGHTS]
        several = len({one.space for one in told}) > 1  # of those left out as well
        where = "" if several else f", all in {space_name(yard, shown[0].space)}"
        yield Told(
            title=f"Nights that came near its limit, passed it, or are not known{where}",
            heads=(
                "Night from",
                *(("Space",) if several else ()),
                "Expected (four in five)",
                "Came",
                "Inside, least to spare",
                "Ice begins",
                "So",
            ),
            rows=[_night_row(one, figures, yard, words, with_space=several) for one in shown],
            shares=(1.1, *((1.1,) if several else ()), 2.2, 0.8, 2.2, 1.3, 2.1),
            left_out=len(told) - len(shown),
        )


def _night_row(
    night: SeasonNight, figures: SeasonFigures, yard: Yard, words: Wording, *, with_space: bool
) -> tuple[str, ...]:
    expected = "not said"
    if night.expected_c is not None:
        expected = words.temperature(night.expected_c)
        if night.cold_c is not None and night.warm_c is not None:
            cold, warm = words.temperature(night.cold_c), words.temperature(night.warm_c)
            expected = f"{expected} ({cold} to {warm})"
    inside = "not known"
    if night.inside_low_c is not None:
        how = " (probe)" if night.is_probed else ""
        inside = words.temperature(night.inside_low_c) + how
    if night.circuit:
        name = plain(figures.craft.circuits.get(night.circuit, night.circuit))
        inside = f"{inside}: {name}"
    limit = (
        "nothing can freeze" if night.ice_point_c is None else words.ice_point(night.ice_point_c)
    )
    if night.state is not None:
        limit = f"{limit}, {night.state}"
    heard = "" if night.heard >= 0.995 else f", heard {share_words(night.heard)}"
    return (
        day_words(night.evening),
        *((space_name(yard, night.space),) if with_space else ()),
        expected,
        "not read" if night.low_c is None else words.temperature(night.low_c),
        inside,
        limit,
        NIGHT_WORDS[night.verdict] + heard,
    )


def air_blocks(figures: SeasonFigures, yard: Yard, words: Wording) -> Iterator[Block]:
    """Where the craft stood, and the air there in figures and as a chart."""
    yield Told(
        title="Where it stood",
        heads=("From", "To", "Space and berth", "Entered by"),
        rows=[
            (
                moment_words(one.since, words),
                moment_words(one.until, words),
                space_name(yard, one.space) + (f", berth {plain(one.berth)}" if one.berth else ""),
                plain(words.person(one.by)) if one.by else "not on record",
            )
            for one in figures.kept
        ],
        shares=(1.2, 1.2, 1.6, 1.2),
    )
    below = [words.temperature(limit, 0) for limit in (0.0, -4.0, -12.0)]
    yield Told(
        title="The air while it stood there, of the hours that were heard",
        heads=("Space", "Heard", "Low", "High", *(f"Below {one}" for one in below), "Wet"),
        rows=[_air_row(one, yard, words) for one in figures.air],
        shares=(1.4, 1.5, 1.0, 1.0, 1.0, 1.0, 1.0, 0.9),
    )
    for one in figures.air[:4]:
        if one.hours_by_bin:
            middle, cold, warm = (one.quantiles_c[each] for each in (0.5, 0.05, 0.95))
            yield Drawn(
                svg=air_chart(one, words),
                words=(
                    f"Hours of {space_name(yard, one.space)} by the temperature of its air: half of"
                    f" them below {words.temperature(middle)}, nine of ten between"
                    f" {words.temperature(cold)} and {words.temperature(warm)};"
                    f" {hours_words(one.stood_h - one.heard_h)} not heard."
                ),
                caption=(
                    f"{space_name(yard, one.space)}: hours at each temperature, and hours that were"
                    " not heard (hatched)."
                ),
                is_half=True,
            )


def _air_row(air: AirStoodIn, yard: Yard, words: Wording) -> tuple[str, ...]:
    low, high = (
        "not read" if value is None else words.temperature(value)
        for value in (air.low_c, air.high_c)
    )
    wet = hours_words(air.wet_h) if air.humidity_heard_h else "not read"
    return (
        space_name(yard, air.space),
        f"{hours_words(air.heard_h)} of {hours_words(air.stood_h)}",
        low,
        high,
        *(
            hours_words(air.below_h[limit]) if air.heard_h else "not read"
            for limit in (0.0, -4.0, -12.0)
        ),
        wet,
    )
