"""How true was what was said of past nights? Reliability, and skill over the yard's own climate."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from monitor.reports.scores import (
    LEVELS,
    Floats,
    Tenth,
    brier,
    quantile_crps,
    rank_quantiles,
    reliability,
    skill_over,
)
from monitor.units import json_number
from monitor.wording import Wording
from monitor.yard.forecast import SaidNight

FEWEST_NIGHTS = 14  # before there is anything to tell
_CLIMATE_NIGHTS = 45  # older ones belong to another season
_CLIMATE_BEGINS = 5
_CLIMATE_PRIOR = 2.0  # nights that "one in two" weighs where hardly a night is known
_MIDDLE = int(np.searchsorted(LEVELS, 0.5))


@dataclass(frozen=True, slots=True, kw_only=True)
class Skill:
    """What was said of a yard's nights, all spaces together, against what they came to.

    NaN where nothing was said of that kind. Skill is 1 for perfect words, 0 for words no better
    than the reference, and below 0 for worse ones.
    """

    since: date
    until: date  # evening of the last night
    nights: int
    lows: int  # a space a night
    tenths: tuple[Tenth, ...]  # of the chance of air below 0 °C
    brier: float
    brier_over_climate: float
    brier_over_persistence: float
    error_k: float  # mean absolute, of the expected low
    persistence_error_k: float  # of last night's low again, no higher than the air at the hour
    inside: float  # share of lows within the range said, which is to be 0.8
    crps_k: float
    crps_over_climate: float
    crps_over_persistence: float


@dataclass(frozen=True, slots=True)
class _Case:
    """One night of one space with what its own past says of it."""

    evening: date
    said: SaidNight
    low_c: float
    climate_c: Floats
    climate_below: float
    last_c: float


def skill_of(nights: Sequence[SaidNight]) -> Skill | None:
    """Hold what was said against what happened.

    Parameters
    ----------
    nights : sequence of SaidNight
        Of one yard, in any order. Those that are not over, or were not read, are left out, and so
        are each space's first five, which have no climate to be held against.

    Returns
    -------
    Skill or None
        None where fewer than 14 nights are left.
    """
    cases = _cases(nights)
    evenings = {each.evening for each in cases}
    if len(evenings) < FEWEST_NIGHTS:
        return None
    said = np.array([(e.said.cold_c, e.said.expected_c, e.said.warm_c) for e in cases])
    low = np.array([each.low_c for each in cases])
    last = np.array([each.last_c for each in cases])
    crps = float(quantile_crps(said, low).mean())
    climate = float(quantile_crps(np.array([each.climate_c for each in cases]), low).mean())
    again_k = float(np.abs(last - low).mean())
    tenths, scores = _chances(cases)
    return Skill(
        since=min(evenings),
        until=max(evenings),
        nights=len(evenings),
        lows=len(cases),
        tenths=tenths,
        brier=scores[0],
        brier_over_climate=skill_over(scores[0], scores[1]),
        brier_over_persistence=skill_over(scores[0], scores[2]),
        error_k=float(np.abs(said[:, _MIDDLE] - low).mean()),
        persistence_error_k=again_k,
        inside=float(((low >= said[:, 0]) & (low <= said[:, -1])).mean()),
        crps_k=crps,
        crps_over_climate=skill_over(crps, climate),
        crps_over_persistence=skill_over(crps, again_k),
    )


def _cases(nights: Sequence[SaidNight]) -> list[_Case]:
    """Every night that can be scored, each seen with the nights before it."""
    by_space: dict[str, list[SaidNight]] = defaultdict(list)
    for night in sorted(nights, key=lambda each: (each.space, each.evening)):
        if night.low_c is not None:
            by_space[night.space].append(night)
    found = []
    for of_space in by_space.values():
        lows = np.array([each.low_c for each in of_space], dtype=np.float64)
        for n in range(_CLIMATE_BEGINS, len(of_space)):
            night, past = of_space[n], lows[max(n - _CLIMATE_NIGHTS, 0) : n]
            past = np.minimum(past, night.air_c)
            below = ((past < 0.0).sum() + 0.5 * _CLIMATE_PRIOR) / (past.size + _CLIMATE_PRIOR)
            found.append(
                _Case(
                    night.evening, night, float(lows[n]), rank_quantiles(past), float(below),
                    float(past[-1]),
                )
            )  # fmt: skip
    return found


def _chances(cases: Sequence[_Case]) -> tuple[tuple[Tenth, ...], tuple[float, float, float]]:
    """Reliability, and the Brier scores of what was said, of climate and of persistence.

    Only evenings above 0 °C: below it, that it freezes is no news. Spaces of one night share its
    weather, so a night counts once in a tenth: by one of its spaces, another one each night.
    """
    told = [each for each in cases if each.said.below_zero is not None and each.said.air_c > 0.0]
    said = np.array([each.said.below_zero for each in told], dtype=np.float64)
    froze = np.array([each.low_c < 0.0 for each in told], dtype=np.float64)
    climate = np.array([each.climate_below for each in told], dtype=np.float64)
    again = np.array([each.last_c < 0.0 for each in told], dtype=np.float64)
    of_night: dict[date, list[int]] = defaultdict(list)
    for n, each in enumerate(told):
        of_night[each.evening].append(n)
    one = [some[evening.toordinal() % len(some)] for evening, some in of_night.items()]
    tenths = reliability(said[one], froze[one]) if one else []
    return tuple(tenths), (brier(said, froze), brier(climate, froze), brier(again, froze))


def skill_lines(skill: Skill, wording: Wording) -> list[str]:
    """Say it in a few sentences, the most telling first."""
    lines = [
        f"What was said at 17:00 of {skill.nights} nights: the lowest air lay"
        f" {wording.difference(skill.error_k)} from the expected low on the mean (last night's low"
        f" again: {wording.difference(skill.persistence_error_k)}), and inside the range said"
        f" {round(10 * skill.inside)} nights in 10; 8 in 10 are meant."
    ]
    if skill.tenths:
        said = sum(each.said * each.nights for each in skill.tenths)
        happened = sum(each.happened * each.nights for each in skill.tenths)
        lines.append(
            f"Air below {wording.temperature(0.0, 0)} was to come on {said:.0f} of"
            f" {sum(each.nights for each in skill.tenths)} evenings by the chances said, and came"
            f" on {happened:.0f}.{_off_in_words(skill)}"
        )
    return lines


def _off_in_words(skill: Skill) -> str:
    off = [each for each in skill.tenths if not each.consistent]
    if not off:
        return " Each tenth of the chances came as often as chance allows."
    worst = max(off, key=lambda each: abs(each.said - each.happened) * each.nights)
    return (
        f" Furthest off: said {round(10 * worst.said)} nights in 10, came"
        f" {round(10 * worst.happened)} in 10 ({worst.nights} nights)."
    )


def skill_json(skill: Skill) -> dict[str, object]:
    """SI, the unit in the key; null where nothing was said of that kind."""

    def known(value: float) -> float | None:
        return json_number(value, 4)

    return {
        "since": skill.since.isoformat(),
        "until": skill.until.isoformat(),
        "nights": skill.nights,
        "lows": skill.lows,
        "below_zero": {
            "brier": known(skill.brier),
            "brier_skill_over_climate": known(skill.brier_over_climate),
            "brier_skill_over_persistence": known(skill.brier_over_persistence),
            "reliability": [
                {
                    "from": each.low,
                    "nights": each.nights,
                    "said": known(each.said),
                    "happened": known(each.happened),
                    "consistent_from": known(each.fewest),
                    "consistent_to": known(each.most),
                }
                for each in skill.tenths
            ],
        },
        "low": {
            "error_k": known(skill.error_k),
            "persistence_error_k": known(skill.persistence_error_k),
            "inside_range": known(skill.inside),
            "crps_k": known(skill.crps_k),
            "crps_skill_over_climate": known(skill.crps_over_climate),
            "crps_skill_over_persistence": known(skill.crps_over_persistence),
        },
    }
