"""Chances that were said of wet metal, batteries and shops, against how often it happened."""

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

import numpy as np

from monitor.reports.scores import brier, consistency, skill_over
from monitor.yard.assessment import Hazard
from simulator.winter import Lived
from tests.bench.scoring.watch import Heard, Said

HOUR_ASKED = 19  # of the yard's clock, at which its rounds fall
_WITHIN = timedelta(minutes=1)
OUTDOORS = frozenset({"row", "rack"})
BINS = (0.0, 0.05, 0.2, 0.5, 0.8, 1.01)
KINDS = {
    "sweat": "metal under a roof wet until the noon",
    "dew": "metal under the sky wet until the noon, dew or rime",
    "battery": "a battery's acid freezes until the noon",
    "shop": "a heated shop below 0 °C until the noon",
}


class Chance(NamedTuple):
    """What was said of one subject on one evening, and whether it happened until the noon."""

    kind: str
    said: float
    happened: bool


def chances_of(lived: Lived, heard: Heard) -> list[Chance]:
    """Chances said on every evening of a winter, each with what came of it."""
    zone, truth = heard.yard.zone, lived.truth
    found: list[Chance] = []
    for night in truth["evenings"]:
        evening = datetime.fromisoformat(f"{night}T{HOUR_ASKED}:00").replace(tzinfo=zone)
        noon = evening.replace(hour=12) + timedelta(days=1)
        if noon > heard.until:
            break
        found += _of_night(truth, heard, evening, noon)
    return found


def _of_night(
    truth: dict[str, Any], heard: Heard, evening: datetime, noon: datetime
) -> Iterable[Chance]:
    for craft in truth["craft"]:
        said = _said_at(heard, (Hazard.DAMP, craft["craft"], "engine"), evening)
        if np.isfinite(said):
            wet = craft["metal"]["wet"]
            kind = "dew" if space_at(craft, evening) in OUTDOORS else "sweat"
            yield Chance(kind, said, _overlaps(wet, evening, noon))
        battery = craft["battery"]
        iced_at = None if battery is None else battery["first_ice_at"]
        begun = iced_at is not None and _moment(iced_at) <= evening
        said = _said_at(heard, (Hazard.BATTERY, craft["craft"], "battery"), evening)
        # Of nights after the first ice the truth does not tell whether there was more.
        if battery is not None and not begun and np.isfinite(said):
            yield Chance("battery", said, iced_at is not None and _moment(iced_at) <= noon)
    for space in truth["spaces"]:
        said = _said_at(heard, (Hazard.AIR, space["space"], ""), evening)
        if space["space"] == "shop" and np.isfinite(said):
            yield Chance("shop", said, _overlaps(space["below_zero"], evening, noon))


def space_at(craft: dict[str, Any], at: datetime) -> str:
    """Where a craft stood, by the truth."""
    stays = [one["space"] for one in craft["moved"] if _moment(one["since"]) <= at]
    return str(stays[-1] if stays else craft["space"])


def _said_at(heard: Heard, key: tuple[Hazard, str, str], at: datetime) -> float:
    """The chance that a round said at that hour; NaN where none ran, or it was not known."""
    said: Sequence[Said] = heard.said.get(key, ())
    return next((one.chance for one in said if abs(one.at - at) <= _WITHIN), float("nan"))


def _overlaps(spells: Iterable[dict[str, Any]], since: datetime, until: datetime) -> bool:
    return any(
        _moment(one["from"]) < until and (one["to"] is None or _moment(one["to"]) > since)
        for one in spells
    )


def _moment(text: str) -> datetime:
    return datetime.fromisoformat(text).astimezone(ZoneInfo("UTC"))


def chance_rows(found: Sequence[Chance]) -> list[tuple[str, str, str]]:
    """Rows of the score: by how much was said, how often it happened, and what is due to luck."""
    rows = []
    for kind, name in KINDS.items():
        said = np.array([one.said for one in found if one.kind == kind])
        happened = np.array([one.happened for one in found if one.kind == kind], dtype=np.float64)
        if not said.size:
            continue
        share = float(happened.mean())
        score = brier(said, happened)
        skill = skill_over(score, share * (1.0 - share))
        rows.append((f"chance: {name}", f"Brier {score:.4f}, skill {skill:.2f}", "above 0"))
        for low, high in pairwise(BINS):
            here = (said >= low) & (said < high)
            if here.any():
                fewest, most = consistency(said[here])
                rows.append(
                    (
                        f"  said {100 * low:.0f} to {min(100 * high, 100):.0f} %, on average"
                        f" {100 * said[here].mean():.1f} %",
                        f"{100 * happened[here].mean():.1f} %"
                        f" ({happened[here].sum():.0f} of {here.sum()})",
                        f"{100 * fewest:.1f} to {100 * most:.1f} %",
                    )
                )
    return rows
