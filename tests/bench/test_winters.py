"""The bench of open winters: its scores, its truth, and that it asks as a person would."""

import ast
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest
import scoringrules
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binom

from monitor.commands.assess import judge_again
from monitor.reports.scores import LEVELS, brier, consistency, quantile_crps, reliability
from monitor.yard import losses
from tests.bench.winters import __main__ as command
from tests.bench.winters import asking, cases, rivals, truth
from tests.bench.winters.costs import LOSSES, Loss, chance_of_loss, nightly_cost
from tests.bench.winters.places import HELD, TUNE, winter_of
from tests.bench.winters.table import brier_apart, nights_said_safe, spells_of
from tests.tried import tried

CHANCES = st.lists(st.tuples(st.floats(0.0, 1.0), st.booleans()), min_size=1, max_size=40)
LOWS = st.lists(st.tuples(*[st.floats(-30.0, 20.0)] * 4), min_size=1, max_size=20)


@given(CHANCES)
@settings(max_examples=tried(20), deadline=None)
def test_brier_score_is_that_of_scoringrules(nights):
    said, happened = (np.array(one, dtype=float) for one in zip(*nights, strict=True))
    theirs = scoringrules.brier_score(happened, said).mean()
    assert brier(said, happened) == pytest.approx(theirs, abs=1e-12)


@given(LOWS)
@settings(max_examples=tried(20), deadline=None)
def test_crps_by_quantiles_is_that_of_scoringrules(nights):
    table = np.array(nights)
    values, happened = np.sort(table[:, :3], axis=1), table[:, 3]
    theirs = scoringrules.crps_quantile(happened, values, LEVELS)
    assert quantile_crps(values, happened) == pytest.approx(theirs, abs=1e-12)


@pytest.mark.parametrize(("chance", "nights"), [(0.05, 60), (0.3, 25), (0.5, 100), (0.97, 40)])
def test_consistency_of_equal_chances_is_the_binomial_distribution(chance, nights):
    fewest, most = consistency(np.full(nights, chance))
    assert (round(fewest * nights), round(most * nights)) == binom.interval(0.9, nights, chance)


def test_chances_that_are_true_fall_inside_their_interval_as_often_as_it_says():
    rng = np.random.default_rng(5)
    said = rng.random((200, 150))
    happened = (rng.random(said.shape) < said).astype(float)
    tenths = [each for a, b in zip(said, happened, strict=True) for each in reliability(a, b)]
    assert np.mean([each.consistent for each in tenths]) > 0.88


def cases_of(night, said, trial, froze):
    """Ice cases of one circuit; what a test does not ask about is left empty."""
    other = dict.fromkeys(
        ("third", "iced", "said_iced", "warned", "thin", "climate", "persistence", "today_said"),
        np.empty(0),
    )
    few = {"night": night, "said": said, "trial": trial, "froze": froze}
    return cases.IceCases(**other, warned_by={}, **{one: np.array(few[one]) for one in few})


def test_two_rules_are_told_apart_by_their_spells_and_not_by_circuits_of_one_night():
    rng, nights = np.random.default_rng(8), np.arange(140)
    true = np.repeat(rng.random(28), 5)  # of all nights of a spell
    told_apart = {1: 0, 8: 0}
    for _ in range(60):
        froze = np.repeat(rng.random(28) < true[::5], 5)
        said, trial = np.clip(true + rng.normal(0.0, 0.2, (2, 28)).repeat(5, axis=1), 0.0, 1.0)
        for circuits in told_apart:
            low, high = brier_apart([cases_of(nights, said, trial, froze)] * circuits)
            told_apart[circuits] += not low <= 0.0 <= high
    # Neither of two equally good rules is better; a range of 90 % says otherwise one time in ten.
    assert told_apart[1] == told_apart[8] <= 60 * 0.25
    exact = cases_of(nights, froze.astype(float), np.full(140, 0.5), froze)
    assert brier_apart([exact]) == pytest.approx((-0.25, -0.25))


def test_small_chances_are_counted_by_nights_and_held_against_the_binomial_distribution():
    nights = np.arange(100)
    safe, warned = np.full(100, 0.04), np.full(100, 0.5)
    froze = nights < 7
    first = cases_of(nights, safe, safe, froze)
    second = cases_of(nights, safe / 2.0, safe, froze)
    third = cases_of(nights, warned, safe, np.ones(100, dtype=bool))
    fewest, most = binom.interval(0.9, 100, 0.04)
    assert nights_said_safe([first, second, third]) == (7, 100, fewest, most)
    assert nights_said_safe([third]) == (0, 0, 0, 0)


def test_a_warning_is_paid_once_and_an_unwarned_night_by_the_ice_that_came():
    loss = Loss(act=1.0, damage=20.0)
    warned, froze, third = np.array(
        [[True, True, False, False, False], [True, False, True, True, False], [1, 0, 1, 0, 0]]
    ).astype(bool)
    assert nightly_cost(loss, warned, froze, third).tolist() == [1.0, 1.0, 20.0, 2.0, 0.0]


def test_the_yard_is_told_the_losses_that_the_bench_charges():
    yard = asking.yard_of(winter_of("newark"))
    (craft, *_) = asking.craft_at(winter_of("newark").begin)
    told = {circuit.id: yard.losses.of_circuit(circuit) for circuit in craft.circuits}
    assert told == {part: loss.damage / loss.act for part, loss in LOSSES.items()}
    assert chance_of_loss(0.6, 0.2) == pytest.approx(losses.chance_of_loss(0.6, 0.2))


