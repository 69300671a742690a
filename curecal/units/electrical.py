"""Resistance, voltage, power and current, as labels state them and meters show them.

The case of a prefix is part of its meaning: mΩ is a thousandth, MΩ a million. A spelling whose
case leaves that open ("mv", "MOHM") is refused.
"""

from __future__ import annotations

import re

from curecal.records import Record, record
from curecal.units.grammar import plain_figure, written
from curecal.units.kinds import CURRENT, INSULATION, POWER, RESISTANCE, VOLTAGE

_OPEN_LINE = re.compile(
    r"(?i:open|open line|open circuit|ol|o\.l|o\.l\.|infinite|infinity|over ?load|over range)|∞",
    re.ASCII,
)
_ABOVE = re.compile(r"(?:>=?|≥|(?i:over|above|more than|at least)) ?(?P<rest>.*)", re.ASCII)
_AT_VOLTAGE = re.compile(
    r"(?:(?:≥|>=|(?i:at least|minimum of)) ?)?(?P<ohm>.*[^ ])(?: ?@ ?| (?i:at) )(?P<volt>.*)",
    re.ASCII,
)
_ALTERNATING = re.compile(r"(?i:ac)$", re.ASCII)


@record(kw_only=True)
class Insulation(Record):
    """An insulation resistance [Ω] and the voltage it is tested at [V DC]."""

    ohm: float
    volt: float


@record
class ResistanceReading(Record):
    """The reading of a resistance meter.

    `ohm` is None for an open line, beyond what the meter can show; `at_least` marks a value the
    meter can only say to be exceeded ("> 2 GΩ").
    """

    ohm: float | None
    at_least: bool = False


def resistance(text: object) -> float:
    """Return the resistance a text states ("90 Ω", "10 kohm", "20 MΩ"), zero or more [Ω].

    Raises:
        QuantityRefused: no such text, or a negative one.
    """
    return plain_figure(text, RESISTANCE)


def voltage(text: object) -> float:
    """Return the voltage a text states ("240 V", "500 V DC"), zero or more [V].

    Raises:
        QuantityRefused: no such text, or a negative one.
    """
    return plain_figure(text, VOLTAGE)


def power(text: object) -> float:
    """Return the power a text states ("640 W", "1.5 kW"), zero or more [W].

    Raises:
        QuantityRefused: no such text, or a negative one.
    """
    return plain_figure(text, POWER)


def current(text: object) -> float:
    """Return the current a text states ("15 A", "30 mA"), zero or more [A].

    Raises:
        QuantityRefused: no such text, or a negative one.
    """
    return plain_figure(text, CURRENT)


def insulation(text: object) -> Insulation:
    """Return the least insulation resistance [Ω] and its test voltage [V] ("20 MΩ at 500 V").

    Raises:
        QuantityRefused: no such text, an alternating voltage, or a figure not above zero:
            a threshold of zero would pass every cable.
    """
    read = written(text, INSULATION)
    match = _AT_VOLTAGE.fullmatch(read.text)
    ohm = read.amount(match["ohm"]) if match else None
    volt = read.amount(match["volt"], "voltage") if match else None
    if ohm is None or volt is None:
        # A voltage alone is of another dimension; a resistance alone lacks its voltage.
        raise read.unreadable()
    if _ALTERNATING.search(read.text):
        raise read.refused("quantity-unreadable")
    return Insulation(
        ohm=read.rounded(read.positive(ohm.value)), volt=read.rounded(read.positive(volt.value))
    )


def resistance_reading(text: object) -> ResistanceReading:
    """Return the reading of a resistance meter ("88 Ω", "open line", "OL", "> 2 GΩ") [Ω].

    Raises:
        QuantityRefused: no such text, or a negative one.
    """
    read = written(text, RESISTANCE)
    if _OPEN_LINE.fullmatch(read.text):
        return ResistanceReading(ohm=None)
    above = _ABOVE.fullmatch(read.text)
    if above is None:
        return ResistanceReading(ohm=plain_figure(text, RESISTANCE))
    found = read.amount(above["rest"])
    if found is None:
        raise read.unreadable()
    return ResistanceReading(ohm=read.rounded(read.not_negative(found.value)), at_least=True)
