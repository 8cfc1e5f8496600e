"""Every row of check_values.csv, by the function that it checks."""

from datetime import date, datetime
from zoneinfo import ZoneInfo

import numpy as np
import psychrolib
import pytest

from monitor.physics import (
    antifreeze,
    battery,
    building,
    corrosivity,
    humidity_check,
    ice,
    lag,
    moist_air,
    mould,
    night_low,
    sky,
    ventilation,
    wetness,
)
from monitor.yard.sun import night_of
from tests.physics.check_values import CheckValue, check_values

FLUID_OUNCE_L = 0.0295735295625
GLYCOL = {
    "freezing_point_propylene_glycol": "propylene",
    "freezing_point_ethylene_glycol": "ethylene",
}
ZONES = {"-93.0": "America/Chicago", "5.0": "Europe/Amsterdam", "25.0": "Europe/Helsinki"}
# CRC handbook, constant humidity over saturated salts: RH = A exp(B / T), good to 2 %.
CRC = {"MgCl2": (29.26, 34), "NaCl": (69.20, 25), "KCl": (49.38, 159), "K2SO4": (86.75, 34)}


def air(row: CheckValue) -> tuple[float, float]:
    return row.number("T_C"), row.number("RH_pct")


def freezing_point(row: CheckValue) -> float:
    glycol = GLYCOL[row.quantity]
    if "mass_pct" in row.inputs:
        return antifreeze.ice_point(row.number("mass_pct") / 100, glycol)
    by_volume = row.number("volume_pct") / 100
    return antifreeze.ice_point(antifreeze.mass_fraction_of_volume(by_volume, glycol), glycol)


def mixed(row: CheckValue) -> float:
    return antifreeze.mix(
        row.number("product_mass_pct") / 100,
        row.number("product_floz") * FLUID_OUNCE_L,
        row.number("water_floz") * FLUID_OUNCE_L,
    )


def first_ice(row: CheckValue) -> float:
    hours = row.number("heat_capacity_J_K") / row.number("UA_W_K") / 3600
    return ice.first_ice_hours(row.number("T0_C"), row.number("air_C"), hours)


def through_after_first_ice(row: CheckValue) -> float:
    factor = 1.0
    if "D_m" in row.inputs:
        factor = ice.plank_factor(row.number("D_m"), row.number("U_W_m2K"))
    needed = ice.degree_hours_to_solid(row.number("water_kg"), row.number("UA_W_K"), factor)
    return ice.frozen_through_hours(0.0, row.number("air_C"), 1.0, needed)


def cylinder(row: CheckValue) -> float:
    diameter, transfer = row.number("D_m"), row.number("U_W_m2K")
    water = np.pi * diameter**2 / 4 * 999.8  # kg in a metre of the cylinder
    loss = np.pi * diameter * transfer
    needed = ice.degree_hours_to_solid(water, loss, ice.plank_factor(diameter, transfer))
    return ice.frozen_through_hours(0.0, row.number("air_C"), 1.0, needed)


def wave(lag_h: float) -> tuple[float, float]:
    """Ratio of swings and delay [h] of a body under a daily wave, found from its course."""
    hours = np.arange(0, 24 * 4, 0.005)
    body = lag.lag_response(hours, np.sin(2 * np.pi * hours / 24), lag_h).body_c
    day = hours >= hours[-1] - 24
    top = np.argmax(body[day])
    peak = hours[day][top] % 24
    return body[day][top], peak - 6.0


def fao(row: CheckValue) -> night_low.FaoFit:
    return night_low.fit_lows(row.series("T0_C"), row.series("Td_C"), row.series("Tn_C"))


def fao_of_the_sample(_: CheckValue) -> night_low.FaoFit:
    return fao(next(row for row in check_values() if row.quantity == "fao_b1"))


def film(row: CheckValue, surface: str) -> float:
    return wetness.condensation_rate(
        row.number("air_T_C"), row.number("air_RH_pct"), row.number(surface), row.number("h_W_m2K")
    )


def salt(row: CheckValue) -> float:
    return humidity_check.salt_humidity(row.inputs["salt"], row.number("T_C"))


def salt_by_the_handbook(row: CheckValue) -> float:
    # The row holds the handbook's own number; ours must lie within its 2 points too.
    a, b = CRC[row.inputs["salt"]]
    assert a * np.exp(b / (row.number("T_C") + 273.15)) == pytest.approx(
        float(row.expected), abs=0.1
    )
    return salt(row)


def electrolyte_from_charge(row: CheckValue) -> float:
    assert row.number("full_SG") == battery.FULL_GRAVITY
    assert row.number("empty_SG") == battery.EMPTY_GRAVITY
    return battery.freezing_point_of_charge(row.number("state_of_charge_pct") / 100)


def rested(row: CheckValue) -> float:
    """Lowest voltage of a full battery, highest of an emptier one."""
    wanted = row.number("state_of_charge_pct") / 100
    volts = np.linspace(11.7, 12.7, 1001)
    charge = battery.charge_from_rested_voltage(volts, "flooded", row.number("T_C")).fraction
    return volts[charge >= 1.0][0] if wanted == 1.0 else volts[charge <= wanted + 1e-9][-1]