def test_an_evening_that_begins_with_ice_in_the_circuit_counts_as_ice():
    # Nine hours of frost, then three of 1 °C: the metal is above 0 °C and ice still in it.
    weather = winter_of("newark")
    happened = truth.truth_of(weather)
    day, key = 62, (False, "row", "fitting")
    air = np.full(happened.hours.size, 5.0)
    begin, now = (round((24 * day + hour) / truth.STEP_H) for hour in (4.0, 16.0))
    air[begin : begin + 54] = -5.0
    air[begin + 54 :] = 1.0
    lags = truth.true_lags_h("fitting")
    made = replace(
        happened,
        known=np.ones(air.size, dtype=bool),
        seam=np.zeros(air.size, dtype=bool),
        air_c={"row": air},
        around_c={(False, "row"): air},
        body_c={key: np.array([truth.lagged(air, lag) for lag in lags])},
    )
    assert made.body_c[key][day % truth.LIKE][now:].min() > 0.0
    said = asking.Asked(
        day=day,
        hour=16,
        air={"row": asking.SaidOfAir(now_c=1.0, expected_c=0.5, cold_c=0.0, warm_c=1.0)},
        parts={("row", "fitting"): asking.SaidOfPart(standing="icing", chance=1.0, low_c=0.5)},
    )
    low = cases.low_cases(made, "row", [said], [said], 16)
    (case,) = [cases.ice_cases(made, key, [said], [said], low, 16)]
    assert case.froze.tolist() == case.iced.tolist() == case.said_iced.tolist() == [True]


def test_the_truth_knows_nothing_of_the_judge():
    for file in ("truth", "places", "costs"):
        tree = ast.parse(Path(truth.__file__).with_name(f"{file}.py").read_text(encoding="utf-8"))
        imported = {
            name
            for node in ast.walk(tree)
            if isinstance(node, ast.Import | ast.ImportFrom)
            for name in [getattr(node, "module", None), *(each.name for each in node.names)]
            if name
        }
        assert not [name for name in imported if name.split(".")[0] in {"monitor", "simulator"}]


def test_a_body_behind_a_steady_fall_trails_it_as_the_closed_form_has_it():
    # Behind air that falls by s an hour a body of lag L ends s * L above it: T = air + s L (1 - e^)
    hours, lag_h = np.arange(0.0, 24.0, truth.STEP_H), 2.5
    air = 5.0 - 0.8 * hours
    exact = air + 0.8 * lag_h * (1.0 - np.exp(-hours / lag_h))
    assert truth.lagged(air, lag_h) == pytest.approx(exact, abs=1e-3)


def test_a_sky_never_warms_and_takes_nothing_by_day():
    found = truth.truth_of(winter_of("denver"))
    assert found.sky_k.min() == 0.0
    assert 4.0 < found.sky_k.max() < 9.0  # a cover over a hull, air 0 °C, calm: 6.6 to 7.2 K
    noon = found.sky_k[round(12.0 / truth.STEP_H) :: round(24.0 / truth.STEP_H)]
    assert (noon == 0.0).all()


def test_what_is_asked_evening_by_evening_is_what_assess_tells_of_each():
    weather = winter_of("newark")
    happened = truth.truth_of(weather)
    days = [62, 63, 65]
    said = asking.ask(weather, happened, "usual", days)
    with asking.filled_store(weather, happened, "usual") as store:
        for one in said:
            at = weather.begin + timedelta(days=one.day, hours=one.hour)
            yard = asking.yard_of(weather)
            picture = judge_again(store, yard, asking.craft_at(at), at)
            anew = asking.said_of(picture, one.day, one.hour)
            assert anew.air.keys() == one.air.keys() > set()
            assert anew.parts.keys() == one.parts.keys() > set()
            # A memory that goes on keeps what a building was fitted to for an hour or two.
            for space, air in anew.air.items():
                assert air.expected_c == pytest.approx(one.air[space].expected_c, abs=0.1)
            for part, judged in anew.parts.items():
                assert judged.standing == one.parts[part].standing
                assert judged.chance == pytest.approx(one.parts[part].chance, abs=0.05)


def test_winters_held_back_are_none_that_may_be_tuned_on():
    assert len(TUNE) >= 6
    assert len(HELD) >= 6
    assert not set(TUNE) & set(HELD)
    for places in (TUNE, HELD):
        assert any(place.mild_coast for place in places.values())


def test_a_winter_held_back_is_refused_without_the_word_for_it(monkeypatch, capsys):
    monkeypatch.setattr("sys.argv", ["winters", "--only", "chicago"])
    assert command.main() == 2
    assert "held back" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("evenings", "letters"),
    [
        ("w", [[0]]),
        ("ww.w", [[0, 1, 3]]),
        ("w..w", [[0], [3]]),
        ("..", []),
        (".w...ww", [[1], [5, 6]]),
    ],
)
def test_a_letter_stands_over_one_evening_without_a_warning_and_not_over_two(evenings, letters):
    assert spells_of({day: said == "w" for day, said in enumerate(evenings)}) == letters


def test_ice_grows_and_melts_by_the_degree_hours_around_it():
    # Air 3 K below 0 for 5 h takes 15 K h; a body of 1 h holds 5 K h: all ice after 1 h 40 min,
    # a third after 33 min. Then 2 K above: melted after another 2.5 h.
    around = np.concatenate([np.full(30, -3.0), np.full(40, 2.0)])
    share = rivals.ice_share(around, np.full(70, -0.1), 0, 69, 1.0)
    assert np.argmax(share >= 1.0 / 3.0) == pytest.approx(5.0 / 3.0 / 3.0 * 6.0, abs=1.0)
    assert np.argmax(share >= 1.0) == pytest.approx(5.0 / 3.0 * 6.0, abs=1.0)
    assert share[30 + 16] == pytest.approx(0.0, abs=0.01)
