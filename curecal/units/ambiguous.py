"""Signs in a figure that two readers take differently: a slash, and a mark before three digits.

Sheets write "24/48 h" for a range and "3/8 in" for a fraction, and "1.000" is a thousand in half
of the world. Only what no sheet writes otherwise is read; of the rest, each reading is shown.
"""

from __future__ import annotations

import re
from fractions import Fraction

from curecal.units.kinds import FOOT, INCH, Unit

THOUSANDS = r"(?P<figure>(?P<whole>[1-9]\d{0,2})[.,](?P<part>\d{3}))"
_THOUSANDS = re.compile(THOUSANDS, re.ASCII)
# Tape measures and sheets divide an inch and a foot so, and no finer.
_RULER_PARTS = frozenset({2, 4, 8, 16, 32, 64})
_QUARTERED = frozenset({(1, 2), (1, 4), (3, 4)})
# Meters and rulers show thousandths of these: only a zero at the end looks like thousands.
_IN_THOUSANDTHS = frozenset({"resistance", "current", "length"})
# Longer figures are no quantity of a floor, and nothing to put a question about.
_LONGEST = 9


def is_fraction(whole: str, above: int, below: int, unit: Unit | None) -> bool:
    """Return whether a slash can only be a fraction: "3/8 in", and "2 1/2" of any unit."""
    if unit is not None and unit.dimension == "length" and unit.factor in {INCH, FOOT}:
        return 0 < above < below and below in _RULER_PARTS
    return bool(whole) and (above, below) in _QUARTERED


def slash_readings(
    whole: str, above: int, below: int, spelling: str, *, spans: bool
) -> dict[str, str]:
    """Return what a slash can mean, each as it can be typed; nothing of endless figures.

    Args:
        whole: The digits of a whole number before the fraction, or none.
        above: The figure before the slash.
        below: The figure after it, above zero.
        spelling: The unit as it is written.
        spans: Whether a range can be typed there.
    """
    if max(len(whole), len(str(above)), len(str(below))) > _LONGEST:
        return {}
    figure = _plain_figure(int(whole or "0") + Fraction(above, below))
    readings = {"fraction": f"{figure} {spelling}"}
    low, high = sorted((above, below))
    # After a whole number, or between like figures, there is no range to write.
    if whole or low == high:
        return readings
    if spans:
        return {"span": f"{low} to {high} {spelling}", **readings}
    return {"low": f"{low} {spelling}", "high": f"{high} {spelling}", **readings}


def thousands_in(figure: str, unit: Unit | None) -> re.Match[str] | None:
    """Return the figure's parts where its point may stand between thousands, else None."""
    match = _THOUSANDS.fullmatch(figure)
    if match is None or (
        unit is not None and unit.dimension in _IN_THOUSANDTHS and match["part"][-1] != "0"
    ):
        return None
    return match


def thousands_readings(match: re.Match[str], spelling: str) -> dict[str, str]:
    """Return the figure with its unit as it is written, as a thousand and as a decimal."""
    whole, part = match["whole"], match["part"]
    return {
        "part": f"{match['figure']} {spelling}",
        "thousand": f"{whole}{part} {spelling}",
        "decimal": f"{_plain_figure(Fraction(f'{whole}.{part}'))} {spelling}",
    }


def _plain_figure(value: Fraction) -> str:
    """Return the figure to three decimals, in a form that is not asked about in turn."""
    digits = f"{float(value):.3f}".rstrip("0").rstrip(".")
    return f"{digits}0" if _THOUSANDS.fullmatch(digits) else digits
