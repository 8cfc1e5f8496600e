"""The sum of ``laidup calc`` about tonight's low: by forecasts, past nights or its own course."""

import argparse
import math
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np

from monitor.commands.calc.answer import (
    Answer,
    Value,
    both_differences,
    c_and_f,
    hours_text,
    read_columns,
)
from monitor.commands.parsers.calc_air import PAST_NIGHT_COLUMNS
from monitor.errors import QuantityError
from monitor.physics import night_low
from monitor.physics.night_low import FaoFit
from monitor.yard.space import SpaceKind

_FAO = "Snyder & de Melo-Abreu 2005, FAO Environment and Natural Resources Series 10, chapter 5"
_PARTON_LOGAN = "Parton & Logan 1981, night curve inverted; skill after Savage 2015"
_COURSE_ERRORS = ((2.0, 1.0), (4.0, 2.1))  # within so many hours, so many kelvin: Savage 2015


def answer_tonight(arguments: argparse.Namespace) -> Answer:
    """Low of a clear calm night, and when it passes 0 °C."""
    _need_one_way(arguments)
    if not night_low.REFERENCE_H < arguments.night < 24.0:
        raise QuantityError(
            "--night must be longer than 2h, for the trend starts 2 h after sunset, and shorter"
            " than a day"
        )
    if arguments.low is not None:
        return _low_as_forecast(arguments)
    if arguments.public_low is not None:
        return _low_mixed(arguments)
    if arguments.nights is not None:
        return _low_of_past_nights(arguments)
    return _low_from_fall(arguments)


def _need_one_way(arguments: argparse.Namespace) -> None:
    """Refuse flags of two ways at once, and a flag that would be passed over in silence."""
    given = [
        flag for flag in ("low", "nights", "at_sunset") if getattr(arguments, flag) is not None
    ]
    mixed = arguments.public_low is not None
    if len(given) != 1 and not (mixed and not given):
        raise QuantityError(
            "give one of --low, --nights (with --dew-point), --at-sunset, or --public-low"
        )
    if mixed and given not in ([], ["nights"]):
        raise QuantityError("--public-low goes alone or with --nights: --low is taken as it is")
    for flag, way in (("--dew-point", "--nights"), ("--since-sunset", "--at-sunset")):
        needed = getattr(arguments, way.strip("-").replace("-", "_")) is not None
        if needed != (getattr(arguments, flag.strip("-").replace("-", "_")) is not None):
            raise QuantityError(
                f"{flag} is needed with {way}" if needed else f"{flag} counts only with {way}"
            )
    if arguments.at is not None and arguments.at_sunset is not None:
        raise QuantityError("--at counts only with --low, --nights or --public-low")


def _low_as_forecast(arguments: argparse.Namespace) -> Answer:
    if arguments.low > arguments.air:
        raise QuantityError(
            f"--low is {c_and_f(arguments.low)}, above --air, {c_and_f(arguments.air)}: it is"
            " colder"
            " already than the forecast's low"
        )
    return _low_answer(
        arguments, arguments.low, math.nan, "low as forecast, night trend of the FAO"
    )


def _low_mixed(arguments: argparse.Namespace) -> Answer:
    """By the judgement's own sum, outdoors and two hours after sunset."""
    from monitor.judgement.air.ensemble import band_of
    from monitor.judgement.air.fall_regression import PREDICTORS
    from monitor.judgement.air.low_forecast import check_past_nights, forecast_low
    from monitor.judgement.air.own_nights import unseen_fall
    from monitor.judgement.air.past_weeks import NightTable

    nights, dew_point = np.empty((4, 0)), math.nan
    if arguments.nights is not None:
        _refuse_dew(arguments)
        nights = read_columns("--nights", arguments.nights, PAST_NIGHT_COLUMNS, ("public_low_c",))
        dew_point = arguments.dew_point
    air, dew, low, public = nights
    airs = np.append(air, arguments.air)
    predictors_k = np.full((airs.size, PREDICTORS), math.nan)  # how it fell up to then is not known
    predictors_k[:, 0] = airs - np.append(dew, dew_point)
    predictors_k[:, 2] = airs - (air.mean() if air.size else math.nan)
    table = NightTable(
        evening=tuple(date.fromordinal(n + 1) for n in range(air.size)),  # only how many counts
        air_c=air,
        predictors_k=predictors_k[:-1],
        low_c=low,
        whole_low_c=low,
        public_low_c=public,
    )
    prior = unseen_fall(SpaceKind.OPEN, night_low.REFERENCE_H, arguments.night)
    record = check_past_nights(table, prior, public=True)
    found = forecast_low(
        table, record, arguments.air, predictors_k[-1], prior, arguments.public_low
    )
    past = (
        f"{found.nights} past nights, {np.isfinite(public).sum()} of them with what the agency said"
        if found.nights
        else "no past night, so a usual fall"
    )
    cold_c, warm_c = band_of(found.lows_c)
    basis = (
        f"{past}; the agency's low counts for"
        f" {found.public_share:.0%}, each way by the inverse of its mean square error; eight nights"
        f" in ten between {c_and_f(cold_c)} and {c_and_f(warm_c)}"
    )
    answer = _low_answer(arguments, found.low_c, found.error_k, basis)
    more = {
        "band_low_c": cold_c,
        "band_high_c": warm_c,
        "public_share": found.public_share,
    }
    return replace(answer, values={**answer.values, **more})


