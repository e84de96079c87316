"""Boiling points against tables that others made."""

from __future__ import annotations

import pytest

from kettlebridge.files.altitude import boil_c, pressure_pa, saturation_c

# ambiance 1.3.1 (ICAO atmosphere, geometric height) for the pressure, CoolProp 8.0.0 (IAPWS-95) for the boiling point.
AT_ALTITUDE: dict[float, tuple[float, float]] = {
    -300: (104.9814, 100.9705),
    0: (101.3250, 99.9743),
    500: (95.4613, 98.3127),
    1000: (89.8763, 96.6494),
    2000: (79.5014, 93.3174),
    3000: (70.1211, 89.9772),
    4000: (61.6604, 86.6280),
}

# IAPWS R7-97 Table 36, printed to verify programs (values from memory, reproduced by iapws 1.5.5).
SATURATION_K = {0.1e6: 372.755919, 1e6: 453.035632, 10e6: 584.149488}


@pytest.mark.parametrize("altitude_m", AT_ALTITUDE)
def test_boiling_point_follows_the_altitude(altitude_m: float) -> None:
    expected_kpa, expected_c = AT_ALTITUDE[altitude_m]
    assert pressure_pa(altitude_m) / 1000 == pytest.approx(expected_kpa, abs=0.001)
    assert boil_c(altitude_m) == pytest.approx(expected_c, abs=0.01)


@pytest.mark.parametrize("at_pa", SATURATION_K)
def test_saturation_line_gives_the_verification_values(at_pa: float) -> None:
    assert saturation_c(at_pa) + 273.15 == pytest.approx(SATURATION_K[at_pa], abs=1e-6)


@pytest.mark.parametrize("altitude_m", [0, 1_000, 1_600, 3_000])
def test_boiling_point_agrees_with_independent_programs(altitude_m: float) -> None:
    ambiance = pytest.importorskip("ambiance", reason="install the test requirements: config/locks/test.txt")
    coolprop = pytest.importorskip("CoolProp.CoolProp", reason="install the test requirements: config/locks/test.txt")
    at_pa = float(ambiance.Atmosphere(altitude_m).pressure[0])
    assert boil_c(altitude_m) == pytest.approx(coolprop.PropsSI("T", "P", at_pa, "Q", 0, "Water") - 273.15, abs=0.01)
