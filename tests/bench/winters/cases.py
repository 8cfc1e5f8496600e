"""Evenings as arrays: what was said of each space and circuit, and what then happened."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from monitor.reports.scores import rank_quantiles
from tests.bench.winters.asking import Asked
from tests.bench.winters.costs import LOSSES, Loss, chance_of_loss
from tests.bench.winters.rivals import (
    climate_quantiles,
    frequency,
    ice_share,
    last_again,
    trial_chances,
    trial_members,
)
from tests.bench.winters.truth import LIKE, STEP_H, Truth, true_lags_h

_WARNS = frozenset({"exposed", "icing", "solid", "suspect"})
_HOLDS_ICE = frozenset({"icing", "solid"})
_BACK_H = 96.0  # ice that formed so long before an evening is looked for in it
_NOON_H = 36  # after the day's begin: until then a night counts


@dataclass(frozen=True, kw_only=True)
class LowCases:
    """The coming low of one space, evening by evening, shape (n,) and (n, 3)."""

    day: np.ndarray
    now_c: np.ndarray
    happened_c: np.ndarray
    said_c: np.ndarray
    climate_c: np.ndarray
    trial_members_c: list[np.ndarray]
    persistence_c: np.ndarray

    @property
    def trial_c(self) -> np.ndarray:
        return np.array([rank_quantiles(each) for each in self.trial_members_c])

    @property
    def scored(self) -> np.ndarray:
        known = np.isfinite(self.happened_c) & np.isfinite(self.persistence_c)
        return known & np.isfinite(self.said_c).all(axis=1)


@dataclass(frozen=True, kw_only=True)
class IceCases:
    """Ice in one circuit from the hour asked until noon, evening by evening; shape (n,).

    Every evening whose truth is known counts, those with ice in the circuit already too: to leave
    out what only the truth knows would leave of the evenings called iced the wrong ones alone.
    """

    night: np.ndarray  # day of the winter
    froze: np.ndarray  # booleans: ice in it at some time, perhaps at the hour asked
    third: np.ndarray  # booleans: a third of it was ice, what may break it
    iced: np.ndarray  # booleans: ice in it at the hour asked
    said: np.ndarray
    said_iced: np.ndarray  # booleans: that ice is in it was said, not that ice may come
    warned: np.ndarray  # booleans
    thin: np.ndarray  # booleans
    warned_by: dict[str, np.ndarray]  # booleans: by each rival, under the same losses
    climate: np.ndarray
    persistence: np.ndarray  # booleans: ice last night
    trial: np.ndarray
    today_said: np.ndarray


def low_cases(
    truth: Truth, space: str, asked: Sequence[Asked], today: Sequence[Asked], hour: int
) -> LowCases:
    air, days, ask_h = truth.air_c[space], np.array([each.day for each in asked]), hour
    happened = np.array([_low(truth, air, day, ask_h) for day in days])
    whole = np.array([_low(truth, air, day - 1, 12) for day in days])
    now = np.array([air[_step(day, ask_h)] for day in days])
    said = [each.air[space] for each in asked]
    expected = np.array([each.air[space].expected_c for each in today])
    return LowCases(
        day=days,
        now_c=now,
        happened_c=happened,
        said_c=np.array([(one.cold_c, one.expected_c, one.warm_c) for one in said]),
        climate_c=climate_quantiles(happened, now),
        trial_members_c=trial_members(expected, happened, now),
        persistence_c=np.minimum(whole, now),
    )


def ice_cases(
    truth: Truth, key: tuple[bool, str, str], asked: Sequence[Asked], today: Sequence[Asked],
    low: LowCases, hour: int,
) -> IceCases:  # fmt: skip
    """Cases of one circuit; ``key`` is whether the sky takes its heat, the space and the part.

    ``low`` is its space's, of the same evenings.
    """
    _, space, part = key
    fates = [_fate_of(truth, key, day, hour) for day in low.day]
    froze, third, iced = np.array(fates, dtype=float).reshape(-1, 3).T
    before = [_fate_of(truth, key, day - 1, 12) for day in low.day]
    again, again_third, _ = np.array(before, dtype=float).reshape(-1, 3).T
    use = np.isfinite(froze) & low.scored
    said, was = ([each.parts[space, part] for each in some] for some in (asked, today))
    air = truth.air_c[space]
    trial = [
        trial_chances(low.trial_members_c[n], air, _step(day, hour), part, hour)
        if use[n]
        else (np.nan, np.nan)
        for n, day in enumerate(low.day)
    ]
    trial_first, trial_third = np.array(trial).T
    climate, climate_third = frequency(froze), frequency(third)
    last, last_third = ((last_again(each) > 0.0) | (each > 0.0) for each in (again, again_third))
    said_first, said_third = (
        np.array([getattr(one, name) for one in said]) for name in ("chance", "chance_third")
    )
    warned = np.array([one.standing in _WARNS for one in said])
    loss = LOSSES[part]
    warned_by = {
        "standing": warned,
        "chance": _pays(loss, said_first, said_third),
        "always": np.ones(warned.size, dtype=bool),
        "persistence": _pays(loss, last.astype(float), last_third.astype(float)),
        "today": np.array([one.standing in _WARNS for one in was]),
        "trial": _pays(loss, trial_first, trial_third),
        "climate": _pays(loss, climate, climate_third),
    }
    return IceCases(
        night=low.day[use],
        froze=froze[use] > 0.0,
        third=third[use] > 0.0,
        iced=iced[use] > 0.0,
        said=said_first[use],
        said_iced=np.array([one.standing in _HOLDS_ICE for one in said])[use],
        warned=warned[use],
        thin=np.array([one.standing == "thin" for one in said])[use],
        warned_by={who: each[use] for who, each in warned_by.items()},
        climate=climate[use],
        persistence=last[use],
        trial=trial_first[use],
        today_said=np.array([one.chance for one in was])[use],
    )


def _pays(loss: Loss, first: np.ndarray, third: np.ndarray) -> np.ndarray:
    """Whether these chances are worth an act. A rule that states no third: as if all were it."""
    pays: np.ndarray = (
        chance_of_loss(first, np.where(np.isfinite(third), third, first)) >= loss.worth_from - 1e-9
    )
    return pays


def _fate_of(
    truth: Truth, key: tuple[bool, str, str], day: int, hour: int
) -> tuple[float, float, float]:
    """Whether ice is in a circuit until noon, whether a third of it is, and whether it is there
    at the hour asked; NaN where the night is not known."""
    sky, space, part = key
    body, lag_h = truth.body_c[key][day % LIKE], true_lags_h(part)[day % LIKE]
    if not np.isfinite(_low(truth, body, day, hour)):
        return float("nan"), float("nan"), float("nan")
    now, end = _step(day, hour), _step(day, _NOON_H)
    begin = max(now - round(_BACK_H / STEP_H), 0)
    share = ice_share(truth.around_c[sky, space], body, begin, end, lag_h)[now - begin :]
    iced = bool(share[0] > 0.0) or bool(body[now] <= 0.0)
    froze = iced or bool(body[now : end + 1].min() <= 0.0)
    return float(froze), float(share.max() >= 1.0 / 3.0), float(iced)


def _step(day: int, hour: int) -> int:
    return round((24 * day + hour) / STEP_H)


def _low(truth: Truth, values: np.ndarray, day: int, hour: int) -> float:
    """Lowest from an hour of a day to the noon after it; NaN where that is not known."""
    here = slice(_step(day, hour), _step(day, _NOON_H) + 1)
    if truth.seam[here].any() or not truth.known[here].all():
        return float("nan")
    return float(values[here].min())
