"""Whole tables from outside beside every formula: each has its source, and its tolerance is what that source allows.

Single values stand with the rest of their formula's tests; here are the rows that those leave out.
"""

from __future__ import annotations

import pytest

from kettlebridge.brewing import alcohol, bitterness, carbonation, colour, extract, gravity, water, yeast
from kettlebridge.brewing.energy import boiling_w, heating_s, most_boil_off_l_per_h
from kettlebridge.brewing.isomerisation import Span, boil_minutes, isomerising_per_min
from kettlebridge.brewing.surface import evaporated_kg_per_m2_h

RATIOS = {
    15.56: 0.999189,
    40.0: 1.006038,
    50.0: 1.010295,
    60.0: 1.015268,
    65.0: 1.018007,
    67.0: 1.01915,
    70.0: 1.020907,
    78.0: 1.02588,
    80.0: 1.027184,
    90.0: 1.034080,
    95.0: 1.037758,
    99.97: 1.041567,
}
"""Volume over that at 20 °C: IAPWS-95, computed with CoolProp 8.0.0."""


@pytest.mark.parametrize("at_c", RATIOS)
def test_water_grows_as_iapws_says(at_c: float) -> None:
    assert water.hot_litres(1.0, at_c) == pytest.approx(RATIOS[at_c], abs=3e-5)
    assert water.cold_litres(RATIOS[at_c], at_c) == pytest.approx(1.0, abs=3e-5)


def test_wort_shrinks_by_four_per_cent_from_the_boil_to_the_cellar() -> None:
    """3.991 % by IAPWS-95."""
    assert 100.0 * (1.0 - water.cold_litres(1.0, 99.97)) == pytest.approx(3.991, abs=0.003)


STEAM = {
    10.0: (2477.187, 1.22820),
    20.0: (2453.519, 2.33932),
    40.0: (2405.977, 7.38494),
    60.0: (2357.655, 19.94643),
    67.0: (2340.457, 27.36846),
    78.0: (2313.045, 43.70297),
    90.0: (2282.491, 70.18177),
    99.97: (2256.483, 101.30946),
}
"""Heat of evaporation in kJ/kg and pressure of vapour in kPa: IAPWS-95, computed with CoolProp 8.0.0."""


@pytest.mark.parametrize("at_c", STEAM)
def test_steam_is_that_of_iapws(at_c: float) -> None:
    latent_kj, pressure_kpa = STEAM[at_c]
    assert water.latent_heat_kj_per_kg(at_c) == pytest.approx(latent_kj, abs=0.7)
    assert water.vapour_pressure_pa(at_c) == pytest.approx(1000.0 * pressure_kpa, rel=1e-4)


GRAVITIES = {
    1.0: (1.00389, 1.0021),
    2.0: (1.00780, 1.0060),
    3.0: (1.01173, 1.0099),
    4.0: (1.01569, 1.0139),
    5.0: (1.01968, 1.0178),
    6.0: (1.02369, 1.0218),
    8.0: (1.03180, 1.0299),
    10.0: (1.04003, 1.0381),
    12.0: (1.04837, 1.0465),
    14.0: (1.05683, 1.0549),
    15.0: (1.06111, 1.0592),
    16.0: (1.06542, 1.0635),
    18.0: (1.07413, 1.0722),
    20.0: (1.08297, 1.0810),
    22.0: (1.09195, 1.0899),
    24.0: (1.10106, 1.0990),
    26.0: (1.11031, 1.1082),
}
"""Apparent SG 20/20 by the inverse of the ASBC polynomial as printed at liquisearch.com/brix/tables, and the density in
g/mL of the Handbook of Chemistry and Physics (as kept in SnpEff's Sucrose.java), to its last digit."""


@pytest.mark.parametrize("of_plato", GRAVITIES)
def test_gravity_and_density_of_wort_are_those_of_both_tables(of_plato: float) -> None:
    apparent_sg, density = GRAVITIES[of_plato]
    assert gravity.sg(of_plato) == pytest.approx(apparent_sg, abs=6e-6)
    assert gravity.plato(apparent_sg) == pytest.approx(of_plato, abs=2e-3)
    assert gravity.density_kg_per_l_at_20_c(of_plato) == pytest.approx(density, abs=1.0e-4)


