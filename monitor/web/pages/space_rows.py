"""The spaces on the evening page: tonight's low and chance of frost in each, and its craft."""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from monitor.phrases.figures import figures_of
from monitor.phrases.names import SPACE_KIND, judged_part_name, plain
from monitor.phrases.numbers import as_nights, margin_words
from monitor.phrases.standings import is_well, row_of
from monitor.reports.picture import CraftPicture, SpacePicture
from monitor.web.page_templates import craft_path, space_path
from monitor.wording import Wording
from monitor.yard.assessment import Assessment, Standing

_BEFORE_UNIT = "\N{NO-BREAK SPACE}"
SHOWN_CRAFT = 12  # of one space; the others are counted
SHOWN_SPACES = 12  # in a line each; the others stand behind one fold


@dataclass(frozen=True, slots=True, kw_only=True)
class CraftLine:
    """One craft in the list of its space: its worst part."""

    id: str
    name: str
    berth: str
    path: str
    standing: str
    weight: str
    told: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SpaceRow:
    """One space: how cold it gets tonight, how likely below freezing, and how its craft stand."""

    id: str
    name: str
    kind: str
    path: str
    low: str
    likely: str  # the range of its low
    frost: str
    dips_at: datetime | None  # below freezing from then on
    told: str  # what is wrong with its air, or with what is known of it
    craft_count: int
    not_holding: str  # how many of them do not hold, and how many of these have ice inside
    craft: tuple[CraftLine, ...]  # the worst first

    @property
    def not_shown(self) -> int:
        """How many more craft there are."""
        return self.craft_count - len(self.craft)


def list_space_rows(
    spaces: Iterable[SpacePicture], craft: Iterable[CraftPicture], words: Wording
) -> tuple[SpaceRow, ...]:
    """Every space, each with the first of its craft, the worst first.

    A few spaces stand in the yard's own order; of more than `SHOWN_SPACES` those with the worst
    craft stand first, and before them those whose air is not as it should be.

    Parameters
    ----------
    spaces : iterable of SpacePicture
        In the yard's order.
    craft : iterable of CraftPicture
        The worst first.
    words : Wording
        Of the reader.
    """
    here: dict[str, list[CraftPicture]] = {}
    for one in craft:
        here.setdefault(one.craft.space, []).append(one)
    rows = [_space_row(one, here.get(one.space.id, ()), words) for one in spaces]
    if len(rows) > SHOWN_SPACES:
        place = {space: n for n, space in enumerate(here)}
        last = len(place)
        rows.sort(key=lambda row: (not row.told, place.get(row.id, last)))
    return tuple(rows)


def rest_of_spaces_words(rows: Sequence[SpaceRow]) -> str:
    """``28 more spaces, in 3 of them craft that do not hold``; empty where there is none."""
    weak = sum(bool(row.not_holding or row.told) for row in rows)
    if not rows:
        return ""
    count = f"{len(rows)} more space{'s' * (len(rows) != 1)}"
    if not weak:
        return f"{count}, all craft there hold"
    return f"{count}, in {'all' if weak == len(rows) else weak} of them craft that do not hold"


def _space_row(one: SpacePicture, craft: Sequence[CraftPicture], words: Wording) -> SpaceRow:
    air, figures = one.air, figures_of(one.air)
    return SpaceRow(
        id=one.space.id,
        name=plain(one.space.name),
        kind=SPACE_KIND[one.space.kind],
        path=space_path(one.space.id),
        low="" if math.isnan(air.low_c) else words.temperature(air.low_c, 0),
        likely=_likely_range(figures, words),
        frost=_frost_words(air, figures, words),
        dips_at=air.deadline if air.deadline and air.deadline > words.now else None,
        told="" if is_well(air) or air.standing is Standing.NOT_KNOWN else row_of(air).word,
        craft_count=len(craft),
        not_holding=not_holding_words([each.worst for each in craft if each.worst is not None]),
        craft=tuple(_craft_row(each, words) for each in craft[:SHOWN_CRAFT]),
    )


def not_holding_words(worst: Sequence[Assessment]) -> str:
    """``2 of 5 craft have ice inside, 1 more does not hold``; empty where all hold."""
    unread = sum(each.standing is Standing.NOT_KNOWN for each in worst)
    if unread == len(worst) > 0:
        return f"{unread} craft cannot be judged"
    iced = sum(row_of(each).too_late for each in worst)
    weak = sum(not is_well(each) for each in worst) - iced
    has, hold = "has" if iced == 1 else "have", "does not hold" if weak == 1 else "do not hold"
    if not iced:
        return f"{weak} of {len(worst)} craft {hold}" if weak else ""
    more = f", {weak} more {hold}" if weak else ""
    return f"{iced} of {len(worst)} craft {has} ice inside{more}"


def _likely_range(figures: Mapping[str, float], words: Wording) -> str:
    """``−7 to −3``; its unit stands beside the low."""
    ends = (figures.get("low_band_low_c", math.nan), figures.get("low_band_high_c", math.nan))
    if any(math.isnan(end) for end in ends):
        return ""
    cold, warm = (words.temperature(end, 0).partition(_BEFORE_UNIT)[0] for end in ends)
    return "" if cold == warm else f"{cold} to {warm}"


def _frost_words(air: Assessment, figures: Mapping[str, float], words: Wording) -> str:
    """How often such a night goes below freezing there, or that it is there already."""
    if air.standing is Standing.NOT_KNOWN:
        return "nobody knows how cold it gets"
    if air.deadline is not None and air.deadline <= words.now:
        return "below freezing now"
    chance = figures.get("chance_below_zero", math.nan)
    if math.isfinite(chance):
        _, nights, of = as_nights(chance)
        return f"frost {nights} night{'s' * (nights != 1)} in {of}" if nights else "no frost"
    return "no frost expected" if air.deadline is None else "frost expected"


def _craft_row(one: CraftPicture, words: Wording) -> CraftLine:
    worst, craft = one.worst, one.craft
    told = "no circuit that holds water"
    if worst is not None:
        told = f"{plain(judged_part_name(worst, craft))}, {margin_words(worst, words)}"
    return CraftLine(
        id=craft.id,
        name=plain(craft.name),
        berth=plain(craft.berth),
        path=craft_path(craft.id),
        standing="" if worst is None else row_of(worst).word,
        weight="" if worst is None else row_of(worst).weight,
        told=told,
    )
