"""Equations by name, each with the inputs a published check gives: what `verify` computes with.

Names and input keys are those of `curecal/data/published.toml`. Results are in the unit the
source prints.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from itertools import pairwise

from curecal.science import cement, drying, electrical, floor_output, humid_air, thermistor
from curecal.science.age import equivalent_age
from curecal.science.history import Segment
from curecal.science.rate import CementRate, DryingRate
from curecal.science.validity import refuse

Inputs = Mapping[str, object]

_DAY_S = 86_400.0
_HOUR_S = 3_600.0
_ROOM_RH = 0.5


@dataclass(frozen=True, slots=True)
class _UncutLaw:
    """A law relative to 20 °C as an integrable rate, not cut off at 1: printed ages are not."""

    law: cement.CementLaw
    breaks_c: tuple[float, ...] = field(default=(cement.REFERENCE_C,))
    breaks_rh: tuple[float, ...] = ()

    def at(self, *, temperature_c: float, humidity: float) -> float:
        del humidity  # the shape of a rate; the laws do not depend on it
        return cement.rate_relative_to_20_c(temperature_c, self.law)

    def bends(self, _segment: Segment, /) -> tuple[float, ...]:
        return ()


def _number(inputs: Inputs, key: str) -> float:
    value = inputs.get(key)
    if isinstance(value, bool) or not isinstance(value, int | float):
        refuse("check-input-missing", key=key)
    return float(value)


def _numbers(inputs: Inputs, key: str) -> tuple[float, ...]:
    values = inputs.get(key)
    if not isinstance(values, list):
        refuse("check-input-missing", key=key)
    return tuple(_number({key: value}, key) for value in values)


def _pairs(inputs: Inputs, one_key: str, other_key: str) -> tuple[tuple[float, float], ...]:
    ones, others = _numbers(inputs, one_key), _numbers(inputs, other_key)
    if len(ones) != len(others):
        refuse("readings-do-not-pair", times=len(ones), values=len(others))
    return tuple(zip(ones, others, strict=True))


def _law(inputs: Inputs) -> cement.CementLaw:
    try:
        return cement.CementLaw(inputs.get("law"))
    except ValueError:
        refuse("check-input-unknown", key="law")


def _binder(inputs: Inputs) -> floor_output.Binder:
    try:
        return floor_output.Binder(inputs.get("binder"))
    except ValueError:
        refuse("check-input-unknown", key="binder")


def _adjusted_age_d(inputs: Inputs) -> float:
    law = _law(inputs)
    pairs = _pairs(inputs, "temperature_c", "time_d")
    return sum(cement.rate_relative_to_20_c(one_c, law) * one_d for one_c, one_d in pairs)


def _maturity_k_s(inputs: Inputs, time_key: str, unit_s: float) -> float:
    steps = [(one_c, one * unit_s) for one_c, one in _pairs(inputs, "temperature_c", time_key)]
    return cement.maturity_nurse_saul(steps, datum_c=_number(inputs, "datum_c"))


def _maturity_k_h(inputs: Inputs) -> float:
    return _maturity_k_s(inputs, "time_h", _HOUR_S) / _HOUR_S


def _maturity_k_d(inputs: Inputs) -> float:
    return _maturity_k_s(inputs, "time_d", _DAY_S) / _DAY_S


def _means(inputs: Inputs) -> tuple[tuple[float, float], ...]:
    times_s = [one_h * _HOUR_S for one_h in _numbers(inputs, "time_h")]
    return cement.interval_means(times_s, _numbers(inputs, "temperature_c"))


def _maturity_by_means_k_h(inputs: Inputs) -> float:
    steps = _means(inputs)
    return cement.maturity_nurse_saul(steps, datum_c=_number(inputs, "datum_c")) / _HOUR_S


def _age_by_means_h(inputs: Inputs) -> float:
    law = _law(inputs)
    ages_s = (
        cement.rate_relative_to_20_c(mean_c, law) * span_s for mean_c, span_s in _means(inputs)
    )
    return sum(ages_s) / _HOUR_S


def _age_by_lines_h(inputs: Inputs) -> float:
    history = [
        Segment(
            start_s=early_h * _HOUR_S,
            end_s=late_h * _HOUR_S,
            start_c=early_c,
            end_c=late_c,
            start_rh=_ROOM_RH,
            end_rh=_ROOM_RH,
        )
        for (early_h, early_c), (late_h, late_c) in pairwise(
            _pairs(inputs, "time_h", "temperature_c")
        )
    ]
    return equivalent_age(history, _UncutLaw(_law(inputs))) / _HOUR_S


def _rate(inputs: Inputs) -> float:
    return cement.rate_relative_to_20_c(_number(inputs, "temperature_c"), _law(inputs))


def _rate_ratio(inputs: Inputs) -> float:
    return cement.rate_ratio(
        temperature_c=_number(inputs, "temperature_c"),
        rated_c=_number(inputs, "rated_c"),
        law=_law(inputs),
    )


def _cement_clock_rate(inputs: Inputs) -> float:
    rate = CementRate(rated_c=_number(inputs, "rated_c"), minimum_c=_number(inputs, "minimum_c"))
    return rate.at(temperature_c=_number(inputs, "temperature_c"), humidity=_ROOM_RH)


def _strength_gain(inputs: Inputs) -> float:
    return cement.strength_gain_en_1992_1_1_2004(
        age_s=_number(inputs, "age_d") * _DAY_S, cement_coefficient=_number(inputs, "s")
    )


def _saturation_pa(inputs: Inputs) -> float:
    return humid_air.saturation_pressure(_number(inputs, "temperature_c"))


def _saturation_if97_mpa(inputs: Inputs) -> float:
    return humid_air.saturation_pressure_iapws_if97(_number(inputs, "temperature_k")) / 1e6


def _air(inputs: Inputs) -> dict[str, float]:
    return {
        "temperature_c": _number(inputs, "temperature_c"),
        "humidity": _number(inputs, "humidity"),
    }


def _deficit_pa(inputs: Inputs) -> float:
    return humid_air.vapor_pressure_deficit(**_air(inputs))


def _dew_point_c(inputs: Inputs) -> float:
    return humid_air.dew_point(**_air(inputs))


def _humidity_ratio(inputs: Inputs) -> float:
    return humid_air.humidity_ratio(**_air(inputs))


def _wet_bulb_ratio(inputs: Inputs) -> float:
    return humid_air.humidity_ratio_from_wet_bulb(
        dry_bulb_c=_number(inputs, "dry_bulb_c"),
        wet_bulb_c=_number(inputs, "wet_bulb_c"),
        pressure_pa=_number(inputs, "pressure_pa"),
    )


def _wet_bulb_humidity(inputs: Inputs) -> float:
    return humid_air.humidity_from_humidity_ratio(
        temperature_c=_number(inputs, "dry_bulb_c"),
        ratio=_wet_bulb_ratio(inputs),
        pressure_pa=_number(inputs, "pressure_pa"),
    )


def _wet_bulb_percent(inputs: Inputs) -> float:
    return 100.0 * _wet_bulb_humidity(inputs)


def _wet_bulb_dew_point_c(inputs: Inputs) -> float:
    return humid_air.dew_point(
        temperature_c=_number(inputs, "dry_bulb_c"), humidity=_wet_bulb_humidity(inputs)
    )


def _wet_bulb_enthalpy_kj_kg(inputs: Inputs) -> float:
    ratio = _wet_bulb_ratio(inputs)
    return humid_air.enthalpy(temperature_c=_number(inputs, "dry_bulb_c"), ratio=ratio) / 1000.0


def _drying_cement_bs_8203_d(inputs: Inputs) -> float:
    thickness_m = _number(inputs, "thickness_mm") / 1000.0
    return drying.drying_time_cement_screed_bs_8203(thickness_m) / _DAY_S


def _drying_cement_bs_5385_3_d(inputs: Inputs) -> float:
    thickness_m = _number(inputs, "thickness_mm") / 1000.0
    return drying.drying_time_cement_screed_bs_5385_3(thickness_m) / _DAY_S


def _drying_calcium_sulfate_d(inputs: Inputs) -> float:
    thickness_m = _number(inputs, "thickness_mm") / 1000.0
    return drying.drying_time_calcium_sulfate_screed(thickness_m) / _DAY_S


def _drying_rate(inputs: Inputs) -> float:
    rate = DryingRate(
        rated_c=_number(inputs, "rated_c"),
        rated_rh=_number(inputs, "rated_humidity"),
        minimum_c=_number(inputs, "minimum_c"),
        limit_rh=_number(inputs, "limit_humidity"),
    )
    return rate.at(
        temperature_c=_number(inputs, "temperature_c"), humidity=_number(inputs, "humidity")
    )


def _drying_hedenblad_d(inputs: Inputs) -> float:
    seconds = drying.drying_time_hedenblad_1997(
        base_s=_number(inputs, "base_d") * _DAY_S,
        thickness_factor=_number(inputs, "thickness_factor"),
        sides_factor=_number(inputs, "sides_factor"),
    )
    return seconds / _DAY_S


def _evaporation_kg_m2_h(inputs: Inputs) -> float:
    per_second = drying.evaporation_uno_1998(
        concrete_c=_number(inputs, "concrete_c"),
        air_c=_number(inputs, "air_c"),
        humidity=_number(inputs, "humidity"),
        wind_m_s=_number(inputs, "wind_km_h") / 3.6,
    )
    return per_second * _HOUR_S


def _remaining_fraction(inputs: Inputs) -> float:
    return drying.remaining_fraction_plane_sheet(_number(inputs, "fourier"))


def _probe_depth_mm(inputs: Inputs) -> float:
    depth_m = drying.probe_depth(
        thickness_m=_number(inputs, "thickness_mm") / 1000.0,
        drying_sides=int(_number(inputs, "drying_sides")),
    )
    return 1000.0 * depth_m


def _functional_heating_start_d(inputs: Inputs) -> float:
    return floor_output.functional_heating_start(_binder(inputs)) / _DAY_S


def _functional_heating_end_d(inputs: Inputs) -> float:
    return floor_output.functional_heating_end(_binder(inputs)) / _DAY_S


def _floor_output_w_m2(inputs: Inputs) -> float:
    return floor_output.floor_output_en_1264_2(
        _number(inputs, "floor_c") - _number(inputs, "room_c")
    )


def _surface_excess_k(inputs: Inputs) -> float:
    return floor_output.surface_excess_en_1264_2(_number(inputs, "output_w_m2"))


def _resistance_ohm(inputs: Inputs) -> float:
    return electrical.resistance_from_power(
        voltage_v=_number(inputs, "voltage_v"), power_w=_number(inputs, "power_w")
    )


def _power_factor(inputs: Inputs) -> float:
    return electrical.power_factor_on_another_voltage(
        rated_v=_number(inputs, "rated_v"), supply_v=_number(inputs, "supply_v")
    )


def _ampacity_a(inputs: Inputs) -> float:
    return electrical.continuous_load_ampacity(
        power_w=_number(inputs, "power_w"),
        voltage_v=_number(inputs, "voltage_v"),
        other_a=_number(inputs, "other_a"),
    )


def _insulation_minimum_mohm(inputs: Inputs) -> float:
    minimum = electrical.insulation_minimum_iec_60364_6(_number(inputs, "circuit_v"))
    return minimum.minimum_ohm / 1e6


def _insulation_test_v(inputs: Inputs) -> float:
    return electrical.insulation_minimum_iec_60364_6(_number(inputs, "circuit_v")).test_voltage_v


def _thermistor_c(inputs: Inputs) -> float:
    return thermistor.temperature_steinhart_hart(_number(inputs, "resistance_ohm"))


def _thermistor_ohm(inputs: Inputs) -> float:
    return thermistor.resistance_steinhart_hart(_number(inputs, "temperature_c"))


EQUATIONS: Mapping[str, Callable[[Inputs], float]] = {
    "adjusted age": _adjusted_age_d,
    "maturity in degree days": _maturity_k_d,
    "maturity in degree hours": _maturity_k_h,
    "maturity by interval means": _maturity_by_means_k_h,
    "age by interval means": _age_by_means_h,
    "age by straight lines": _age_by_lines_h,
    "rate": _rate,
    "rate ratio": _rate_ratio,
    "cement clock rate": _cement_clock_rate,
    "strength gain": _strength_gain,
    "saturation pressure": _saturation_pa,
    "saturation pressure IF97": _saturation_if97_mpa,
    "vapor-pressure deficit": _deficit_pa,
    "dew point": _dew_point_c,
    "humidity ratio": _humidity_ratio,
    "humidity ratio from wet bulb": _wet_bulb_ratio,
    "humidity from wet bulb": _wet_bulb_percent,
    "dew point from wet bulb": _wet_bulb_dew_point_c,
    "enthalpy from wet bulb": _wet_bulb_enthalpy_kj_kg,
    "drying cement screed BS 8203": _drying_cement_bs_8203_d,
    "drying cement screed BS 5385-3": _drying_cement_bs_5385_3_d,
    "drying calcium-sulfate screed": _drying_calcium_sulfate_d,
    "drying rate": _drying_rate,
    "drying Hedenblad": _drying_hedenblad_d,
    "evaporation": _evaporation_kg_m2_h,
    "remaining fraction": _remaining_fraction,
    "probe depth": _probe_depth_mm,
    "functional heating start": _functional_heating_start_d,
    "functional heating end": _functional_heating_end_d,
    "floor output": _floor_output_w_m2,
    "surface excess": _surface_excess_k,
    "resistance": _resistance_ohm,
    "power factor": _power_factor,
    "continuous load": _ampacity_a,
    "insulation minimum": _insulation_minimum_mohm,
    "insulation test voltage": _insulation_test_v,
    "thermistor temperature": _thermistor_c,
    "thermistor resistance": _thermistor_ohm,
}
"""Every equation `verify` can compute, by the name a check calls it."""


def compute(equation: str, inputs: Inputs) -> float:
    """Return what this installation computes for a published check.

    Args:
        equation: Name of the equation, a key of `EQUATIONS`.
        inputs: The check's inputs; each key ends in its unit.

    Returns:
        The value [unit of the check].

    Raises:
        OutsideValidity: There is no such equation, an input is missing, or a value is outside
            the equation's range.

    Validity:
        That of the equation.

    Source:
        That of the equation.
    """
    if equation not in EQUATIONS:
        refuse("check-equation-unknown", equation=equation)
    return EQUATIONS[equation](inputs)
