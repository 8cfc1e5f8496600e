"""The nights of a season record and the air of its spaces, as blocks of a page."""

from collections.abc import Iterator

from monitor.phrases.claim_words import claim_words_of
from monitor.phrases.names import plain, space_name
from monitor.reports.season.charts import air_chart, nights_chart
from monitor.reports.season.figures import AirStoodIn, NightVerdict, SeasonFigures, SeasonNight
from monitor.reports.season.page_blocks import Block, Drawn, Told, share_words
from monitor.reports.season.record_catalogue import RecordWords
from monitor.reports.season.record_words import part_words, record_words_of, stretch_words
from monitor.reports.season.short_words import hours_words, nights_line, unjudged_line
from monitor.wording import Wording
from monitor.yard.space import Yard

_MOST_NIGHTS = 20
_WORST = list(NightVerdict)


def short_blocks(figures: SeasonFigures, yard: Yard, words: Wording) -> Iterator[Block]:
    """What matters most, in a few sentences."""
    say = record_words_of(words)
    if figures.unreadable:
        yield say.unreadable.format(why=plain(figures.unreadable.rstrip("."), 300))
    yield nights_line(figures, say)
    lows = [one for one in figures.air if one.low_c is not None]
    if lows:
        coldest = min(lows, key=lambda one: one.low_c or 0.0)
        yield say.lowest.format(
            low=words.temperature(coldest.low_c or 0.0),
            space=space_name(yard, coldest.space),
            at=say.write_moment(coldest.low_at, words),
        )
    unheard = figures.stood_h - figures.heard_h
    share = figures.heard_h / figures.stood_h if figures.stood_h else 0.0
    hours = hours_words(figures.stood_h, say)
    yield (
        say.heard_part.format(
            share=share_words(share), hours=hours, unheard=hours_words(unheard, say)
        )
        if unheard >= 1.0
        else say.heard_all.format(hours=hours)
    )
    asked = [one for one in figures.alarms if not one.is_of_space]
    late = [one for one in asked if one.answered_at is None]
    if asked:
        answers = say.never_answered.format(count=len(late)) if late else say.each_answered
        yield say.count_of(len(asked), say.own_alarms, answers=answers)
    else:
        yield say.no_own_alarm
    if unjudged := unjudged_line(figures, say):
        yield unjudged


def night_blocks(figures: SeasonFigures, yard: Yard, words: Wording) -> Iterator[Block]:
    """The nights as a chart, and those that came near, the worst first."""
    say = record_words_of(words)
    if not figures.nights:
        yield say.no_night
        return
    first, last = (say.write_date(figures.nights[n].evening) for n in (0, -1))
    yield Drawn(
        svg=nights_chart(figures.nights, words),
        words=say.nights_drawn.format(first=first, last=last, nights=nights_line(figures, say)),
        caption=say.nights_caption,
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
        yield say.all_held
        return
    if unknown:
        stretches = stretch_words([one.evening for one in unknown], words)
        yield say.count_of(len(unknown), say.without_reading, stretches=stretches)
    if told:
        shown = told[:_MOST_NIGHTS]
        several = len({one.space for one in told}) > 1  # of those left out as well
        where = "" if several else say.all_in.format(space=space_name(yard, shown[0].space))
        yield Told(
            title=say.near_title.format(where=where),
            heads=(
                say.night_from,
                *((say.space,) if several else ()),
                say.expected,
                say.came,
                say.inside,
                say.ice_begins,
                say.so,
            ),
            rows=[_night_row(one, figures, yard, words, with_space=several) for one in shown],
            shares=(1.1, *((1.1,) if several else ()), 2.2, 0.8, 2.2, 1.3, 2.1),
            left_out=len(told) - len(shown),
        )


def _night_row(
    night: SeasonNight, figures: SeasonFigures, yard: Yard, words: Wording, *, with_space: bool
) -> tuple[str, ...]:
    say, expected = record_words_of(words), ""
    if night.expected_c is not None:
        expected = words.temperature(night.expected_c)
        if night.cold_c is not None and night.warm_c is not None:
            cold, warm = words.temperature(night.cold_c), words.temperature(night.warm_c)
            expected = say.expected_between.format(expected=expected, cold=cold, warm=warm)
    inside = say.not_known
    if night.inside_low_c is not None:
        inside = words.temperature(night.inside_low_c)
        inside = say.probe.format(low=inside) if night.is_probed else inside
    if night.circuit:
        name = part_words(figures.craft.circuits.get(night.circuit, night.circuit), words)
        inside = say.inside_of.format(low=inside, name=name)
    limit = say.nothing_freezes if night.ice_point_c is None else words.ice_point(night.ice_point_c)
    if night.state is not None:
        state = claim_words_of(words.language).states[night.state]
        limit = say.limit_by.format(limit=limit, state=state)
    heard = "" if night.heard >= 0.995 else say.heard_share.format(share=share_words(night.heard))
    return (
        say.write_date(night.evening),
        *((space_name(yard, night.space),) if with_space else ()),
        expected or say.not_said,
        say.not_read if night.low_c is None else words.temperature(night.low_c),
        inside,
        limit,
        say.verdicts[night.verdict] + heard,
    )


def air_blocks(figures: SeasonFigures, yard: Yard, words: Wording) -> Iterator[Block]:
    """Where the craft stood, and the air there in figures and as a chart."""
    say = record_words_of(words)
    yield Told(
        title=say.stood_title,
        heads=(say.since, say.until, say.space_berth, say.entered_by),
        rows=[
            (
                say.write_moment(one.since, words),
                say.write_moment(one.until, words),
                say.berth.format(space=space_name(yard, one.space), berth=plain(one.berth))
                if one.berth
                else space_name(yard, one.space),
                plain(words.person(one.by)) if one.by else say.not_on_record,
            )
            for one in figures.kept
        ],
        shares=(1.2, 1.2, 1.6, 1.2),
    )
    below = [words.temperature(limit, 0) for limit in (0.0, -4.0, -12.0)]
    yield Told(
        title=say.air_title,
        heads=(
            say.space,
            say.heard,
            say.low,
            say.high,
            *(say.below.format(limit=one) for one in below),
            say.wet,
        ),
        rows=[_air_row(one, yard, words, say) for one in figures.air],
        shares=(1.4, 1.5, 1.0, 1.0, 1.0, 1.0, 1.0, 0.9),
    )
    for one in figures.air[:4]:
        if one.hours_by_bin:
            middle, cold, warm = (
                words.temperature(one.quantiles_c[each]) for each in (0.5, 0.05, 0.95)
            )
            space = space_name(yard, one.space)
            yield Drawn(
                svg=air_chart(one, words),
                words=say.air_drawn.format(
                    space=space,
                    middle=middle,
                    cold=cold,
                    warm=warm,
                    unheard=hours_words(one.stood_h - one.heard_h, say),
                ),
                caption=say.air_caption.format(space=space),
                is_half=True,
            )


def _air_row(air: AirStoodIn, yard: Yard, words: Wording, say: RecordWords) -> tuple[str, ...]:
    low, high = (
        say.not_read if value is None else words.temperature(value)
        for value in (air.low_c, air.high_c)
    )
    heard, stood = hours_words(air.heard_h, say), hours_words(air.stood_h, say)
    return (
        space_name(yard, air.space),
        say.hours_of.format(hours=heard, whole=stood),
        low,
        high,
        *(
            hours_words(air.below_h[limit], say) if air.heard_h else say.not_read
            for limit in (0.0, -4.0, -12.0)
        ),
        hours_words(air.wet_h, say) if air.humidity_heard_h else say.not_read,
    )