@pytest.mark.parametrize(
    ("found_sg", "of_plato"),
    [
        (1.010, 2.5608),
        (1.020, 5.0809),
        (1.030, 7.5582),
        (1.040, 9.9935),
        (1.048, 11.9121),
        (1.050, 12.3876),
        (1.060, 14.7414),
        (1.070, 17.0556),
        (1.080, 19.3310),
        (1.090, 21.5685),
        (1.100, 23.7689),
    ],
)
def test_plato_of_a_gravity_is_the_asbc_polynomials(found_sg: float, of_plato: float) -> None:
    """Beside it, Lincoln's (463 - 205 S)(S - 1) of the same page, which agrees within 0.02 °P."""
    assert gravity.plato(found_sg) == pytest.approx(of_plato, abs=5e-5)
    assert gravity.plato(found_sg) == pytest.approx((463.0 - 205.0 * found_sg) * (found_sg - 1.0), abs=0.02)


@pytest.mark.parametrize(
    ("grams_per_l", "degrees"), [(50.0, 386.65), (100.0, 385.64), (150.0, 384.79), (200.0, 384.03)]
)
def test_sugar_gives_its_litre_degrees_per_kilogram(grams_per_l: float, degrees: float) -> None:
    """Follows from the ASBC polynomial; not constant, as often said."""
    found_sg = gravity.sg(extract.plato_of(grams_per_l / 1000.0, 1.0))
    assert (found_sg - 1.0) * 1000.0 / (grams_per_l / 1000.0) == pytest.approx(degrees, abs=0.02)


@pytest.mark.parametrize(
    ("water_l_per_kg", "of_plato"), [(2.5, 23.25), (3.0, 20.20), (10.0 / 3.0, 18.57), (4.0, 16.00)]
)
def test_the_strongest_first_wort_follows_from_the_malt(water_l_per_kg: float, of_plato: float) -> None:
    """80 % on dry basis, 4 % moisture, all of it dissolved: a mass balance."""
    assert extract.highest_first_wort_plato(water_l_per_kg, 0.80, 0.04) == pytest.approx(of_plato, abs=0.02)


@pytest.mark.parametrize(
    ("kilowatts", "most_l_per_h"),
    [(1.5, 2.397), (2.0, 3.197), (2.4, 3.836), (3.0, 4.795), (3.5, 5.594), (5.5, 8.791)],
)
def test_a_heater_boils_off_no_more_than_the_heat_of_evaporation_lets_it(kilowatts: float, most_l_per_h: float) -> None:
    """2256.47 kJ/kg at 1 atm (IAPWS-95): 0.62567 kW for a litre an hour, measured at 20 °C."""
    assert most_boil_off_l_per_h(1000.0 * kilowatts, 0.0, 100.0, 20.0) == pytest.approx(most_l_per_h, abs=1e-3)
    assert boiling_w(most_l_per_h, 0.0, 100.0, 20.0) == pytest.approx(1000.0 * kilowatts, rel=3e-4)


def test_twenty_litres_from_the_boil_give_off_their_heat() -> None:
    """6688.6 kJ from 100 to 20 °C (IAPWS-95): what a heater of 1 kW gives in as many seconds."""
    capacity = 20.0 * water.WATER_J_PER_KG_K
    assert heating_s(capacity, 1000.0, 0.0, (20.0, 100.0, 20.0)) == pytest.approx(6688.6, rel=2.5e-3)


RATES = {
    70.0: 0.000776,
    75.0: 0.001275,
    80.0: 0.002065,
    85.0: 0.003300,
    90.0: 0.005206,
    95.0: 0.008112,
    98.0: 0.010525,
    100.0: 0.012490,
    110.0: 0.028627,
    120.0: 0.062899,
    130.0: 0.132912,
}
"""k1 a minute: Malowicki and Shellhammer, doi 10.1021/jf0481296."""


