"""The rule a data sheet gives for how long a thickness takes to dry."""

from __future__ import annotations

import re
from fractions import Fraction
from functools import cache
from itertools import pairwise

from curecal.records import Record, record
from curecal.units.grammar import Written, written
from curecal.units.kinds import DRYING_RULE, unit_named, units_pattern

_THEN = re.compile(r"(?: ?[,;] ?(?:(?i:and )?(?i:then) )?| (?i:and|then|and then) )", re.ASCII)


@record
class DryingSegment(Record):
    """One part of a drying rule.

    `to_m` is the thickness, counted from zero, up to which the part holds, None where it holds
    for every greater one; `s_per_m` is the drying time for each meter of thickness in it.
    """

    to_m: float | None
    s_per_m: float


def drying_rule(text: object) -> tuple[DryingSegment, ...]:
    """Return the drying rule a text states ("1 mm/day to 40 mm, then 0.5 mm/day", "1 week per cm").

    The parts from zero thickness up; ends [m], drying times [s/m]. Where the last part has an end,
    the rule says nothing beyond it.

    Raises:
        QuantityRefused: no such text, ends that do not rise, a part after one without an end,
            a rate of zero or a negative figure.
    """
    read = written(text, DRYING_RULE)
    if read.has_decimal_comma():
        raise read.unreadable()
    parts = [_part(read, piece) for piece in _THEN.split(read.text)]
    ends = [end for end, _ in parts]
    stated = [end for end in ends if end is not None]
    if None in ends[:-1] or any(one >= next_ for one, next_ in pairwise(stated)):
        raise read.refused("quantity-unreadable")
    return tuple(
        DryingSegment(None if end is None else read.rounded(end), read.rounded(pace))
        for end, pace in parts
    )


def _part(read: Written, piece: str) -> tuple[Fraction | None, Fraction]:
    """Return the end and the seconds per meter of one part of the rule."""
    match = _part_pattern().fullmatch(piece)
    if match is None:
        raise read.unreadable()
    end = None
    if match["end"] is not None:
        limit = read.amount(match["end"])
        if limit is None:
            raise read.unreadable()
        end = read.positive(limit.value)
    over, under = ("long", "time") if match["long"] is not None else ("span", "deep")
    above, below = unit_named(match[over]), unit_named(match[under])
    figure = read.number(match["figure"], above, match[over])
    count = read.number(match["count"] or match["each"] or "1", below, match[under])
    if figure is None or count is None:
        raise read.unreadable()
    top, bottom = read.positive(figure) * above.factor, read.positive(count) * below.factor
    return end, bottom / top if over == "long" else top / bottom


@cache
def _part_pattern() -> re.Pattern[str]:
    """Return one part: a figure, two units one over the other, the thickness it holds to."""
    long, time = units_pattern("length"), units_pattern("duration")
    figure = r"[-+\u2212\d./ ½⅓⅔¼¾⅛⅜⅝⅞]*[\d½⅓⅔¼¾⅛⅜⅝⅞]"
    over = r"(?: ?/ ?| (?i:per|an?|each|every|for each|for every) )"
    return re.compile(
        rf"(?P<figure>{figure}) ?"
        rf"(?:(?P<long>{long}){over}(?P<count>\d[\d.]*)? ?(?P<time>{time})"
        rf"|(?P<span>{time}){over}(?P<each>\d[\d.]*)? ?(?P<deep>{long}))"
        r"(?: (?:(?i:up to|to|for the first) (?P<end>.+)|(?i:thereafter|beyond|above that|"
        r"after that|beyond that)))?",
        re.ASCII,
    )
