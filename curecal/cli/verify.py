"""`curecal verify`: published check values beside what this installation computes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from curecal.cli.shared.common import json_option, tzdata_version

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from curecal.published.check_values import PublishedCheck

_INPUTS_WIDTH = 34
_NUMBER_WIDTH = 13
_FAILED = 70  # something inside is wrong
_MARKS = {"seen": "S", "reference library": "L", "computed": "C", "from memory": "M"}
_LEGEND = (
    "S: number seen in print. L: returned by a reference library. C: worked from the",
    "formula. M: from memory. +/-: the difference that still agrees.",
    "P: plans are computed with this equation or number, so dates rest on it. Without",
    "P: another law or method, which ours is held against.",
    "FHP 1977: Freiesleben Hansen & Pedersen 1977. RH: relative humidity, 0 to 1.",
)
_SHORT_KEYS = {
    "temperature_c": ("", " °C"),
    "temperature_k": ("", " K"),
    "time_d": ("", " d"),
    "time_h": ("", " h"),
    "datum_c": ("datum ", " °C"),
    "rated_c": ("rated ", " °C"),
    "minimum_c": ("minimum ", " °C"),
    "humidity": ("RH ", ""),
    "rated_humidity": ("rated RH ", ""),
    "limit_humidity": ("limit RH ", ""),
    "age_d": ("age ", " d"),
    "dry_bulb_c": ("dry ", " °C"),
    "wet_bulb_c": ("wet ", " °C"),
    "pressure_pa": ("", " Pa"),
    "thickness_mm": ("", " mm"),
    "base_d": ("base ", " d"),
    "concrete_c": ("concrete ", " °C"),
    "air_c": ("air ", " °C"),
    "wind_km_h": ("wind ", " km/h"),
    "fourier": ("Fo ", ""),
    "floor_c": ("floor ", " °C"),
    "room_c": ("room ", " °C"),
    "output_w_m2": ("", " W/m²"),
    "voltage_v": ("", " V"),
    "power_w": ("", " W"),
    "rated_v": ("rated ", " V"),
    "supply_v": ("fed ", " V"),
    "other_a": ("and ", " A"),
    "circuit_v": ("circuit ", " V"),
    "resistance_ohm": ("", " Ω"),
    "thickness_factor": ("x ", ""),
    "sides_factor": ("x ", ""),
    "s": ("s ", ""),
    "material": ("", ""),
    "rule": ("", ""),
}


@click.command("verify")
@json_option
def command(*, as_json: bool) -> None:
    """Compare published check values with what this installation computes.

    Exit code 70 when one of them does not hold.
    """
    from curecal.published.check_values import published_checks
    from curecal.published.equations import compute

    results = [(check, compute(check.equation, check.inputs)) for check in published_checks()]
    failures = [check for check, computed in results if not check.holds_for(computed)]
    if as_json:
        click.echo(_as_json(results))
    else:
        click.echo("\n".join(_as_text(results)))
    if failures:
        raise SystemExit(_FAILED)


def _versions() -> dict[str, str]:
    import platform

    from curecal.version import __version__

    return {
        "curecal": __version__,
        "python": platform.python_version(),
        "tzdata": tzdata_version(),
    }


def _as_json(results: Sequence[tuple[PublishedCheck, float]]) -> str:
    import json

    from curecal.published.equations import is_computed_in_plans

    checks = [
        {
            "id": check.id,
            "group": check.group,
            "quantity": check.quantity,
            "inputs": dict(check.inputs),
            "expected": check.expected,
            "computed": computed,
            "unit": check.unit,
            "tolerance": check.tolerance,
            "why_tolerance": check.why_tolerance,
            "source": check.source,
            "mark": check.mark,
            "in_plans": is_computed_in_plans(check.equation),
            "holds": check.holds_for(computed),
        }
        for check, computed in results
    ]
    document = {
        "schema": 1,
        **_versions(),
        "all_hold": all(check["holds"] for check in checks),
        "checks": checks,
    }
    return json.dumps(document, ensure_ascii=False, indent=2)


def _as_text(results: Sequence[tuple[PublishedCheck, float]]) -> list[str]:
    versions = _versions()
    lines = [
        f"curecal {versions['curecal']}, Python {versions['python']}, tzdata {versions['tzdata']}",
        *_LEGEND,
    ]
    group, quantity = "", ""
    for check, computed in results:
        if check.group != group:
            group, quantity = check.group, ""
            lines += ["", f"{group.upper():<37}{'expected':>13} {'computed':>13} {'+/-':>8} from"]
        if check.quantity != quantity:
            quantity = check.quantity
            lines.append(quantity if check.unit == "1" else f"{quantity} [{check.unit}]")
        lines += _row(check, computed)
    failures = [check for check, computed in results if not check.holds_for(computed)]
    lines.append("")
    if failures:
        lines.append(f"{len(failures)} of {len(results)} published checks do not hold:")
        lines += [f"  {check.id}: {check.source}" for check in failures]
    else:
        lines.append(f"All {len(results)} published checks hold.")
    return lines


def _row(check: PublishedCheck, computed: float) -> list[str]:
    import textwrap

    from curecal.published.equations import is_computed_in_plans

    *above, last = textwrap.wrap(_short(check.inputs), _INPUTS_WIDTH)
    sign = " " if check.holds_for(computed) else "!"
    numbers = f"{_number(check.expected)} {_number(computed)} {check.tolerance:>8.2g}"
    # The last line of the inputs carries the numbers, so that a long list of readings reads on.
    marks = _MARKS[check.mark] + (" P" if is_computed_in_plans(check.equation) else "")
    return [*(f"  {line}" for line in above), f"{sign} {last:<35}{numbers} {marks}"]


def _number(value: float) -> str:
    """Return nine digits where they fit the column, six where they do not."""
    text = f"{value:>{_NUMBER_WIDTH}.9g}"
    return text if len(text) <= _NUMBER_WIDTH else f"{value:>{_NUMBER_WIDTH}.6g}"


def _short(inputs: Mapping[str, object]) -> str:
    return ", ".join(_worded(key, value) for key, value in inputs.items())


def _worded(key: str, value: object) -> str:
    before, after = _SHORT_KEYS[key]
    many = value if isinstance(value, list) else [value]
    return f"{before}{' '.join(str(one) for one in many)}{after}"