def _refuse_dew(arguments: argparse.Namespace) -> None:
    if arguments.dew_point > arguments.air:
        raise QuantityError("--dew-point is above --air: no air is more than saturated")


def _low_of_past_nights(arguments: argparse.Namespace) -> Answer:
    _refuse_dew(arguments)
    fit = _fit_from_file(arguments.nights)
    basis = (
        f"two regressions on {fit.nights} past nights, error {fit.error_k:.2f} K, one night in"
        f" ten more than {-fit.low_edge_k:.1f} K lower; clear, calm nights only"
    )
    low = float(fit.low(arguments.air, arguments.dew_point))
    return _low_answer(arguments, low, fit.error_k, basis)


def _low_answer(arguments: argparse.Namespace, low: float, error: float, basis: str) -> Answer:
    """A low by the FAO's method, and when its night trend passes the threshold."""
    threshold = arguments.threshold
    hour = float(night_low.hour_of_passing(threshold, arguments.air, low, arguments.night))
    known = "" if math.isnan(error) else f", give or take {both_differences(error)}"
    passes = _threshold_sentence(arguments.air, threshold, hour)
    sentence = f"Expect a low of {c_and_f(low)}{known}. {passes}"
    values: dict[str, Value] = {
        "low_c": low,
        "low_error_k": error,
        "threshold_passed_after_sunset_h": hour,
    }
    if arguments.at is not None:
        then = float(night_low.night_trend(arguments.at, arguments.air, low, arguments.night))
        if math.isnan(then):
            raise QuantityError(
                f"--at is {arguments.at:g} h after sunset",
                (
                    f"the trend holds from {night_low.REFERENCE_H:g} h to sunrise,"
                    f" {arguments.night:g} h"
                ),
            )
        sentence += f" {arguments.at:g} h after sunset it is at {c_and_f(then)}."
        values["air_at_c"] = then
    return Answer(
        sentence=sentence,
        values=values,
        basis=basis,
        source=_FAO,
    )


def _low_from_fall(arguments: argparse.Namespace) -> Answer:
    since, night = arguments.since_sunset, arguments.night
    earliest = night_low.EARLIEST_SHARE * night
    if not earliest <= since <= night:
        raise QuantityError(
            f"--since-sunset must lie between {earliest:g} and {night:g} h: before a quarter of the"
            " night its own course says nothing"
        )
    if arguments.at_sunset < arguments.air:
        raise QuantityError(
            "--at-sunset is below --air: the night has not cooled so far, so its course says"
            " nothing"
        )
    low = float(night_low.low_from_fall_so_far(arguments.at_sunset, arguments.air, since, night))
    ahead = night - since
    error = next((error for hours, error in _COURSE_ERRORS if ahead <= hours), math.nan)
    if math.isnan(error):
        hours, largest = _COURSE_ERRORS[-1]
        known = (
            f". Sunrise is more than {hours:g} h off: it can err by more than"
            f" {both_differences(largest)}"
        )
    else:
        known = f", give or take {both_differences(error)}"
    return Answer(
        sentence=f"Expect a low of {c_and_f(low)}{known}.",
        values={"low_c": low, "low_error_k": error},
        basis="the night's own fall so far",
        source=_PARTON_LOGAN,
    )


def _threshold_sentence(air: float, threshold: float, hour: float) -> str:
    if air <= threshold:
        where = "at" if air == threshold else "below"
        return f"It is {where} {c_and_f(threshold)} already."
    if math.isinf(hour):
        return f"It stays above {c_and_f(threshold)}."
    return f"It passes {c_and_f(threshold)} {hours_text(hour)} after sunset."


def _fit_from_file(path: Path) -> FaoFit:
    fit = night_low.fit_lows(*read_columns("--nights", path, PAST_NIGHT_COLUMNS))
    if math.isnan(fit.error_k):
        raise QuantityError(
            f"--nights {path}: it takes {night_low.FEWEST_NIGHTS} nights or more, not {fit.nights}"
        )
    return fit
