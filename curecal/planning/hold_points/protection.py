"""What a word for the protection of a circuit says: which device it is, at what it trips."""

from __future__ import annotations

import re

from curecal.planning.site_log.said import plain, says_no
from curecal.records import Record, record

# The class of people's protection in North America: 4 to 6 mA by what it is.
_BY_CLASS = r"\bgfci|\bgfi\b|\bddft\b|\bground[- ]fault (?:circuit[- ])?interrupt"
_RESIDUAL = (
    r"\bgfpe?\b|\begfpd\b|\belci\b|\belcb\b|\brcds?\b|\brccbs?\b|\brcbos?\b|\b[ps]+-?rcds?\b|"
    r"\bresidual[- ]current|\bearth[- ](?:fault|leakage)|"
    r"(?<!wi-)(?<!wi )\bfi\b|\b(?:ls-?fi|fi-?ls|fid|hpfi|hfi|pfi)\b|\bfehlerstrom|"
    r"\bddr\b|\bidr\b|\bdifferenti|\bdiferencia|\bdifferenzial|\baardlek|\bjordfe|\bfejlstr|"
    r"\bvikavirta|\broznicow|\bproudov\w* chranic"
)
_GROUND_FAULT = r"\bground[- ]fault"
# "Without delay" is the better device, not the missing one.
_AT_ONCE = (
    r"\b(?:no|non|not|without|ohne|nicht|sans)[- ](?:time[- ])?(?:delay|verzoger|retard|tempo)\w*"
)
_NUMBER = r"(?:\d+(?:[.,]\d+)?|[.,]\d+)"
_UNIT = (
    r"(?P<milli>m ?a(?:mp(?:ere)?s?)?|milli[- ]?amp\w*)\b|"
    r"(?P<whole>a(?:mp(?:ere)?s?)?)\b"
)
_AND = r"(?:/|-|\u2013|\bto\b|\bor\b)"
_FIGURES = rf"(?<![\d.,])(?P<figures>{_NUMBER}(?: ?{_AND} ?{_NUMBER})*)[ -]?(?:{_UNIT})"
# From here on a figure in amperes is what the device carries, not where it trips.
_LEAST_LOAD_A = 6.0
# Figures without a unit of their own beside one in milliamperes: "100/300 mA" are two settings
# of one device, "40/30 mA" its load and where it trips.
_COARSE_MA = frozenset({100.0, 300.0, 500.0, 1000.0, 3000.0})
# "25/0.03": what it carries and where it trips, both in amperes, as devices are labeled.
_RATED = r"(?<![\d.,])\d{1,3} ?/ ?(?P<trips>0?[.,]\d+)(?![\d.,])"
_INITIALS = r"\b(?:[a-z]\.){2,}"
# The device is there, and moved; and one that is there is not the other one.
_MOVED = r"\blater (?:moved|relocated)\b"
_OTHER = (
    r"[,;(] ?(?:not|no|kein|keine|pas de)(?: an?)? "
    r"(?P<device>gfci|gfi|afci|rcd|rcbo|rccb|fi|ls|mcb)s?\b(?= ?(?:[,;)]|$))"
)
# Words for what breaks a circuit and protects nobody.
_PLAIN = (
    r"\b(?:breakers?|mcbs?|fuses?|afcis?|afdds?|sicherung\w*|leitungsschutz\w*|ls|disjoncteurs?|"
    r"fusibles?|magneto\w*|automat\w*)\b"
)
_THOUSANDS = r"[1-9]\d{0,2}[.,]\d{3}"


@record
class Protects(Record):
    """What a type says. `trips_a` is the coarsest residual current [A]; None where none is told.

    `none` is True where it says that there is no such device, or names another kind.
    """

    known: bool
    none: bool
    by_class: bool
    trips_a: float | None


def read_protection(text: str) -> Protects:
    """Return what somebody's word for a protective device says.

    Rule: R25.

    Args:
        text: the type as written: "GFCI 5 mA", "RCBO B16 30 mA", "RCD 40 A 0.03 A".

    Returns:
        Whether it is protection by residual current, by its class alone, and where it trips.
    """
    said = re.sub(_INITIALS, lambda match: match[0].replace(".", ""), plain(text))
    said = re.sub(_OTHER, _unless_itself, re.sub(_MOVED, " ", re.sub(_AT_ONCE, " ", said)))
    other, by_class = re.search(_RESIDUAL, said), re.search(_BY_CLASS, said)
    known = other or by_class or re.search(_GROUND_FAULT, said)
    trips = [trip_a for match in re.finditer(_FIGURES, said) for trip_a in _trips(match)]
    trips += [float(match["trips"].replace(",", ".")) for match in re.finditer(_RATED, said)]
    denied = says_no(said)
    return Protects(
        known=known is not None and not denied,
        none=denied or (known is None and re.search(_PLAIN, said) is not None),
        # Beside another word for the device its class alone says too little.
        by_class=by_class is not None and other is None,
        trips_a=max(trips, default=None),
    )


def _unless_itself(denied: re.Match[str]) -> str:
    """Return nothing for "not RCBO" behind an RCD; "no RCD" behind one stays as it is."""
    return denied[0] if denied["device"] in denied.string[: denied.start()] else ""


def _trips(match: re.Match[str]) -> list[float]:
    """Return the residual currents [A] among figures that share one unit."""
    figures = re.findall(_NUMBER, match["figures"], re.ASCII)
    read = [value for figure in figures[-1:] for value in _values(figure)]
    beside = [value for figure in figures[:-1] for value in _values(figure)]
    if match["milli"] is not None:
        coarse = [value for value in beside if value in _COARSE_MA]
        return [value / 1000.0 for value in (*read, *coarse)]
    return [value for value in (*read, *beside) if value < _LEAST_LOAD_A]


def _values(figure: str) -> list[float]:
    """Return what a figure can mean: "1,000" is one, or a thousand."""
    values = [float(figure.replace(",", "."))]
    if re.fullmatch(_THOUSANDS, figure):
        values.append(float(figure.replace(",", "").replace(".", "")))
    return values
