"""Quality of storage in one reader's words: what page, PDF and command line say alike."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from statistics import median
from typing import Any

from monitor.phrases.names import SPACE_KIND, plain, sensor_label
from monitor.reports.season.page_blocks import count_words, day_words, share_words, span_words
from monitor.reports.season.short_words import hours_words, season_words
from monitor.reports.skill import FEWEST_NIGHTS, Skill
from monitor.reports.storage.figures import (
    FEW_DAYS,
    SpaceStorage,
    StorageFigures,
    StorageHours,
    StorageNight,
    StorageQuality,
)
from monitor.wording import Wording, hours_in_words, listed_first
from monitor.yard.space import WARM

_NAMED = 6
_WELL = 0.99  # a sensor that is heard for less is named
SPACE_HEADS = ("Space", "Inside limits", "Not heard", "Coldest")
NIGHT_HEADS = ("Night", "Lowest", "Expected", "Too cold", "Too damp", "Not heard")
SEASON_HEADS = ("Season", "Inside limits", "Not heard", "Coldest", "In time", "Saved")

HOW_COUNTED = (
    "An hour counts while a craft, or the battery of one, stands in the space. It is inside the"
    " limits if temperature and humidity were heard, the air was warm enough and it was dry"
    " enough. What was not heard counts as outside, and so does all of a space whose humidity"
    " nobody reads. A battery bench has no limit of damp.",
    "Warm enough: above freezing where heat keeps the craft; elsewhere no colder than the yard"
    " lays up for. Dry enough: relative humidity up to 80 % while the air is above freezing"
    " (time of wetness, ISO 9223). With several sensors the worst of each hour counts; readings of"
    " a sensor in doubt do not.",
    "An answer is in time before the hour that the alarm named; where it named none, within 15"
    " minutes at high priority, else within a day. An alarm that was over before then is counted"
    " against nobody.",
    "Saved is a craft that somebody drained, treated or carried elsewhere after its frost alarm,"
    " where the air it stood in then went on to ice the slowest part of it by the noon after, and"
    " no ice was computed in it all season. It says what the figures show, not that the craft is"
    " sound.",
    "Outdoors and in a cold building the weather decides much of this: compare seasons and yards"
    " of one kind, and look at the coldest air beside.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class SpaceWords:
    """One space, or the whole yard, as it is told."""

    id: str
    name: str
    kind: str
    lines: tuple[str, ...]
    nights: tuple[tuple[str, ...], ...]  # cells under `NIGHT_HEADS`
    bar: str  # SVG; empty where nothing stood there
    bar_words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StorageWords:
    """All that is said of a season."""

    title: str
    dates: str
    whole: SpaceWords
    overview: tuple[tuple[str, ...], ...]  # cells under `SPACE_HEADS`
    seasons: tuple[tuple[str, ...], ...]  # cells under `SEASON_HEADS`, this one first
    spaces: tuple[SpaceWords, ...]


def storage_words(
    figures: StorageFigures, bodies: Sequence[Mapping[str, Any]], words: Wording
) -> StorageWords:
    """Put a season's figures into words.

    Parameters
    ----------
    figures : StorageFigures
    bodies : sequence of mapping
        Seasons to compare, this one first, each as `storage_json` has it.
    words : Wording
        Zone and units of the reader.
    """
    until = words.day(figures.until)
    in_use = [one for one in figures.spaces if one.hours.of_h]
    idle = [plain(one.name) for one in figures.spaces if not one.hours.of_h]
    lines = list(quality_lines(figures.whole, words))
    if idle and in_use:
        lines.append(f"No craft stood in {listed_first(idle, _NAMED)}.")
    return StorageWords(
        title=f"Quality of storage, {season_words(figures.season)}",
        dates=f"{words.day(figures.since)} to {until}",
        whole=SpaceWords(
            id="",
            name=plain(figures.yard_name),
            kind="",
            lines=tuple(lines),
            nights=(),
            bar=hours_bar(figures.whole.hours),
            bar_words=_bar_words(figures.whole.hours),
        ),
        overview=tuple(_overview_row(one, words) for one in in_use),
        seasons=tuple(_season_row(one, figures.yard, words) for one in bodies),
        spaces=tuple(
            _space_words(one, words, tells_no_skill=figures.whole.skill is not None)
            for one in in_use
        ),
    )


def _space_words(space: SpaceStorage, words: Wording, *, tells_no_skill: bool) -> SpaceWords:
    return SpaceWords(
        id=space.space,
        name=plain(space.name),
        kind=SPACE_KIND[space.kind],
        lines=(
            _limit_line(space, words),
            *quality_lines(space, words, tells_no_skill=tells_no_skill),
        ),
        nights=tuple(_night_row(one, words) for one in space.worst),
        bar=hours_bar(space.hours),
        bar_words=_bar_words(space.hours),
    )


def _limit_line(space: SpaceStorage, words: Wording) -> str:
    low = words.temperature(space.limits.low_c, 0)
    why = "heat keeps the craft" if space.kind in WARM else "the coldest that the yard lays up for"
    if space.limits.is_own:
        why = "as the yard's file says of it"
    seen = (
        "Nothing was read of its air."
        if space.low_c is None or space.low_at is None
        else f"Coldest {words.temperature(space.low_c)} on {words.day(space.low_at)}."
    )
    unheard = (
        f" Of {count_words(space.nights, 'night')}"
        f" {_counted_verb(space.nights_unheard, 'was', 'were')} not heard enough to tell."
        if space.nights_unheard
        else ""
    )
    damp = ", and 80 % humidity above freezing" if space.limits.has_damp_limit else ""
    return f"Limits: {low} ({why}){damp}. {seen}{unheard}"


def quality_lines(
    quality: StorageQuality, words: Wording, *, tells_no_skill: bool = True
) -> Iterator[str]:
    """What a space or the yard is told by, the most telling first.

    Parameters
    ----------
    quality : StorageQuality
    words : Wording
    tells_no_skill : bool
        Whether forecasts that cannot be held against enough nights yet are named as missing.
    """
    yield from _hours_lines(quality.hours)
    if not quality.hours.of_h:
        return
    if quality.skill is not None:
        yield _forecast_line(quality.skill, words)
    elif tells_no_skill:
        yield (
            f"No skill of the forecasts is told: fewer than {FEWEST_NIGHTS} nights of it can be"
            " held against what came."
        )
    yield _uptime_line(quality)
    yield _answers_line(quality)
    if quality.saved.alarmed or quality.saved.iced:
        yield _saved_line(quality)


def _hours_lines(hours: StorageHours) -> Iterator[str]:
    if not hours.of_h:
        yield "No craft stood here, so there is nothing to tell."
        return
    inside = hours.share_of(hours.inside_h)
    few = (
        f" That is of {hours.span_h / 24.0:.1f} days only: under {FEW_DAYS:.0f} it says little."
        if hours.is_few
        else ""
    )
    yield (
        f"{share_words(inside or 0.0)} inside the limits: {hours_words(hours.inside_h)} of"
        f" {hours_words(hours.of_h)} with craft there ({hours.craft} craft).{few}"
    )
    unheard_h = hours.of_h - hours.heard_h
    if hours.heard_h == 0.0:
        yield (
            "None of its humidity counts: none came, or it stayed the same for a day or more, or"
            " its sensor was in doubt. Look at that sensor. Until then no hour counts as inside."
            if hours.air_heard_h
            else "Nothing of its air was heard, so no hour counts as inside."
        )
    elif unheard_h > 0.0:
        yield f"Not heard: {hours_words(unheard_h)}, which count as outside."
    if hours.heard_h:
        yield (
            f"Of what was heard, {hours_in_words(hours.too_cold_h)} too cold and"
            f" {hours_in_words(hours.too_damp_h)} too damp."
        )


def _forecast_line(skill: Skill, words: Wording) -> str:
    return (
        f"Evening forecasts of {skill.nights} nights: the low {words.difference(skill.error_k)} off"
        f" on the mean, against {words.difference(skill.persistence_error_k)} for last night's low"
        f" again; inside the range said {round(10 * skill.inside)} nights in 10 (8 are meant)."
    )


def _uptime_line(quality: StorageQuality) -> str:
    counted = [one for one in quality.sensors if one.heard_h is not None and one.of_h]
    if quality.uptime is None:
        return "No sensor of its air hangs here."
    poor = sorted(
        (one for one in counted if (one.heard_h or 0.0) / one.of_h < _WELL),
        key=lambda one: (one.heard_h or 0.0) / one.of_h,
    )
    named = [
        f"{sensor_label(one.sensor)} {share_words((one.heard_h or 0.0) / one.of_h)}" for one in poor
    ]
    least = f" Least: {listed_first(named, _NAMED)}." if named and len(counted) > 1 else ""
    count = count_words(len(counted), "sensor")
    return f"{count} heard {share_words(quality.uptime)} of the time with craft there.{least}"


def _answers_line(quality: StorageQuality) -> str:
    answers = quality.answers
    rest = []
    if answers.over_before_due:
        rest.append(
            f"{_counted_verb(answers.over_before_due, 'was', 'were')} over before an answer was due"
        )
    if answers.open_before_due:
        rest.append(f"{_counted_verb(answers.open_before_due, 'is', 'are')} open and not due yet")
    also = f" {'; '.join(rest)}." if rest else ""
    if answers.share is None:
        return f"No alarm had an answer due.{also}"
    waited_s = median(answers.waited_s) if answers.waited_s else None
    half = "" if waited_s is None else f" Half of all answers came within {span_words(waited_s)}."
    return (
        f"Alarms answered in time: {answers.in_time} of {answers.due}"
        f" ({share_words(answers.share)}); {answers.late} late, {answers.unanswered} by nobody."
        f"{half}{also}"
    )


def _counted_verb(count: int, one: str, many: str) -> str:
    return f"{count} {one if count == 1 else many}"


def _saved_line(quality: StorageQuality) -> str:
    saved = quality.saved
    iced = f" Ice was computed in {len(saved.iced)}." if saved.iced else ""
    if not saved.alarmed:
        return f"No craft had an alarm of frost.{iced}"
    unheard = (
        f" Of {len(saved.not_known)} more nobody heard the air after." if saved.not_known else ""
    )
    if not saved.made_safe:
        return f"Frost threatened {len(saved.alarmed)} craft; none is on record as made safe.{iced}"
    return (
        f"Frost threatened {len(saved.alarmed)} craft; somebody made {len(saved.made_safe)} safe,"
        f" and the cold that then came would have iced {len(saved.saved)} of them.{unheard}{iced}"
    )


def _overview_row(space: SpaceStorage, words: Wording) -> tuple[str, ...]:
    hours = space.hours
    return (
        plain(space.name),
        _share_cell(hours.share_of(hours.inside_h), is_few=hours.is_few),
        hours_words(hours.of_h - hours.heard_h),
        "not read" if space.low_c is None else words.temperature(space.low_c),
    )


def _season_row(body: Mapping[str, Any], own: str, words: Wording) -> tuple[str, ...]:
    hours, answers = body["whole"]["hours"], body["whole"]["answers"]
    saved = body["whole"]["craft_saved"]
    lows = [one["low_c"] for one in body["spaces"] if one["low_c"] is not None]
    name = season_words(int(body["season"]))
    if body["yard"]["id"] != own:
        name = f"{plain(str(body['yard']['name']))}, {name}"
    return (
        name,
        _share_cell(hours["share_inside"], is_few=bool(hours["few"])),
        hours_words(float(hours["of_h"]) - float(hours["heard_h"])),
        words.temperature(min(lows)) if lows else "not read",
        f"{answers['in_time']} of {answers['due']}" if answers["due"] else "none",
        f"{len(saved['saved'])} of {len(saved['alarmed'])}" if saved["alarmed"] else "none",
    )


def _share_cell(share: float | None, *, is_few: bool) -> str:
    if share is None:
        return "no craft"
    return f"{share_words(share)}{' (few days)' if is_few else ''}"


def _night_row(night: StorageNight, words: Wording) -> tuple[str, ...]:
    return (
        day_words(night.evening),
        "not read" if night.low_c is None else words.temperature(night.low_c),
        "not said" if night.expected_c is None else words.temperature(night.expected_c),
        hours_words(night.too_cold_h),
        hours_words(night.too_damp_h),
        hours_words(night.of_h - night.heard_h),
    )


def hours_bar(hours: StorageHours) -> str:
    """Hours inside, heard and outside, and not heard as one bar: solid, pale, empty; SVG."""
    if not hours.of_h:
        return ""
    inside = 100.0 * hours.inside_h / hours.of_h
    heard = max(100.0 * hours.heard_h / hours.of_h, inside)
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 500 14" width="500" height="14"'
        ' preserveAspectRatio="none">'
        f'<rect x="1" y="1" width="{4.98 * inside:.1f}" height="12" fill="currentColor"/>'
        f'<rect x="{1 + 4.98 * inside:.1f}" y="1" width="{4.98 * (heard - inside):.1f}"'
        ' height="12" fill="currentColor" fill-opacity="0.3"/>'
        '<rect x="1" y="1" width="498" height="12" fill="none" stroke="currentColor"'
        ' stroke-width="1"/></svg>'
    )


def _bar_words(hours: StorageHours) -> str:
    if not hours.of_h:
        return ""
    inside = hours.share_of(hours.inside_h) or 0.0
    heard = hours.share_of(hours.heard_h) or 0.0
    return (
        f"Inside the limits {share_words(inside)}, heard and outside"
        f" {round(100 * max(heard - inside, 0.0))} %, not heard {round(100 * (1.0 - heard))} %"
    )


def compared_bodies(own: Mapping[str, Any], beside: Iterable[Mapping[str, Any]]) -> list[Any]:
    """Seasons to compare, each once: the own one, those before it, those of other files."""
    found: dict[tuple[str, int], Mapping[str, Any]] = {}
    for body in (own, *beside):
        for one in (body, *body.get("earlier", ())):
            found.setdefault((one["yard"]["id"], int(one["season"])), one)
    return list(found.values())
