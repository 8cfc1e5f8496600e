"""The figures of one place and one forecast, and the page that all of them make."""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta

import numpy as np

from monitor.reports.scores import (
    LEVELS,
    Tenth,
    brier,
    consistency,
    quantile_crps,
    reliability,
    skill_over,
)
from tests.bench.winters.asking import FORECASTS, Asked
from tests.bench.winters.cases import IceCases, LowCases, ice_cases, low_cases
from tests.bench.winters.costs import LOSSES, nightly_cost
from tests.bench.winters.places import BEGIN
from tests.bench.winters.truth import LAGS_H, Truth

SPACES = ("row", "shed")
_MONTH = 30.4
_STANDS_DAYS = 2  # an alarm outlasts one evening without a warning, and not two
_SMALL = 0.05  # a chance that nobody acts on
_SPELL, _DRAWN = 5, 2000  # nights that one weather lasts, and how often spells are drawn anew


@dataclass(frozen=True, kw_only=True)
class Judged:
    """Everything said of one winter by one forecast, asked at one hour, before one truth."""

    place: str
    forecast: str
    hour: int
    sky: bool
    lows: dict[str, LowCases]
    ice: dict[tuple[str, str], IceCases]


def judged(
    place: str, truth: Truth, forecast: str, asked: Sequence[Asked], today: Sequence[Asked],
    hour: int, *, sky: bool,
) -> Judged:  # fmt: skip
    some, was = ([one for one in each if one.hour == hour] for each in (asked, today))
    known = {one.day: one for one in was}
    was = [known[one.day] for one in some]
    lows = {space: low_cases(truth, space, some, was, hour) for space in SPACES}
    return Judged(
        place=place, forecast=forecast, hour=hour, sky=sky, lows=lows,
        ice={
            (space, part): ice_cases(truth, (sky, space, part), some, was, lows[space], hour)
            for space in SPACES
            for part in LAGS_H
        },
    )  # fmt: skip


def page(found: Sequence[Judged]) -> Iterator[str]:
    for sky in (True, False):
        some = [one for one in found if one.sky is sky and one.hour == 16]
        if some:
            yield f"## Ice until noon, asked at 16 h, truth {'with' if sky else 'without'} sky loss"
            yield ""
            yield from _ice_table(some)
            yield ""
    yield "## The low of the night"
    yield ""
    yield from _low_table([one for one in found if one.sky])
    yield ""
    for sky in (True, False):
        for forecast in FORECASTS:
            some = [
                one for one in found
                if one.sky is sky and one.hour == 16 and one.forecast == forecast
            ]  # fmt: skip
            if some:
                loss = "with" if sky else "without"
                yield f"## Said against happened, {loss} sky loss, forecast: {forecast}"
                yield ""
                yield from _reliability(some)
                yield ""
    yield "## The five nights furthest from what was said"
    yield ""
    yield from worst_nights([one for one in found if one.sky and one.hour == 16])


def _ice_table(some: Sequence[Judged]) -> Iterator[str]:
    yield (
        "| place | forecast | nights | Brier | skill: climate | persistence | plain trial | today |"
        " warned, no ice came | freezing missed | a third of ice missed |"
        " Brier above the plain trial's, 90 % of it |"
        " said < 5 %: froze / due of | nights of it with ice, 90 % of true chances give |"
        " cost a night: by standing | by chance | always | persistence | today | plain trial |"
        " climate | letters in vain a month |"
    )
    yield "|" + "---|" * 22
    for one in some:
        yield _ice_row(one)


def _ice_row(one: Judged) -> str:
    every = list(one.ice.values())
    froze, said = _all(every, "froze").astype(float), _all(every, "said")
    score = brier(said, froze)
    rivals = (
        _all(every, "climate"), _all(every, "persistence").astype(float),
        _all(every, "trial"), _all(every, "today_said"),
    )  # fmt: skip
    warned = _all(every, "warned")
    missed = (froze > 0) & ~warned & ~_all(every, "thin")
    third, low = _all(every, "third"), said < _SMALL
    fewest, most = (1000.0 * each for each in brier_apart(every))
    iced, nights, least, largest = nights_said_safe(every)
    cells = [
        one.place, one.forecast, str(max(len(each.night) for each in every)), f"{score:.3f}",
        *(f"{skill_over(score, brier(rival, froze)):.2f}" for rival in rivals),
        _share(froze[warned] == 0.0),
        f"{int(missed.sum())} of {int(froze.sum())}",
        f"{int((third & ~warned).sum())} of {int(third.sum())}",
        f"{fewest:+.0f} to {most:+.0f} thousandths",
        f"{int(froze[low].sum())} / {said[low].sum():.1f} of {int(low.sum())}",
        f"{iced} of {nights}, {least} to {largest}",
        *(f"{cost:.3f}" for cost in costs(one).values()), f"{letters_in_vain(one):.1f}",
    ]  # fmt: skip
    return "| " + " | ".join(cells) + " |"


