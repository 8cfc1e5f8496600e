"""What the judgement has to beat: climatology, persistence, and expected low with past errors.

All of them know only the nights before the one they speak of, as they were in truth.
"""

import numpy as np

from monitor.reports.scores import rank_quantiles
from tests.bench.winters.truth import STEP_H, lagged, true_lags_h

_NIGHTS = 45  # of the yard's own climate
_ERRORS = 60
_PRIOR_K = 3.5 * np.array([-1.28, -0.84, -0.52, -0.25, 0.0, 0.25, 0.52, 0.84, 1.28])
_PRIOR_NIGHTS = 2.0  # that a climate of no night is worth
_BACK_H = 96
_LOW_AT_H = 30.5  # hours after the day's begin at which a plain night is coldest


def frequency(happened: np.ndarray) -> np.ndarray:
    """Share of the last nights on which it happened; before any, one in two. NaN is not known."""
    said = np.empty(happened.size)
    for n in range(happened.size):
        past = happened[max(n - _NIGHTS, 0) : n]
        past = past[np.isfinite(past)]
        said[n] = (past.sum() + 0.5 * _PRIOR_NIGHTS) / (past.size + _PRIOR_NIGHTS)
    return said


def last_again(values: np.ndarray) -> np.ndarray:
    """The value before each, as far as one is known; NaN before the first."""
    said = np.full(values.size, np.nan)
    for n in range(1, values.size):
        said[n] = values[n - 1] if np.isfinite(values[n - 1]) else said[n - 1]
    return said


def climate_quantiles(low_c: np.ndarray, now_c: np.ndarray) -> np.ndarray:
    """Quantiles of the last nights' lows, no higher than the air now; (n, 3)."""
    said = np.empty((low_c.size, 3))
    for n in range(low_c.size):
        past = low_c[max(n - _NIGHTS, 0) : n]
        past = past[np.isfinite(past)]
        members = past if past.size > 3 else now_c[n] + _PRIOR_K - 4.0
        said[n] = np.minimum(rank_quantiles(members), now_c[n])
    return said


def trial_members(expected_c: np.ndarray, low_c: np.ndarray, now_c: np.ndarray) -> list[np.ndarray]:
    """Expected low with its own last sixty errors and nine prior ones, night by night."""
    errors = low_c - expected_c
    found = []
    for n in range(low_c.size):
        past = errors[:n][np.isfinite(errors[:n])][-_ERRORS:]
        members = expected_c[n] + np.concatenate([past, _PRIOR_K])
        found.append(np.minimum(members, now_c[n]))
    return found


def trial_chances(
    members_c: np.ndarray, air_c: np.ndarray, now: int, part: str, ask_h: int
) -> tuple[float, float]:
    """Share of members in which a circuit holds ice until noon, and in which a third of it is ice.

    Each follows a plain night to its member's low. ``air_c`` is the whole winter's, of which only
    what lies before ``now`` is used.
    """
    past = air_c[max(now - round(_BACK_H / STEP_H), 0) : now + 1]
    hours = np.arange(1, round((36 - ask_h) / STEP_H) + 1) * STEP_H
    low_h = _LOW_AT_H - ask_h
    falling = np.sqrt(np.clip(hours / low_h, 0.0, 1.0))
    rising = np.clip((hours - low_h) / (36 - _LOW_AT_H), 0.0, 1.0)
    lag_h = float(true_lags_h(part)[1])
    was = lagged(past, lag_h)
    ice = float(ice_share(past, was, 0, past.size - 1, lag_h)[-1])
    first = third = 0
    for low in members_c:
        ahead = past[-1] + (low - past[-1]) * (falling - 0.5 * rising)
        body = _after(float(was[-1]), np.concatenate([past[-1:], ahead]), lag_h)
        first += bool(body.min() <= 0.0) or ice > 0.0
        share = ice_share(ahead, body, 0, body.size - 1, lag_h, begun=ice)
        third += bool(share.max() >= 1.0 / 3.0)
    return first / members_c.size, third / members_c.size


def ice_share(
    around_c: np.ndarray, body_c: np.ndarray, begin: int, end: int, lag_h: float,
    begun: float = 0.0,
) -> np.ndarray:  # fmt: skip
    """Share of a body that is ice, from one step to another; ``begun`` of it before the first.

    Ice grows and melts by the degree-hours around it, up to what a third of a litre in 20 kJ/K
    holds: 100 kJ, five times the lag in K h. The metal alone may be above 0 °C while it melts.
    """
    ice, share = begun * 5.0 * lag_h, []
    few = slice(begin, end + 1)
    for around, body in zip(around_c[few].tolist(), body_c[few].tolist(), strict=True):
        if ice > 0.0 or body <= 0.0:
            ice = min(max(ice - around * STEP_H, 0.0), 5.0 * lag_h)
        share.append(ice / (5.0 * lag_h))
    return np.array(share)


def _after(begun_c: float, air_c: np.ndarray, lag_h: float) -> np.ndarray:
    share = STEP_H / (2.0 * lag_h)
    keeps = (1.0 - share) / (1.0 + share)
    gain = share / (1.0 + share) * (air_c[:-1] + air_c[1:])
    powers = keeps ** np.arange(gain.size + 1)
    # x[n] = keeps**n * x0 + sum of keeps**(n-1-k) * gain[k]
    body: np.ndarray = begun_c * powers[1:] + np.convolve(gain, powers[:-1])[: gain.size]
    return body