def water_difference(row: CheckValue) -> float:
    inputs = [row.number(key) for key in ("in_T_C", "in_RH_pct", "out_T_C", "out_RH_pct")]
    return ventilation.vent_effect(*inputs).water_g_kg


def largest_loss(row: CheckValue) -> float:
    return corrosivity.STEEL_LOSS_G_M2[corrosivity.CATEGORIES.index(row.inputs["category"])]


def sky_of(row: CheckValue) -> float:
    """Emissivity of the row's clear sky."""
    return sky.clear_sky_emissivity(row.number("T_C"), row.number("Td_C"))


def infrared_of(row: CheckValue) -> float:
    """What that sky sends down, by the law of Stefan and Boltzmann [W/m²]."""
    return sky_of(row) * sky.STEFAN_BOLTZMANN * (row.number("T_C") + 273.15) ** 4


def depression(row: CheckValue, dew_point_c: float) -> float:
    surface = sky.RadiatingSurface(
        sky_share=row.number("F_sky"),
        coupling_w_m2k=row.number("hb_W_m2K"),
        emissivity=row.number("emissivity"),
    )
    return sky.depression(
        row.number("T_C"), dew_point_c, sky_of(row), row.number("wind_m_s"), surface
    )


def dry_depression(row: CheckValue) -> float:
    # Air too dry for frost under the same sky.
    return depression(row, -60.0)


COMPUTED = {
    "saturation_pressure_water": lambda r: moist_air.saturation_pressure_water(r.number("T_C")),
    "saturation_pressure_supercooled_water": lambda r: moist_air.saturation_pressure_water(
        r.number("T_C")
    ),
    "saturation_pressure_ice": lambda r: moist_air.saturation_pressure_ice(r.number("T_C")),
    "dew_point": lambda r: moist_air.dew_point(*air(r)),
    "frost_point": lambda r: moist_air.frost_point(*air(r)),
    "humidity_ratio": lambda r: 1000 * moist_air.humidity_ratio(*air(r), r.number("P_Pa")),
    "humidity_ratio_real_gas": lambda r: 1000 * moist_air.humidity_ratio(*air(r), r.number("P_Pa")),
    "absolute_humidity": lambda r: moist_air.absolute_humidity(*air(r)),
    "wet_bulb": lambda r: moist_air.wet_bulb(*air(r), r.number("P_Pa")),
    "rh_from_dew_point": lambda r: moist_air.relative_humidity(
        r.number("T_C"), r.number("dew_point_C")
    ),
    "surface_rh": lambda r: moist_air.surface_humidity(
        r.number("air_T_C"), r.number("air_RH_pct"), r.number("surface_T_C")
    ),
    "rh_over_ice": lambda r: moist_air.relative_humidity_over_ice(*air(r)),
    "lag_step": lambda r: lag.lag_step(
        r.number("T0_C"), r.number("air_C"), r.number("air_C"), r.number("hours"), r.number("tau_h")
    ),
    "lag_ramp": lambda r: lag.lag_step(
        r.number("T0_C"),
        r.number("air_start_C"),
        r.number("air_end_C"),
        r.number("hours"),
        r.number("tau_h"),
    ),
    "lag_daily_wave_ratio": lambda r: wave(r.number("tau_h"))[0],
    "lag_daily_wave_delay": lambda r: wave(r.number("tau_h"))[1],
    "natural_convection_h": lambda r: wetness.film_coefficient(
        r.number("dT_K"), r.number("height_m")
    ),
    "condensation_flux": lambda r: film(r, "surface_T_C"),
    "drying_flux": lambda r: film(r, "surface_T_C"),
    "mass_loss_to_thickness_steel": lambda r: corrosivity.loss_depth_um(r.number("mass_loss_g_m2")),
    "corrosivity_category_steel_upper": largest_loss,
    "wet_hour": lambda r: float(wetness.is_wet(*air(r))),
    "mould_critical_rh": lambda r: mould.critical_humidity(r.number("T_C")),
    "mould_time_to_index_1": lambda r: mould.weeks_to_first_growth(*air(r)),
    "mould_initial_rate": lambda r: mould.growth_per_day(*air(r)),
    "mould_index_maximum": lambda r: mould.index_ceiling(*air(r)),
    "mould_decline": lambda r: mould.mould_index_series(
        np.arange(r.number("dry_hours") + 1),
        np.full(int(r.number("dry_hours")) + 1, 20.0),
        np.full(int(r.number("dry_hours")) + 1, 50.0),
        start=r.number("start_index"),
        decline_factor=r.number("material_factor"),
    )[-1],
    "freezing_point_propylene_glycol": freezing_point,
    "freezing_point_ethylene_glycol": freezing_point,
    "glycol_mix_mass_fraction": lambda r: 100 * mixed(r),
    "glycol_mix_ice_point": lambda r: antifreeze.ice_point(mixed(r)),
    "glycol_ice_fraction": lambda r: antifreeze.ice_share(
        r.number("mass_pct") / 100, r.number("T_C")
    ),
    "water_expansion_on_freezing": lambda _: 100 * ice.EXPANSION,
    "fill_fraction_limit": lambda _: ice.FILL_LIMIT,
    "latent_heat_of_fusion": lambda _: ice.LATENT_KJ_KG,
    "first_ice_hours": first_ice,
    "freeze_through_hours_after_first_ice": through_after_first_ice,
    "freezing_degree_hours_to_solid": lambda r: ice.degree_hours_to_solid(
        r.number("water_kg"), r.number("UA_W_K")
    ),
    "freeze_through_hours_cylinder": cylinder,
    "electrolyte_freezing_point": lambda r: battery.electrolyte_freezing_point(
        r.number("specific_gravity")
    ),
    "electrolyte_freezing_point_from_charge": electrolyte_from_charge,
    "rested_voltage_flooded": rested,
    "self_discharge": lambda r: battery.self_discharge(
        r.number("rate_25C_pct_month"), r.number("T_C")
    ),
    "float_voltage": lambda r: battery.float_voltage(
        r.number("T_C"),
        r.number("base_25C_V_cell"),
        r.number("comp_mV_cell_K"),
        int(r.number("cells")),
    ),
    "specific_gravity_temperature_correction": lambda r: battery.specific_gravity_at_27c(
        r.number("reading"), (r.number("electrolyte_F") - 32) / 1.8
    ),
    "hydrogen_per_amp_hour_overcharge": lambda r: battery.hydrogen_l(1.0, int(r.number("cells"))),
    "fao_b1": lambda r: fao(r).slope_air,
    "fao_b2": lambda r: fao(r).slope_dew,
    "fao_b3": lambda r: fao(r).constant_c,
    "fao_predicted_minimum": lambda r: fao_of_the_sample(r).low(r.number("T0_C"), r.number("Td_C")),
    "fao_trend": lambda r: night_low.night_trend(
        r.number("hours_after_sunset"), r.number("T0_C"), r.number("Tp_C"), r.number("night_h")
    ),
    "fao_hour_of_zero": lambda r: night_low.hour_of_passing(
        0.0, r.number("T0_C"), r.number("Tp_C"), r.number("night_h")
    ),
    "parton_logan_night_minimum": lambda r: night_low.low_from_fall_so_far(
        r.number("T_sunset_C"),
        r.number("T_now_C"),
        r.number("hours_since_sunset"),
        r.number("night_h"),
    ),
    "hours_to_zero_building": lambda r: building.hours_to_reach(
        0.0, r.number("T0_C"), r.number("out_C"), r.number("tau_h")
    ),
    "fit_time_constant": lambda r: building.lag_of_two_readings(
        r.number("T1_C"), r.number("T2_C"), r.number("out_C"), r.number("hours")
    ),
    "humidity_ratio_out_minus_in": water_difference,
    "clear_sky_emissivity_prata": sky_of,
    "sky_infrared_measured_clear_night": infrared_of,
    "surface_depression_dry": dry_depression,
    "surface_depression_frost_limited": lambda r: depression(r, r.number("Td_C")),
    "saturated_salt_rh": salt,
    "saturated_salt_rh_exp_form": salt_by_the_handbook,
}