def brier_apart(every: Sequence[IceCases]) -> tuple[float, float]:
    """Ends of the middle 90 % of how far the Brier score lies above the plain trial's.

    Circuits of one night share their weather, and so do the nights of a spell: spells of nights are
    drawn anew, each as often as any other. A range that holds 0 tells the two rules not apart.
    """
    apart: dict[int, list[float]] = {}
    for case in every:
        squares = (case.said - case.froze) ** 2 - (case.trial - case.froze) ** 2
        for night, one in zip(case.night.tolist(), squares.tolist(), strict=True):
            apart.setdefault(night, []).append(one)
    sums = np.array([[sum(apart[night]), len(apart[night])] for night in sorted(apart)])
    spells = np.add.reduceat(sums, np.arange(0, len(sums), _SPELL), axis=0)
    drawn = np.random.default_rng(1).integers(len(spells), size=(_DRAWN, len(spells)))
    above, count = spells[drawn].sum(axis=1).T
    low, high = np.quantile(above / count, [0.05, 0.95])
    return float(low), float(high)


def nights_said_safe(every: Sequence[IceCases]) -> tuple[int, int, int, int]:
    """Nights of the circuits with a small chance: with ice in one, all, and how many of them true
    chances give ice.

    Circuits of one night freeze together, as if the likeliest of them took the others along.
    """
    said: dict[int, float] = {}
    froze: dict[int, bool] = {}
    for case in every:
        for night, chance, did in zip(case.night, case.said, case.froze, strict=True):
            if chance < _SMALL:
                said[night] = max(said.get(night, 0.0), float(chance))
                froze[night] = froze.get(night, False) or bool(did)
    if not said:
        return 0, 0, 0, 0
    fewest, most = (round(end * len(said)) for end in consistency(np.array(list(said.values()))))
    return sum(froze.values()), len(said), fewest, most


def costs(one: Judged) -> dict[str, float]:
    """Cost of a night and circuit [evenings of work] by whose word was followed."""
    nights: dict[str, list[np.ndarray]] = {}
    for (_, part), case in one.ice.items():
        for who, warned in case.warned_by.items():
            cost = nightly_cost(LOSSES[part], warned, case.froze, case.third)
            nights.setdefault(who, []).append(cost)
    return {who: float(np.concatenate(each).mean()) for who, each in nights.items()}


def letters_in_vain(one: Judged) -> float:
    """Frost letters a month after which nothing froze while their alarm stood.

    A person gets one letter a yard when something is first called exposed, and none again while the
    alarm stands: 30 h past the last evening on which something was (`alarms.definitions`).
    """
    warned: dict[int, bool] = {}
    froze: dict[int, bool] = {}
    for case in one.ice.values():
        for night, said, did in zip(case.night, case.warned, case.froze, strict=True):
            warned[night] = warned.get(night, False) or bool(said)
            froze[night] = froze.get(night, False) or bool(did)
    vain = sum(1 for spell in spells_of(warned) if not any(froze[night] for night in spell))
    asked_every = np.median(np.diff(sorted(warned))) if len(warned) > 1 else 1.0
    return _MONTH * vain / max(len(warned) * asked_every, 1.0)


def spells_of(warned: Mapping[int, bool]) -> list[list[int]]:
    """Nights that one alarm stood for; it ends where two evenings together had no warning."""
    spells: list[list[int]] = []
    ended, last = True, -math.inf
    for night in sorted(warned):
        if warned[night]:
            if ended and night - last > _STANDS_DAYS:
                spells.append([])
            spells[-1].append(night)
            ended, last = False, night
        else:
            ended = True
    return spells


