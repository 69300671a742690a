"""The equations against general-purpose open libraries, with gaps over the published points."""

from __future__ import annotations

import importlib
from collections.abc import Callable
from typing import Any

import pytest

from curecal.published.cross_checks import hardening, humid_air
from curecal.science.humid_air import saturation_pressure_over_water, vapor_pressure_deficit

Needs = Callable[[str], str]


@pytest.fixture
def psychrometrics(needs: Needs) -> Any:
    needs("peers")
    library = importlib.import_module("psychrolib")
    library.SetUnitSystem(library.SI)
    return library


@pytest.mark.parametrize("temperature_c", [-60.0, -20.0, -5.0, 0.0, 5.0, 20.0, 50.0, 100.0, 180.0])
def test_saturation_is_psychrolibs(psychrometrics: Any, temperature_c: float) -> None:
    # Both evaluate ASHRAE 2017 ch. 1 eq. 5 and 6: nothing but rounding may differ.
    library_pa = psychrometrics.GetSatVapPres(temperature_c)
    assert humid_air.saturation_pressure(temperature_c) == pytest.approx(library_pa, rel=1e-12)


@pytest.mark.parametrize(
    ("temperature_c", "humidity"), [(10.0, 0.8), (15.0, 0.7), (20.0, 0.5), (25.0, 0.5), (30.0, 0.6)]
)
def test_humid_air_is_psychrolibs(
    psychrometrics: Any, temperature_c: float, humidity: float
) -> None:
    pressure_pa = 95_000.0
    ratio = humid_air.humidity_ratio(
        temperature_c=temperature_c, humidity=humidity, pressure_pa=pressure_pa
    )
    assert ratio == pytest.approx(
        psychrometrics.GetHumRatioFromRelHum(temperature_c, humidity, pressure_pa), rel=1e-9
    )
    assert vapor_pressure_deficit(temperature_c=temperature_c, humidity=humidity) == pytest.approx(
        psychrometrics.GetVaporPressureDeficit(
            temperature_c,
            psychrometrics.GetHumRatioFromRelHum(temperature_c, humidity, pressure_pa),
            pressure_pa,
        ),
        rel=1e-9,
    )
    assert humid_air.enthalpy(temperature_c=temperature_c, ratio=ratio) == pytest.approx(
        psychrometrics.GetMoistAirEnthalpy(temperature_c, ratio) / 1000.0, rel=1e-9
    )
    # The library stops its own search for the dew point within 0.001 K.
    assert humid_air.dew_point(temperature_c=temperature_c, humidity=humidity) == pytest.approx(
        psychrometrics.GetTDewPointFromRelHum(temperature_c, humidity), abs=1.1e-3
    )


@pytest.mark.parametrize(("dry_bulb_c", "wet_bulb_c"), [(40.0, 20.0), (20.0, 15.0), (-1.0, -5.0)])
def test_wet_bulb_readings_are_psychrolibs(
    psychrometrics: Any, dry_bulb_c: float, wet_bulb_c: float
) -> None:
    ratio = humid_air.humidity_ratio_from_wet_bulb(dry_bulb_c=dry_bulb_c, wet_bulb_c=wet_bulb_c)
    library = psychrometrics.GetHumRatioFromTWetBulb(
        dry_bulb_c, wet_bulb_c, humid_air.STANDARD_PRESSURE_PA
    )
    assert ratio == pytest.approx(library, rel=1e-9)


@pytest.mark.parametrize("temperature_c", [5.0, 20.0, 50.0, 100.0])
def test_saturation_over_water_is_near_coolprops(needs: Needs, temperature_c: float) -> None:
    needs("peers")
    library_pa = importlib.import_module("CoolProp.CoolProp").PropsSI(
        "P", "T", temperature_c + 273.15, "Q", 0, "Water"
    )
    # 300 ppm: a fit of 1983 against the equation of state of 1995.
    ours_pa = saturation_pressure_over_water(temperature_c)
    assert ours_pa == pytest.approx(library_pa, rel=3e-4)


def test_at_minus_5_ice_and_supercooled_water_are_5_percent_apart(needs: Needs) -> None:
    needs("peers")
    # The library goes on over supercooled water where ours is over ice: which one is meant matters.
    supercooled_pa = importlib.import_module("CoolProp.CoolProp").PropsSI(
        "P", "T", 268.15, "Q", 0, "Water"
    )
    ours_pa = humid_air.saturation_pressure(-5.0)
    assert supercooled_pa / ours_pa == pytest.approx(1.05, abs=5e-3)  # "5 %" is one digit


@pytest.mark.parametrize("temperature_k", [273.16, 300.0, 373.15, 500.0, 600.0])
def test_if97_is_the_iapws_librarys(needs: Needs, temperature_k: float) -> None:
    needs("peers")
    library_mpa = importlib.import_module("iapws").IAPWS97(T=temperature_k, x=0.0).P
    ours_mpa = humid_air.saturation_pressure_iapws_if97(temperature_k)
    assert ours_mpa == pytest.approx(library_mpa, rel=1e-10)


@pytest.mark.parametrize(
    "package", ["structuralcodes.codes.ec2_2004", "structuralcodes.codes.mc2010"]
)
def test_the_adjusted_age_is_structuralcodes(needs: Needs, package: str) -> None:
    needs("peers")
    numpy = importlib.import_module("numpy")
    temperatures_c, days = [5.0, 12.5, 20.0, 27.0, 41.0], [1.0, 2.0, 3.5, 0.5, 2.0]
    ours_d = hardening.adjusted_age_en_1992_1_1_2004(temperatures_c, days)
    library = importlib.import_module(package)
    library_d = float(numpy.sum(library.t_T(numpy.array(temperatures_c), numpy.array(days))))
    assert ours_d == pytest.approx(library_d, rel=1e-12)  # one formula: rounding alone


@pytest.mark.parametrize("days", [3.0, 7.0, 14.0, 28.0, 90.0])
@pytest.mark.parametrize("coefficient", [0.20, 0.25, 0.38])
def test_strength_gain_is_structuralcodes(needs: Needs, days: float, coefficient: float) -> None:
    needs("peers")
    library = importlib.import_module("structuralcodes.codes.ec2_2004")
    ours = hardening.strength_gain_en_1992_1_1_2004(age_d=days, s=coefficient)
    assert ours == pytest.approx(float(library.beta_cc(days, coefficient)), rel=1e-12)
