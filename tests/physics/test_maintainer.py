"""What a maintainer does, told from scenes as they happen at the bench."""

import numpy as np

from monitor.physics.maintainer import Phase, maintainer_phase


def names(phases: np.ndarray) -> list[str]:
    return [Phase(each).name for each in phases]


def test_a_charge_from_empty_goes_through_bulk_absorption_and_float():
    hours = np.arange(0, 12, 0.5)
    volts = np.concatenate([np.linspace(12.3, 14.0, 8), np.full(8, 14.4), np.full(8, 13.6)])
    amps = np.concatenate([np.full(8, 1.5), np.linspace(1.4, 0.2, 8), np.full(8, 0.05)])
    phases = names(maintainer_phase(hours, volts, amps, 25.0))
    assert phases == ["BULK"] * 8 + ["ABSORPTION"] * 8 + ["FLOAT"] * 8


def test_the_same_voltage_is_float_in_the_cold_and_absorption_in_the_warmth():
    assert names(maintainer_phase([0.0], [14.2], [0.05], 0.0)) == ["FLOAT"]
    assert names(maintainer_phase([0.0], [14.2], [0.05], 25.0)) == ["ABSORPTION"]


def test_without_a_current_the_voltage_decides():
    assert names(maintainer_phase([0, 1], [13.6, 14.4])) == ["FLOAT", "ABSORPTION"]


def test_unplugged_at_float_is_lost_within_two_hours_and_found_when_it_charges_again():
    hours = np.arange(0, 8, 0.5)
    volts = np.full(hours.size, 13.6)
    volts[4:12] = [13.2, 13.05, 12.95, 12.9, 12.87, 12.85, 12.84, 12.83]
    phases = maintainer_phase(hours, volts)
    first = hours[phases == Phase.LOST][0]
    assert 2.0 <= first <= 4.0
    assert np.all(phases[(hours >= first) & (hours < 6)] == Phase.LOST)
    assert np.all(phases[hours >= 6] == Phase.FLOAT)


def test_a_unit_that_rests_between_top_ups_is_idle_not_lost():
    hours = np.arange(0, 12, 0.5)
    volts = np.where(hours < 1, 13.6, 12.95)
    volts[2] = 13.1  # the step down is seen above the resting voltage
    volts[3:] = 12.98 - 0.001 * np.arange(hours.size - 3)
    phases = maintainer_phase(hours[6:], volts[6:], np.zeros(hours.size - 6))
    assert set(names(phases)) == {"IDLE"}


def test_a_pause_longer_than_the_unit_takes_is_lost():
    hours = np.arange(0, 30, 1.0)
    volts = np.where(hours < 1, 13.6, 12.9)
    volts[1:] -= 0.001 * np.arange(hours.size - 1)
    phases = maintainer_phase(hours, volts, np.where(hours < 1, 0.1, 0.0), longest_pause_h=12.0)
    assert phases[-1] == Phase.LOST


def test_no_voltage_is_no_phase():
    assert names(maintainer_phase([0, 1, 2], [13.6, np.nan, 13.6])) == ["FLOAT", "UNKNOWN", "FLOAT"]


def test_lithium_holds_without_compensation():
    assert names(maintainer_phase([0], [13.6], [0.02], -10.0, chemistry="lifepo4")) == ["FLOAT"]
