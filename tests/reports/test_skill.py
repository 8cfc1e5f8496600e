"""What was said of past nights against what they came to: scores, sentences, letter, plot."""

import json
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest
import scoringrules

from monitor.reports.drawing import Plots, skill_figure
from monitor.reports.letter import SKILL_PLOT_ID, letter
from monitor.reports.scores import LEVELS
from monitor.reports.skill import FEWEST_NIGHTS, skill_json, skill_lines, skill_of
from monitor.reports.week import compose
from monitor.wording import SI, Wording
from monitor.yard.forecast import SaidNight
from tests.reports import kettlemoss

FIRST = date(2026, 9, 1)
WORDING = Wording(zone=UTC, units=SI)


def said(night: int, low_c: float | None, space="long-shed", **changes) -> SaidNight:
    evening = FIRST + timedelta(days=night)
    usual = {"air_c": 6.0, "cold_c": -2.0, "expected_c": 1.0, "warm_c": 4.0, "below_zero": 0.3}
    return SaidNight(
        space=space,
        evening=evening,
        said_at=datetime(evening.year, evening.month, evening.day, 17, tzinfo=UTC),
        low_c=low_c,
        **(usual | changes),
    )


def true_chances(nights: int, space="long-shed", seed=3) -> list[SaidNight]:
    """Nights whose low is drawn from the very law whose quantiles and chance are said."""
    rng = np.random.default_rng(seed)
    found = []
    for n in range(nights):
        middle = rng.normal(1.0, 3.0)
        lows = np.sort(rng.normal(middle, 2.0, 400))
        cold, expected, warm = np.quantile(lows, LEVELS)
        low = float(rng.choice(lows))
        chance = float((lows < 0.0).mean())
        found.append(
            said(n, low, space, cold_c=cold, expected_c=expected, warm_c=warm, below_zero=chance,
                 air_c=middle + 8.0)
        )  # fmt: skip
    return found


def test_a_fortnight_must_be_known_besides_the_nights_that_make_a_climate():
    nights = [said(n, 1.0) for n in range(5 + FEWEST_NIGHTS)]
    assert skill_of(nights[:-1]) is None
    assert skill_of(nights).nights == FEWEST_NIGHTS


def test_nights_that_are_not_over_or_were_not_read_are_left_out():
    nights = [said(n, 1.0) for n in range(30)]
    assert skill_json(skill_of([*nights, said(30, None)])) == skill_json(skill_of(nights))


def test_order_and_the_number_of_spaces_do_not_make_more_nights():
    nights = [*true_chances(60), *true_chances(60, "lee-rack", seed=4)]
    found = skill_of(nights)
    assert found == skill_of(nights[::-1])
    assert (found.nights, found.lows) == (55, 110)
    assert sum(each.nights for each in found.tenths) <= 55


def test_true_chances_are_reliable_and_beat_climate_and_persistence():
    found = skill_of(true_chances(600))
    assert all(abs(each.said - each.happened) < 0.15 for each in found.tenths if each.nights > 40)
    assert np.mean([each.consistent for each in found.tenths]) >= 0.7
    assert found.brier_over_climate > 0.2
    assert found.brier_over_persistence > 0.5
    assert found.crps_over_climate > 0.2
    assert found.inside == pytest.approx(0.8, abs=0.05)


def test_words_that_know_nothing_have_no_skill_and_are_told_to_be_off():
    nights = [replace(each, below_zero=0.95) for each in true_chances(100)]
    found = skill_of(nights)
    assert found.brier_over_climate < 0.0
    assert not all(each.consistent for each in found.tenths)
    assert "Furthest off" in " ".join(skill_lines(found, WORDING))


def test_scores_are_those_of_scoringrules():
    nights = true_chances(80)
    found, scored = skill_of(nights), nights[5:]
    low = np.array([each.low_c for each in scored])
    values = np.array([(each.cold_c, each.expected_c, each.warm_c) for each in scored])
    assert found.crps_k == pytest.approx(scoringrules.crps_quantile(low, values, LEVELS).mean())
    above = [each for each in scored if each.air_c > 0.0]
    chances = np.array([each.below_zero for each in above])
    froze = np.array([float(each.low_c < 0.0) for each in above])
    assert found.brier == pytest.approx(scoringrules.brier_score(froze, chances).mean())


def test_evenings_that_begin_below_freezing_are_no_forecast_of_frost():
    nights = [said(n, -3.0, air_c=-1.0, cold_c=-5, expected_c=-3, warm_c=-1) for n in range(40)]
    found = skill_of(nights)
    assert found.tenths == ()
    assert skill_json(found)["below_zero"]["brier"] is None


def test_a_yard_that_said_no_chances_is_told_of_its_lows_alone():
    found = skill_of([replace(each, below_zero=None) for each in true_chances(60)])
    (line,) = skill_lines(found, WORDING)
    assert "expected low" in line


def test_json_holds_no_number_that_json_has_not():
    for found in (skill_of(true_chances(60)), skill_of([said(n, 1.0) for n in range(40)])):
        text = json.dumps(skill_json(found), allow_nan=False)
        assert json.loads(text)["low"]["error_k"] is not None


def test_the_plot_is_drawn_by_a_child():
    with Plots() as plots:
        drawn = plots.plot(skill_figure(skill_of(true_chances(120))))
    assert drawn is not None
    assert drawn.startswith(b"\x89PNG\r\n\x1a\n")  # W3C PNG specification, section 5.2


@pytest.mark.parametrize(("person", "told"), [("ines", True), ("tobin", False)])
def test_the_weekly_letter_tells_it_to_the_staff_alone(store, person, told):
    with store.transaction() as tx:
        tx.said_nights.add(true_chances(70))
    report = compose(
        store, kettlemoss.yard(), kettlemoss.craft(), date(2026, 11, 9), kettlemoss.KETTLEMOSS_NOW
    )
    written = letter(report, report.picture.yard.person(person))
    assert ("HOW TRUE THE EVENINGS' WORDS WERE" in written.text) is told
    assert (SKILL_PLOT_ID in {each.content_id for each in written.attachments}) is told
    assert (f"cid:{SKILL_PLOT_ID}" in written.html) is told