# Read by tests of their own below.
ELSEWHERE = {"sunset_utc", "sunrise_utc", "trap_psychrolib_dew_point_below_zero"}


def test_every_quantity_of_the_check_values_is_read():
    assert {row.quantity for row in check_values()} == COMPUTED.keys() | ELSEWHERE


@pytest.mark.parametrize(
    "row", [row for row in check_values() if row.quantity in COMPUTED], ids=str
)
def test_agrees_with_its_check_value(row):
    assert float(COMPUTED[row.quantity](row)) == pytest.approx(
        float(row.expected), abs=max(row.allowed, 1e-9)
    )


@pytest.mark.parametrize(
    "row", [row for row in check_values() if row.quantity in {"sunset_utc", "sunrise_utc"}], ids=str
)
def test_the_sun_sets_and_rises_when_the_solar_position_algorithm_says(row):
    zone = ZoneInfo(ZONES[row.inputs["lon_deg"]])
    day = date.fromisoformat(row.inputs["local_date"])
    place = row.number("lat_deg"), row.number("lon_deg"), zone
    if row.quantity == "sunset_utc":
        ours = night_of(day, *place).sunset
    else:
        ours = night_of(date.fromordinal(day.toordinal() - 1), *place).sunrise
    assert abs((ours - datetime.fromisoformat(row.expected)).total_seconds()) <= row.allowed


def test_humidity_is_over_water_below_zero_too():
    row = next(r for r in check_values() if r.quantity == "trap_psychrolib_dew_point_below_zero")
    psychrolib.SetUnitSystem(psychrolib.SI)
    theirs = psychrolib.GetTDewPointFromRelHum(row.number("T_C"), row.number("RH_pct") / 100)
    assert theirs == pytest.approx(float(row.expected), abs=row.allowed)
    assert moist_air.dew_point(*air(row)) < theirs - 0.25
    assert moist_air.frost_point(*air(row)) > theirs + 0.25