@pytest.mark.parametrize("at_c", RATES)
def test_alpha_acid_turns_as_malowicki_and_shellhammer_found(at_c: float) -> None:
    assert isomerising_per_min(at_c) == pytest.approx(RATES[at_c], rel=1e-3)


@pytest.mark.parametrize(
    ("boil_c", "factor"), [(99.9743, 0.998), (96.6494, 0.750), (94.9843, 0.649), (93.3174, 0.560), (89.9772, 0.416)]
)
def test_a_boil_in_the_hills_is_worth_less(boil_c: float, factor: float) -> None:
    """Boiling points at 0, 1000, 1500, 2000 and 3000 m (IAPWS-95 and the standard atmosphere), and the same k1."""
    assert boil_minutes((Span(minutes=1.0, from_c=boil_c, to_c=boil_c),)) == pytest.approx(factor, abs=1e-3)


BIGNESS = {1.03: 1.26006, 1.04: 1.15176, 1.05: 1.05276, 1.06: 0.96227, 1.07: 0.87956, 1.08: 0.80396, 1.09: 0.73486}
TIMES = {5: 0.04368, 10: 0.07944, 15: 0.10872, 20: 0.13269, 30: 0.16839, 45: 0.20113, 60: 0.21910, 90: 0.23438}
USED = {5: 0.046, 10: 0.084, 15: 0.114, 20: 0.140, 30: 0.177, 45: 0.212, 60: 0.231, 90: 0.247}
"""Tinseth, realbeer.com/hops/research.html: the fit's two factors, and its table at 1.050."""


def test_bitterness_is_tinseths_in_every_row() -> None:
    for at_sg, factor in BIGNESS.items():
        assert bitterness.bigness(at_sg) == pytest.approx(factor, abs=1e-5)
    for minutes, factor in TIMES.items():
        assert bitterness.boil_time_factor(minutes) == pytest.approx(factor, abs=1e-5)
        assert bitterness.utilisation(1.050, minutes) == pytest.approx(USED[minutes], abs=6e-4)


@pytest.mark.parametrize(
    ("of_mcu", "srm"),
    [
        (1.0, 1.492),
        (3.0, 3.170),
        (5.0, 4.500),
        (8.0, 6.212),
        (10.0, 7.240),
        (15.2, 9.648),
        (20.0, 11.647),
        (30.0, 15.381),
        (50.0, 21.835),
    ],
)
def test_colour_is_moreys(of_mcu: float, srm: float) -> None:
    """D. Morey, brewingtechniques.com/brewingtechniques/beerslaw/morey.html: SRM = 1.4922 MCU^0.6859."""
    assert colour.beer_srm(of_mcu) == pytest.approx(srm, abs=1e-3)


def test_ebc_and_srm_are_two_scales_of_one_absorbance() -> None:
    """25 and 12.7 times A430 (ASBC Beer-10A): 1.968504."""
    assert colour.ebc(12.7) == pytest.approx(25.0, abs=1e-4)
    assert colour.srm(25.0) == pytest.approx(12.7, abs=1e-4)


FACTORS = {
    6.0: 0.4073,
    7.0: 0.4091,
    8.0: 0.4110,
    9.0: 0.4129,
    10.0: 0.4148,
    11.0: 0.4168,
    12.0: 0.4187,
    13.0: 0.4206,
    14.0: 0.4226,
    15.0: 0.4246,
    16.0: 0.4267,
    18.0: 0.4309,
    20.0: 0.4351,
    25.0: 0.4462,
    30.0: 0.4580,
}
"""Balling's alcohol factors, per cent by mass of each degree lost apparently: F. Eckhardt, reprinted."""


@pytest.mark.parametrize("original", FACTORS)
def test_alcohol_is_ballings_by_his_whole_table(original: float) -> None:
    apparent = 0.25 * original
    real = alcohol.real_extract(original, apparent)
    assert alcohol.alcohol_by_mass(original, real) / (original - apparent) == pytest.approx(
        FACTORS[original], abs=1.1e-4
    )
    by_mass = alcohol.alcohol_by_mass(original, real)
    assert alcohol.original_plato(by_mass, real) == pytest.approx(original, abs=0.02)


