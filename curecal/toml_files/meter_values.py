"""What somebody read off a meter: a figure, or that it was beyond what the meter shows."""

from __future__ import annotations

import contextlib
import re
from collections.abc import Mapping

from curecal import units
from curecal.errors import QuantityRefused, ValueRefused
from curecal.toml_files.schema import Key
from curecal.toml_files.shown import nearest, shorten
from curecal.trade.site_log import Method

LEAST_LABEL_OHM, LEAST_LABEL_V = 0.5e6, 250.0
"""The least of any circuit, and at what voltage: IEC 60364-6, table 6.1, from memory."""
_MOST_TEST_V = 1000.0
_SEVERAL = re.compile(r"\d\D*(?:-|\u2013|/|to|bis|\u00b1)\s*\d|^\s*[<>\u2264\u2265~]")


def insulation_of_label(value: object, _key: Key) -> units.Insulation:
    """Return the least insulation on a label; one that any damaged cable would pass is refused."""
    found = _tested_at(units.insulation(value), value)
    if not (found.ohm >= LEAST_LABEL_OHM and found.volt >= LEAST_LABEL_V):
        raise ValueRefused("insulation-label-low", text=shorten(value))
    return found


def _tested_at(found: units.Insulation, value: object) -> units.Insulation:
    """Return an insulation with its test voltage; one that no tester has is refused."""
    if found.volt > _MOST_TEST_V:
        raise ValueRefused(
            "quantity-out-of-range", text=shorten(value), least="0", most=f"{_MOST_TEST_V:g} V"
        )
    return found


def insulation_of_meter(value: object, key: Key) -> tuple[float, float | None, bool]:
    """Return an insulation reading [Ω], the voltage [V] beside it, and whether it is exceeded."""
    # A tester at the end of its range shows "> 2 GΩ": the figure is what is certain.
    figure = value.strip().removeprefix(">").strip() if isinstance(value, str) else value
    beyond = isinstance(value, str) and value.strip().startswith(">")
    with_voltage = isinstance(figure, str) and ("@" in figure or " at " in figure.lower())
    if with_voltage:
        with contextlib.suppress(QuantityRefused):
            both = _tested_at(units.insulation(figure), value)
            return both.ohm, both.volt, beyond
    try:
        found = units.resistance_reading(value)
    except QuantityRefused as error:
        shown = key.example.strip('"')
        raise QuantityRefused(error.code, **{**error.params, "example": shown}) from None
    if found.ohm is None:
        raise ValueRefused("insulation-without-figure", text=shorten(value))
    return found.ohm, None, found.at_least


def moisture_of_meter(value: object, key: Key) -> units.Moisture:
    """Return a moisture reading or limit: one figure, with what it was measured by."""
    try:
        return units.moisture(value)
    except QuantityRefused:
        # "1.2-1.6 CM-%" is no length, though it reads like centimeters.
        if isinstance(value, str) and _SEVERAL.search(value):
            raise ValueRefused(
                "moisture-several", text=shorten(value), example=key.example.strip('"')
            ) from None
        raise


def fits_method(value: units.Moisture, method: str) -> bool:
    """Return whether a moisture value can be what a method reads."""
    if value.kind == "plain":
        return method != Method.CALCIUM_CHLORIDE
    return value.kind == method or (value.kind == "humidity" and Method(method).reads_humidity)


def moisture_limits_of_sheet(value: object, key: Key) -> Mapping[str, units.Moisture]:
    """Return a sheet's moisture limits by method: one with its unit, or a table of them."""
    if not isinstance(value, dict):
        told = moisture_of_meter(value, key)
        # A bare percentage may be of the mass or of the air: a limit of which, only the sheet says.
        if told.kind == "plain":
            raise ValueRefused("moisture-limit-plain", text=shorten(value))
        return {told.kind: told}
    found = {}
    for method, limit in value.items():
        if method not in set(Method):
            raise ValueRefused(
                "choice-unknown",
                text=shorten(method),
                known=", ".join(Method),
                nearest=nearest(method, list(Method)),
            )
        told = moisture_of_meter(limit, key)
        if not fits_method(told, method):
            raise ValueRefused("moisture-method", text=shorten(limit), method=method)
        found[method] = told
    return found