def _low_table(some: Sequence[Judged]) -> Iterator[str]:
    yield (
        "| place | forecast | space | nights | MAE at 16 h | / persistence | at 17 h |"
        " / persistence | inside the range | below it | above | CRPS at 16 h | climate |"
        " plain trial |"
    )
    yield "|" + "---|" * 14
    by = {(one.place, one.forecast, one.hour): one for one in some}
    for place, forecast, hour in by:
        if hour != 16:
            continue
        for space in SPACES:
            first, second = (by[place, forecast, each].lows[space] for each in (16, 17))
            use = first.scored
            happened, said = first.happened_c[use], first.said_c[use]
            below, above = happened < said[:, 0] - 0.05, happened > said[:, 2] + 0.05
            cells = [
                place, forecast, space, str(int(use.sum())),
                *_maes(first), *_maes(second),
                _share(~below & ~above), _share(below), _share(above),
                *(
                    f"{quantile_crps(each[use], happened).mean():.2f}"
                    for each in (first.said_c, first.climate_c, first.trial_c)
                ),
            ]  # fmt: skip
            yield "| " + " | ".join(cells) + " |"


def _maes(case: LowCases) -> tuple[str, str]:
    use, middle = case.scored, int(np.searchsorted(LEVELS, 0.5))
    own = np.abs(case.said_c[use, middle] - case.happened_c[use]).mean()
    again = np.abs(case.persistence_c[use] - case.happened_c[use]).mean()
    return f"{own:.2f}", f"{own / again:.2f}"


def _reliability(some: Sequence[Judged]) -> Iterator[str]:
    """By tenths of what was said to come; and of what was said to hold ice already, all at once."""
    yield "| place | said | nights | mean said | happened | 90 % of true chances give | |"
    yield "|" + "---|" * 7
    for name, these in [(one.place, [one]) for one in some] + [("all", list(some))]:
        said, froze, iced = one_a_night(these)
        for each in reliability(said[~iced], froze[~iced]):
            yield _tenth(name, each)
        if iced.any():
            yield (
                f"| {name} | ice in it | {iced.sum()} | {said[iced].mean():.2f} |"
                f" {froze[iced].mean():.2f} | | |"
            )


def worst_nights(some: Sequence[Judged], count: int = 5) -> Iterator[str]:
    """The nights furthest from what was said, in words: one a place and night."""
    told = {}
    for one in some:
        for (space, part), case in one.ice.items():
            low = one.lows[space]
            for night, said, froze in zip(case.night, case.said, case.froze, strict=True):
                n = int(np.flatnonzero(low.day == night)[0])
                cold, expected, warm = low.said_c[n]
                evening = (BEGIN + timedelta(days=int(night))).strftime("%-d %b")
                told[one.place, night] = max(
                    told.get((one.place, night), (0.0, "")),
                    (
                        abs(said - froze),
                        f"- {one.place}, {evening}, forecast {one.forecast}: ice in the {part} of"
                        f" the {space} said {100 * said:.0f} %, and it {'came' if froze else 'did'}"
                        f"{'' if froze else ' not'}. Air {low.now_c[n]:.1f} °C at 16 h, low"
                        f" expected {expected:.1f} ({cold:.1f} to {warm:.1f}), was"
                        f" {low.happened_c[n]:.1f}.",
                    ),
                )
    yield from (text for _, text in sorted(told.values(), reverse=True)[:count])


def one_a_night(some: Sequence[Judged]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """One circuit a night, in turn: nights are the sample, and circuits of one night are not.

    What was said, what happened, and whether ice was said to be in it already.
    """
    said, froze, iced = [], [], []
    for one in some:
        every = list(one.ice.values())
        for n, case in enumerate(every):
            turn = case.night % len(every) == n
            said.append(case.said[turn])
            froze.append(case.froze[turn].astype(float))
            iced.append(case.said_iced[turn])
    return np.concatenate(said), np.concatenate(froze), np.concatenate(iced)


def _tenth(name: str, each: Tenth) -> str:
    inside = "" if each.consistent else "outside"
    return (
        f"| {name} | {each.low:.1f} | {each.nights} | {each.said:.2f} | {each.happened:.2f} |"
        f" {each.fewest:.2f} to {each.most:.2f} | {inside} |"
    )


def _share(of: np.ndarray) -> str:
    return f"{100.0 * of.mean():.0f} %" if of.size else "–"


def _all(every: Sequence[IceCases], name: str) -> np.ndarray:
    return np.concatenate([getattr(each, name) for each in every])
