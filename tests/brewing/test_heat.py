"""Heating, boiling, cooling and what an open surface loses."""

from __future__ import annotations

from math import inf

import ht
import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st

from kettlebridge.brewing import chilling, energy
from kettlebridge.brewing.mash import water_capacity_j_per_k
from kettlebridge.brewing.surface import evaporated_kg_per_m2_h, evaporation_w


@pytest.mark.parametrize(
    ("litres", "from_c", "to_c", "power_w", "minutes"),
    [(30, 20, 67, 3000, 32.70), (28, 67, 99.97, 3000, 21.50), (25, 20, 71.7, 2400, 37.47), (20, 20, 99.9, 2000, 55.69)],
)
def test_water_heats_as_its_enthalpy_says(
    litres: float, from_c: float, to_c: float, power_w: float, minutes: float
) -> None:
    """CoolProp 8, no losses; our heat capacity is one number for all temperatures."""
    found_s = energy.heating_s(water_capacity_j_per_k(litres), power_w, 0.0, (from_c, to_c, 20.0))
    assert found_s / 60.0 == pytest.approx(minutes, rel=0.004)


def test_losses_make_it_slower_and_too_much_loss_never_gets_there() -> None:
    capacity = water_capacity_j_per_k(20.0)
    lossless_s = energy.heating_s(capacity, 2000.0, 0.0, (20.0, 70.0, 20.0))
    assert energy.heating_s(capacity, 2000.0, 8.0, (20.0, 70.0, 20.0)) > lossless_s
    with pytest.raises(ValueError, match="never"):
        energy.heating_s(capacity, 300.0, 8.0, (20.0, 70.0, 20.0))


@given(st.floats(30.0, 100.0), st.floats(0.5, 30.0), st.floats(10.0, 7200.0))
def test_water_heated_for_its_wait_is_right_after_it(to_c: float, loss_w_per_k: float, seconds: float) -> None:
    warmer_c = energy.before_cooling_c(to_c, 18.0, loss_w_per_k, 60_000.0, seconds)
    assert energy.cooled_c(warmer_c, 18.0, loss_w_per_k, 60_000.0, seconds) == pytest.approx(to_c)


@pytest.mark.parametrize(("heater_w", "litres"), [(1500, 2.397), (3000, 4.795), (5500, 8.791)])
def test_no_heater_boils_off_more_than_its_latent_heat(heater_w: float, litres: float) -> None:
    """2256.47 kJ/kg, IAPWS-95."""
    assert energy.most_boil_off_l_per_h(heater_w, 0.0, 99.97, 20.0) == pytest.approx(litres, abs=0.002)
    assert energy.boiling_w(litres, 0.0, 99.97, 20.0) == pytest.approx(heater_w, abs=1.0)
    assert PropsSI("H", "P", 101_325, "Q", 1, "Water") - PropsSI("H", "P", 101_325, "Q", 0, "Water") == pytest.approx(
        energy.BOIL_OFF_W_PER_L_H * 3600.0 / 0.998207, rel=1e-4
    )


def test_heater_below_its_losses_boils_nothing_off() -> None:
    assert energy.most_boil_off_l_per_h(500.0, 10.0, 100.0, 20.0) == 0.0


def test_electricity_has_its_price() -> None:
    assert energy.cost(5.5, 0.3) == pytest.approx(1.65)


@pytest.mark.parametrize(("coil_w_per_k", "water_l_per_min"), [(100.0, 6.0), (250.0, 4.0), (600.0, 2.0)])
def test_coil_in_stirred_wort_is_that_of_the_textbooks(coil_w_per_k: float, water_l_per_min: float) -> None:
    """Library ht 1.2, after Incropera: stirred wort is the stream that changes least, a flow ratio of 0."""
    ntu = coil_w_per_k / (water_l_per_min * chilling.W_PER_K_OF_L_PER_MIN)
    expected = ht.effectiveness_from_NTU(ntu, 0.0, "counterflow")
    assert chilling.coil_effectiveness(coil_w_per_k, water_l_per_min) == pytest.approx(expected, abs=1e-9)


def test_coil_chills_twenty_litres_in_eighteen_minutes() -> None:
    """20 L from 100 to 25 °C, water of 15 °C at 4 L/min, 250 W/K: effectiveness 0.59139, 18.06 min (ht 1.2)."""
    found = chilling.coil_effectiveness(250.0, 4.0)
    assert found == pytest.approx(0.59139, abs=5e-4)
    exchange = found * 4.0 * chilling.W_PER_K_OF_L_PER_MIN
    assert chilling.coil_min(20.0, 100.0, 25.0, 15.0, exchange) == pytest.approx(18.06, abs=0.05)


def test_wort_gets_no_colder_than_its_cooling_water() -> None:
    assert chilling.coil_min(20.0, 100.0, 15.0, 15.0, 160.0) == inf
    assert chilling.reachable_c(18.0, 22.0) == 24.0
    assert chilling.reachable_c(18.0, 12.0) == 18.0


@pytest.mark.parametrize(("at_c", "kg"), [(30, 0.330), (50, 1.640), (67, 4.509), (80, 8.836), (90, 14.22)])
def test_open_water_dries_up_as_shah_says(at_c: float, kg: float) -> None:
    """Shah's equation worked out independently with CoolProp's moist air; constants from memory."""
    assert evaporated_kg_per_m2_h(at_c, 20.0) == pytest.approx(kg, rel=0.05)


@pytest.mark.parametrize(("at_c", "kg"), [(50, 1.504), (67, 3.587), (78, 5.892)])
def test_open_water_dries_up_about_as_carriers_formula_says(at_c: float, kg: float) -> None:
    """ASHRAE/Carrier for still air, from memory; correlations differ by 30 %."""
    assert evaporated_kg_per_m2_h(at_c, 20.0) == pytest.approx(kg, rel=0.4)


def test_lid_keeps_most_of_the_vapour_in_and_cold_water_loses_none() -> None:
    assert evaporation_w(0.1, 67.0, 20.0, lid_on=True) < 0.2 * evaporation_w(0.1, 67.0, 20.0, lid_on=False)
    assert evaporated_kg_per_m2_h(8.0, 25.0) == 0.0
