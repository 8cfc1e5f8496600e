"""A season record in a few lines, for a screen: what matters, with what it is counted of."""

from collections import Counter
from collections.abc import Iterator

from monitor.phrases.names import plain, space_name
from monitor.reports.season.figures import (
    AirStoodIn,
    NightVerdict,
    SeasonFigures,
    SeasonNight,
    WorkStatus,
)
from monitor.reports.season.record_catalogue import RecordWords
from monitor.reports.season.record_english import ENGLISH_RECORD
from monitor.wording import Wording
from monitor.yard.caution import NOT_LIFE_SAFETY_NOTE
from monitor.yard.space import Yard


def season_title(figures: SeasonFigures) -> str:
    """``Teal, season 2026/27``."""
    return f"{plain(figures.craft.name)}, season {season_words(figures.season)}"


def season_words(year: int) -> str:
    """``2026/27``."""
    return f"{year}/{(year + 1) % 100:02}"


def short_lines(figures: SeasonFigures, yard: Yard, words: Wording) -> Iterator[str]:
    """The record in short, the worst first."""
    until = words.day(figures.until)
    yield f"{season_title(figures)}: in the yard {words.day(figures.since)} to {until}."
    if figures.unreadable:
        yield f"Nothing of its record counts: {figures.unreadable.rstrip('.')}."
    yield nights_line(figures)
    for air in figures.air:
        heard = f"{hours_words(air.stood_h)}, heard {hours_words(air.heard_h)} of them"
        yield f"{space_name(yard, air.space)}: {heard}; {_air_words(air, words)}."
    count = Counter(one.status for one in figures.work)
    changed = (
        "" if not count[WorkStatus.CORRECTED] else f", {count[WorkStatus.CORRECTED]} corrected"
    )
    declined = f", {len(figures.declined)} declined by the owner" if figures.declined else ""
    stands = count[WorkStatus.STANDS] + count[WorkStatus.CORRECTED]
    yield f"Work on record: {stands}{changed}{declined}."
    answered = sum(one.answered_at is not None for one in figures.alarms)
    yield f"Alarms: {len(figures.alarms)}, answered {answered}. Messages to its owner: " + (
        f"{len(figures.messages)}."
    )
    told = [one for alarm in figures.alarms for one in alarm.told]
    if told:
        taken = sum(one.fate == "taken" for one in told)
        yield f"Times that the yard's people were told of them: {len(told)}, taken {taken}."
    if unjudged := unjudged_line(figures):
        yield unjudged
    yield NOT_LIFE_SAFETY_NOTE


def _air_words(air: AirStoodIn, words: Wording) -> str:
    """Low, and hours below 0 °C and wet; what nobody heard is told as none of these."""
    if air.low_c is None:
        return "no reading"
    wet = hours_words(air.wet_h) if air.humidity_heard_h else "not read"
    return (
        f"low {words.temperature(air.low_c)}, {hours_words(air.below_h[0.0])} below"
        f" {words.temperature(0.0, 0)}, wet {wet}"
    )


def nights_line(figures: SeasonFigures, say: RecordWords = ENGLISH_RECORD) -> str:
    """How many nights, and how they went, the worst first."""
    if not figures.nights:
        return say.no_night
    count = Counter(one.verdict for one in figures.nights)
    said = [f"{count[each]} {say.verdicts[each]}" for each in NightVerdict if count[each]]
    worst = worst_night(figures)
    line = say.nights_said.format(
        nights=say.count_of(len(figures.nights), say.nights), verdicts=", ".join(said)
    )
    return line if worst is None else line + say.worst.format(day=say.write_date(worst.evening))


def unjudged_line(figures: SeasonFigures, say: RecordWords = ENGLISH_RECORD) -> str:
    """On how many nights no alarm could come; empty where each was judged as it passed."""
    unjudged = [one for one in figures.nights if one.circuit and one.worst_standing is None]
    return say.count_of(len(unjudged), say.unjudged) if unjudged else ""


def worst_night(figures: SeasonFigures) -> SeasonNight | None:
    """The known night with the least to spare; None where each held, or none is known."""
    known = [
        one
        for one in figures.near_nights
        if one.verdict is not NightVerdict.NOT_KNOWN and one.room_k is not None
    ]
    order = list(NightVerdict)
    return min(known, key=lambda one: (order.index(one.verdict), one.room_k or 0.0), default=None)


def hours_words(hours: float, say: RecordWords = ENGLISH_RECORD) -> str:
    """``482 h``, ``6.4 h``; hours never vanish by rounding."""
    if 0.0 < hours < 0.1:
        return say.under_a_tenth
    whole = hours >= 100.0 or hours == round(hours)
    return say.write_number(f"{hours:,.0f} h" if whole else f"{hours:.1f} h")