@pytest.mark.parametrize(
    ("original_sg", "final_sg", "by_volume", "attenuated_percent"),
    [
        (1.040, 1.010, 3.938, 74.4),
        (1.050, 1.010, 5.265, 79.3),
        (1.060, 1.015, 5.943, 74.0),
        (1.080, 1.020, 7.973, 73.7),
    ],
)
def test_alcohol_by_volume_and_attenuation_of_four_beers(
    original_sg: float, final_sg: float, by_volume: float, attenuated_percent: float
) -> None:
    """Balling's relations. The usual 131.25 x difference is within 0.1; RE = 0.1808 OE + 0.8192 AE within 0.13."""
    assert alcohol.alcohol_by_volume(original_sg, final_sg) == pytest.approx(by_volume, abs=1e-3)
    assert 100.0 * alcohol.attenuation_fraction(original_sg, final_sg) == pytest.approx(attenuated_percent, abs=0.05)
    assert alcohol.alcohol_by_volume(original_sg, final_sg) == pytest.approx(131.25 * (original_sg - final_sg), abs=0.1)


@pytest.mark.parametrize(("rate", "billion"), [(0.75, 180.0), (1.0, 240.0), (1.5, 360.0)])
def test_pitching_rates_are_those_that_fix_gives(rate: float, billion: float) -> None:
    """G. Fix, Analysis of Brewing Techniques (secondary): million cells per mL and °P; 20 L of 12 °P."""
    assert yeast.cells_billion(20.0, 12.0, rate) == pytest.approx(billion)


@pytest.mark.parametrize(
    ("at_c", "volumes"),
    [(0.0, 1.628), (5.0, 1.358), (10.0, 1.145), (15.0, 0.976), (18.0, 0.890), (20.0, 0.839), (25.0, 0.727)],
)
def test_water_holds_the_carbon_dioxide_of_iapws_g7_04(at_c: float, volumes: float) -> None:
    """At 1 atm in all; computed with iapws 1.5.5 and CoolProp's gas density. 0 °C is a little below its range."""
    assert carbonation.volumes_held(at_c) == pytest.approx(volumes, rel=4e-3)


@pytest.mark.parametrize(
    ("at_f", "gauge_psi", "volumes"),
    [
        (32.0, 10.0, 2.70),
        (34.0, 10.0, 2.58),
        (38.0, 11.0, 2.48),
        (38.0, 12.0, 2.57),
        (38.0, 15.0, 2.85),
        (40.0, 10.0, 2.30),
        (40.0, 12.0, 2.47),
        (45.0, 12.0, 2.26),
        (45.0, 20.0, 2.94),
    ],
)
def test_beer_holds_one_to_two_per_cent_less_than_water(at_f: float, gauge_psi: float, volumes: float) -> None:
    """The trade's table, brewingtechniques.com/library/backissues/issue2.1/millertable.html."""
    held = carbonation.volumes_held((at_f - 32.0) / 1.8, carbonation.ATMOSPHERE_PA + 6894.757 * gauge_psi)
    assert 0.975 <= volumes / held <= 0.995


EVAPORATED = {
    30.0: (0.330, 0.406, 0.359),
    50.0: (1.640, 1.504, 1.678),
    60.0: (3.039, 2.552, 3.039),
    67.0: (4.509, 3.587, 4.443),
    78.0: (8.001, 5.892, 7.728),
    90.0: (14.22, 9.687, 13.50),
}
"""kg/m2h at 20 °C and 50 % humidity: Shah (constants from memory), ASHRAE and Carrier, the analogy of Lewis."""


@pytest.mark.parametrize("liquid_c", EVAPORATED)
def test_an_open_surface_loses_what_shah_says_and_others_nearly(liquid_c: float) -> None:
    shah, carrier, lewis = EVAPORATED[liquid_c]
    found = evaporated_kg_per_m2_h(liquid_c, 20.0)
    assert found == pytest.approx(shah, rel=0.02)
    assert found == pytest.approx(lewis, rel=0.10)
    assert found == pytest.approx(carrier, rel=0.50)
