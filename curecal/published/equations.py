"""Equations by name, each with the inputs a published check gives: what `verify` computes with.

Names and input keys are those of `curecal/data/published.toml`. Results are in the unit the
source prints.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from curecal.errors import SourceError
from curecal.published import plan_equations
from curecal.published.cross_checks import drying, hardening, heating, humid_air
from curecal.science.cement import rate_freiesleben_hansen_pedersen_1977
from curecal.science.humid_air import saturation_pressure_over_water

Equation = Callable[..., float]

PLAN_EQUATIONS: Mapping[str, Equation] = {
    "rate": rate_freiesleben_hansen_pedersen_1977,
    "rate ratio": plan_equations.cement_rate_ratio,
    "cement clock rate": plan_equations.cement_clock_rate,
    "age by straight lines": plan_equations.age_by_lines,
    "saturation pressure over water": saturation_pressure_over_water,
    "vapor-pressure deficit": plan_equations.vapor_pressure_deficit,
    "drying time": plan_equations.drying_time,
    "drying rate": plan_equations.drying_clock_rate,
    "probe depth, one side": plan_equations.probe_depth_one_side,
    "functional heating start": plan_equations.functional_heating_start,
    "functional heating end": plan_equations.functional_heating_end,
    "resistance": plan_equations.resistance_of_label,
    "power factor": plan_equations.power_factor,
    "continuous load": plan_equations.continuous_load,
    "insulation minimum, mains": plan_equations.insulation_minimum_of_mains,
    "thermistor temperature": plan_equations.thermistor_temperature,
}
"""What a plan computes with: the equations of `curecal.science`, the numbers of the rules."""

CROSS_CHECKS: Mapping[str, Equation] = {
    "adjusted age EN 1992-1-1": hardening.adjusted_age_en_1992_1_1_2004,
    "rate EN 1992-1-1": hardening.rate_en_1992_1_1_2004,
    "maturity in degree days": hardening.maturity_nurse_saul_in_days,
    "maturity in degree hours": hardening.maturity_nurse_saul,
    "maturity by interval means": hardening.maturity_by_means,
    "age by interval means": hardening.age_by_means_freiesleben_hansen_pedersen_1977,
    "age by interval means EN 1992-1-1": hardening.age_by_means_en_1992_1_1_2004,
    "strength gain": hardening.strength_gain_en_1992_1_1_2004,
    "saturation pressure over ice": humid_air.saturation_pressure_over_ice,
    "saturation pressure IF97": humid_air.saturation_pressure_iapws_if97,
    "dew point": humid_air.dew_point,
    "humidity ratio": humid_air.humidity_ratio,
    "humidity ratio from wet bulb": humid_air.humidity_ratio_from_wet_bulb,
    "humidity from wet bulb": humid_air.humidity_from_wet_bulb,
    "dew point from wet bulb": humid_air.dew_point_from_wet_bulb,
    "enthalpy from wet bulb": humid_air.enthalpy_from_wet_bulb,
    "drying Hedenblad": drying.drying_time_hedenblad_1997,
    "evaporation": drying.evaporation_uno_1998,
    "remaining fraction": drying.remaining_fraction_plane_sheet,
    "probe depth, both sides": drying.probe_depth_both_sides,
    "floor output": heating.floor_output_en_1264_2,
    "surface excess": heating.surface_excess_en_1264_2,
    "insulation minimum": heating.insulation_minimum_iec_60364_6,
    "insulation test voltage": heating.insulation_test_voltage_iec_60364_6,
    "thermistor resistance": heating.resistance_steinhart_hart,
}
"""Other laws and methods that ours are held against; no plan computes with them."""


def compute(equation: str, inputs: Mapping[str, object]) -> float:
    """Return the value this installation computes for a published check [unit of the check].

    Args:
        equation: Name of the equation, a key of `PLAN_EQUATIONS` or of `CROSS_CHECKS`.
        inputs: One for each parameter of the equation.

    Raises:
        SourceError: There is no such equation, or it does not take these inputs.
        OutsideValidity: A value is outside the equation's range.
    """
    function = PLAN_EQUATIONS.get(equation) or CROSS_CHECKS.get(equation)
    if function is None:
        raise SourceError("published-data-damaged", what=f"equation {equation}")
    try:
        return float(function(**inputs))
    except (TypeError, ValueError, KeyError) as error:
        raise SourceError("published-data-damaged", what=f"inputs of {equation}") from error


def is_computed_in_plans(equation: str) -> bool:
    """Return whether plans are computed with an equation, so that dates rest on it."""
    return equation in PLAN_EQUATIONS
